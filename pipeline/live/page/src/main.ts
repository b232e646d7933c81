/**
 * The live page: what the report carries in its data block, made into a model and shown.
 *
 * Verdict and figures stand in the page before this runs, so it waits for the first paint.
 */

import { readModel } from "./engine";
import { start } from "./view";

/** Bytes of the page's data block, or nothing where it has none. */
async function carried(): Promise<Uint8Array | null> {
  const text = document.getElementById("data")?.textContent;
  if (!text) return null;
  const zipped = Uint8Array.from(atob(text.trim()), (sign) => sign.charCodeAt(0));
  const plain = new Blob([zipped]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(plain).arrayBuffer());
}

async function run(): Promise<void> {
  // Figures wait for the first paint only: paper may be asked for at any time after it.
  for (const figure of document.images) figure.loading = "eager";
  const bytes = await carried();
  if (bytes) start(await readModel(bytes));
}

requestAnimationFrame(() => setTimeout(() => void run()));
