/** Gains and changes of pattern: what `pipeline/analysis/metrics.py` does, on one row. */

import { vector, type Vector } from "./payload";

const FLOOR = 1e-12;
const WITHIN_DB = 10;
/** Extremes all round are looked for at so many places from one kept azimuth to the next. */
const PLACES = 32;

/** Gain of powers per solid angle [dBi], into `found`. */
export function gains(density: Float64Array, input: number, found: Float64Array): void {
  const factor = (4 * Math.PI) / input;
  for (let i = 0; i < density.length; i++) {
    found[i] = 10 * Math.log10(Math.max(factor * density[i]!, FLOOR));
  }
}

/** Gain of the mean power all round [dBi]. */
export function meanGain(ring: Float64Array): number {
  let sum = 0;
  for (const level of ring) sum += 10 ** (level / 10);
  return 10 * Math.log10(sum / ring.length);
}

/** Smallest and largest gain all round, also between the kept azimuths [dBi]. */
export function extremeGains(ring: Float64Array): [number, number] {
  const n = ring.length;
  const all = n * PLACES;
  const cos = cosines(all);
  const power = new Float64Array(all);
  const { re, im } = spectrum(ring, cos);
  for (let k = 0; k < re.length; k++) {
    const a = re[k]!;
    const b = im[k]!;
    // The sine is the cosine a quarter earlier.
    for (let place = 0, at = 0, before = all - all / 4; place < all; place++) {
      power[place]! += a * cos[at]! - b * cos[before]!;
      at += k;
      if (at >= all) at -= all;
      before += k;
      if (before >= all) before -= all;
    }
  }
  let least = Infinity;
  let most = -Infinity;
  for (const each of power) {
    if (each < least) least = each;
    if (each > most) most = each;
  }
  const level = (value: number): number => 10 * Math.log10(Math.max(value, FLOOR));
  return [level(least), level(most)];
}

/** Harmonics of the power round a ring, both signs of each together. */
function spectrum(ring: Float64Array, cos: Float64Array): Vector {
  const n = ring.length;
  const half = Math.floor(n / 2);
  const found = vector(half + 1);
  const power = ring.map((level) => 10 ** (level / 10));
  for (let k = 0; k <= half; k++) {
    const part = (k === 0 || 2 * k === n ? 1 : 2) / n;
    for (let i = 0; i < n; i++) {
      const at = ((k * i) % n) * PLACES;
      const before = (at + cos.length - cos.length / 4) % cos.length;
      found.re[k]! += part * power[i]! * cos[at]!;
      found.im[k]! -= part * power[i]! * cos[before]!;
    }
  }
  // At half the rate of sampling there is only a cosine.
  if (2 * half === n) found.im[half] = 0;
  return found;
}

const kept = new Map<number, Float64Array>();

/** Cosines of a full turn in so many steps. */
function cosines(count: number): Float64Array {
  const known = kept.get(count);
  if (known) return known;
  const found = Float64Array.from({ length: count }, (_, i) =>
    Math.cos((2 * Math.PI * i) / count),
  );
  kept.set(count, found);
  return found;
}

/** Directions in which a change counts: within ten decibels of the reference's largest. */
export function directionsThatMatter(reference: Float64Array): Uint8Array {
  const limit = reference.reduce((most, level) => Math.max(most, level), -Infinity) - WITHIN_DB;
  return Uint8Array.from(reference, (level) => (level >= limit ? 1 : 0));
}

/** Largest and root-mean-square change over directions that matter [dB]. */
export function changes(
  gain: Float64Array,
  reference: Float64Array,
  matters: Uint8Array,
): [number, number] {
  let [most, squares, count] = [0, 0, 0];
  for (let i = 0; i < gain.length; i++) {
    if (!matters[i]) continue;
    const change = Math.abs(gain[i]! - reference[i]!);
    if (change > most) most = change;
    squares += change * change;
    count++;
  }
  return [most, Math.sqrt(squares / count)];
}

/** Largest of a grid of gains and its row: the first row that reaches it. */
export function peakOf(gain: Float64Array, azimuths: number): [number, number] {
  let [most, row] = [-Infinity, 0];
  for (let i = 0; i < gain.length; i++) {
    if (gain[i]! > most) [most, row] = [gain[i]!, Math.floor(i / azimuths)];
  }
  return [most, row];
}
