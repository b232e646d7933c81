/**
 * The bytes that a study is packed in, taken apart: plain data, and arrays by name.
 *
 * Length of the head (32 bits), the head as JSON, zeros up to a multiple of eight, then the arrays,
 * all little-endian; `pipeline/live/packing.py` writes them.
 */

/** Where one array lies in the bytes, and what it is. */
interface Place {
  type: keyof typeof VIEWS;
  shape: number[];
  offset: number;
}

const VIEWS = {
  float64: Float64Array,
  float32: Float32Array,
  int32: Int32Array,
  int16: Int16Array,
  uint16: Uint16Array,
};
const EIGHT = 8;

/** What a payload holds. */
export class Payload {
  constructor(
    readonly head: Readonly<Record<string, unknown>>,
    private readonly arrays: Readonly<Record<string, Float64Array>>,
  ) {}

  /** An array in double precision. */
  numbers(name: string): Float64Array {
    const found = this.arrays[name];
    if (!found) throw new Error(`the page's data have no array ${name}`);
    return found;
  }

  /** An array of complex numbers, stored as pairs. */
  complex(name: string): Vector {
    const pairs = this.numbers(name);
    const found = vector(pairs.length / 2);
    for (let i = 0; i < found.re.length; i++) {
      found.re[i] = pairs[2 * i]!;
      found.im[i] = pairs[2 * i + 1]!;
    }
    return found;
  }
}

/** Complex numbers, real and imaginary parts apart. */
export interface Vector {
  re: Float64Array;
  im: Float64Array;
}

/** So many zeros. */
export function vector(length: number): Vector {
  return { re: new Float64Array(length), im: new Float64Array(length) };
}

/** Bytes taken apart. */
export function unpack(bytes: Uint8Array): Payload {
  // A copy begins at a multiple of eight, which arrays need.
  const whole = bytes.slice().buffer;
  const length = new DataView(whole).getUint32(0, true);
  const start = 4 + length;
  const text = new TextDecoder().decode(new Uint8Array(whole, 4, length));
  const { arrays, ...head } = JSON.parse(text) as { arrays: Record<string, Place> };
  const from = start + ((EIGHT - (start % EIGHT)) % EIGHT);
  const found: Record<string, Float64Array> = {};
  for (const [name, place] of Object.entries(arrays)) {
    const count = place.shape.reduce((product, side) => product * side, 1);
    found[name] = Float64Array.from(new VIEWS[place.type](whole, from + place.offset, count));
  }
  return new Payload(head, found);
}
