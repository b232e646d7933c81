/**
 * The bytes that a study is packed in, taken apart: plain data, and arrays by name.
 *
 * Length of the head (32 bits), the head as JSON, zeros up to a multiple of eight, then the arrays,
 * all little-endian; `pipeline/live/packing.py` writes them.
 */

/** Where one array lies in the bytes, and what it is. */
interface Place {
  type: "float64" | "float32" | "float16" | "uint16";
  shape: number[];
  offset: number;
}

/** An array of numbers with its shape. */
export interface Arr {
  data: Float64Array | Float32Array | Uint16Array;
  shape: readonly number[];
}

/** What a payload holds. */
export interface Payload {
  head: Record<string, unknown>;
  arrays: Readonly<Record<string, Arr>>;
}

const EIGHT = 8;

/** Taken apart; arrays are views of the bytes where their type allows it. */
export function unpack(bytes: Uint8Array): Payload {
  // The buffer may be a part of another one: arrays need it to begin at a multiple of eight.
  const whole = bytes.byteOffset % EIGHT ? bytes.slice() : bytes;
  const length = new DataView(whole.buffer, whole.byteOffset).getUint32(0, true);
  const start = 4 + length;
  const text = new TextDecoder().decode(whole.subarray(4, start));
  const { arrays, ...head } = JSON.parse(text) as { arrays: Record<string, Place> };
  const from = whole.byteOffset + start + ((EIGHT - (start % EIGHT)) % EIGHT);
  const found: Record<string, Arr> = {};
  for (const [name, place] of Object.entries(arrays)) {
    found[name] = { data: view(whole.buffer, from + place.offset, place), shape: place.shape };
  }
  return { head, arrays: found };
}

function view(buffer: ArrayBufferLike, at: number, place: Place): Arr["data"] {
  const count = place.shape.reduce((product, side) => product * side, 1);
  if (place.type === "float64") return new Float64Array(buffer, at, count);
  if (place.type === "float32") return new Float32Array(buffer, at, count);
  const raw = new Uint16Array(buffer, at, count);
  return place.type === "uint16" ? raw : widened(raw);
}

/** Numbers of half precision (IEEE 754 binary16) as ordinary ones. */
function widened(raw: Uint16Array): Float32Array {
  const found = new Float32Array(raw.length);
  for (let i = 0; i < raw.length; i++) {
    const bits = raw[i]!;
    const power = (bits >> 10) & 31;
    const part = bits & 1023;
    const size = power ? (1 + part / 1024) * 2 ** (power - 15) : (part / 1024) * 2 ** -14;
    found[i] = bits & 0x8000 ? -size : size;
  }
  return found;
}
