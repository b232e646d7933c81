/** The physics behind the page: bytes of a solved study in, its `Model` out. */

import type { Model } from "../contract";
import { SolvedModel } from "./model";
import { unpack } from "./payload";

/** The model of what the page carries, once its fields are known. */
export async function readModel(bytes: Uint8Array): Promise<Model> {
  const model = new SolvedModel(unpack(bytes));
  await model.prepare();
  return model;
}
