/** The physics behind the page: bytes of a solved study in, its `Model` out. */

import type { Model } from "../contract";
import { unpack } from "./payload";

/** The model of what the page carries. */
export async function readModel(bytes: Uint8Array): Promise<Model> {
  const { head } = unpack(bytes);
  throw new Error(`no model of ${String(head["name"])} yet`);
}
