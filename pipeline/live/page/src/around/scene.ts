/** An outcome as pieces in space: wires with their current, rings of the pattern, and its words. */

import type { Head, Outcome, Wires } from "../contract";

/** Levels are drawn down to so far below the strongest; what is weaker lies in the middle [dB]. */
export const SPAN = 25;
/** More rings than these run into each other. */
const MOST_RINGS = 24;
/** Size of the pattern beside that of the wires. [-] */
const SHARE = 0.62;

/** Pieces in metres about the middle of the picture. */
export interface Placed {
  /** Ends of wires, x, y, z each, and their current over the largest. */
  start: Float32Array;
  end: Float32Array;
  current: Float32Array;
  /** Points of the pattern, ring by ring from the lowest, `around` of them each. */
  points: Float32Array;
  around: number;
  /** Level of each point, 0 at the middle to 1 for the strongest. */
  level: Float32Array;
  /** Height of the ground, or none, and where on it azimuths are counted about. */
  ground: number | null;
  foot: readonly [number, number];
  /** All of it lies within so far of the middle [m]. */
  reach: number;
  /** For those who cannot see it, and what its sizes mean. */
  said: string;
  key: string;
}

type Point = [number, number, number];

/** The pieces of one outcome. */
export function placed(
  wires: Wires,
  outcome: Pick<Outcome, "wires" | "pattern">,
  head: Head,
): Placed {
  const box = boxOf([wires.start, wires.end]);
  const size = SHARE * Math.max(box.reach, 1e-3);
  const source = radiating(wires, outcome);
  const { points, level, around } = rings(outcome.pattern, head, size, source);
  const { middle, reach } = boxOf([wires.start, wires.end, points]);
  const shift = (from: Float32Array): Float32Array =>
    from.map((value, k) => value - middle[k % 3]!);
  const largest = Math.max(...outcome.wires, Number.MIN_VALUE);
  return {
    start: shift(wires.start),
    end: shift(wires.end),
    current: Float32Array.from(outcome.wires, (value) => value / largest),
    points: shift(points),
    around,
    level,
    ground: head.overGround ? -middle[2] : null,
    foot: [source[0] - middle[0], source[1] - middle[1]],
    reach,
    ...words(wires, outcome, head),
  };
}

/** Middle of a box about points, and how far the farthest lies from it. */
function boxOf(all: readonly Float32Array[]): { middle: Point; reach: number } {
  const low: Point = [Infinity, Infinity, Infinity];
  const high: Point = [-Infinity, -Infinity, -Infinity];
  for (const points of all) {
    points.forEach((value, n) => {
      low[n % 3] = Math.min(low[n % 3]!, value);
      high[n % 3] = Math.max(high[n % 3]!, value);
    });
  }
  const middle = low.map((value, k) => (value + high[k]!) / 2) as Point;
  let reach = 0;
  for (const points of all) {
    for (let n = 0; n < points.length; n += 3) {
      const off = middle.map((value, k) => points[n + k]! - value);
      reach = Math.max(reach, Math.hypot(...off));
    }
  }
  return { middle, reach };
}

/** The place that wires radiate from: the mean of their current. */
function radiating(wires: Wires, outcome: Pick<Outcome, "wires">): Point {
  const sum: Point = [0, 0, 0];
  let weight = Number.MIN_VALUE;
  outcome.wires.forEach((current, n) => {
    const here = current * lengthOf(wires, n);
    weight += here;
    for (let k = 0; k < 3; k++) {
      sum[k]! += (here * (wires.start[3 * n + k]! + wires.end[3 * n + k]!)) / 2;
    }
  });
  return sum.map((value) => value / weight) as Point;
}

function lengthOf(wires: Wires, n: number): number {
  const [i, { start, end }] = [3 * n, wires];
  return Math.hypot(end[i]! - start[i]!, end[i + 1]! - start[i + 1]!, end[i + 2]! - start[i + 2]!);
}

function rings(
  pattern: Float64Array,
  head: Head,
  size: number,
  at: Point,
): { points: Float32Array; level: Float32Array; around: number } {
  const { azimuths, elevations } = head;
  const [peak, radian] = [pattern.reduce((a, b) => Math.max(a, b), -Infinity), Math.PI / 180];
  // A ring that does not come back to its begin is closed with its first point.
  const turn = azimuths.at(-1)! - azimuths[0]!;
  const around = azimuths.length + (turn < 359.999 ? 1 : 0);
  const every = Math.ceil(elevations.length / MOST_RINGS);
  const drawn = [...elevations.keys()].filter((row) => row % every === 0);
  const points = new Float32Array(3 * drawn.length * around);
  const level = new Float32Array(drawn.length * around);
  drawn.forEach((row, ring) => {
    const elevation = elevations[row]!;
    const [flat, up] = [Math.cos(elevation * radian), Math.sin(elevation * radian)];
    for (let k = 0; k < around; k++) {
      const column = k % azimuths.length;
      const gain = pattern[row * azimuths.length + column]!;
      const n = ring * around + k;
      const share = Math.min(1, Math.max(0, 1 + (gain - peak) / SPAN)) || 0;
      const azimuth = azimuths[column]! * radian;
      level[n] = share;
      points[3 * n] = at[0] + size * share * flat * Math.cos(azimuth);
      points[3 * n + 1] = at[1] + size * share * flat * Math.sin(azimuth);
      points[3 * n + 2] = at[2] + size * share * up;
    }
  });
  return { points, level, around };
}

function words(
  wires: Wires,
  outcome: Pick<Outcome, "wires" | "pattern">,
  head: Head,
): { said: string; key: string } {
  const { azimuths, elevations } = head;
  const best = outcome.pattern.reduce((a, b, k, all) => (b > all[a]! ? k : a), 0);
  const peak = outcome.pattern[best]!.toFixed(1).replace("-", "−");
  const elevation = Math.round(elevations[Math.floor(best / azimuths.length)]!);
  const azimuth = Math.round(azimuths[best % azimuths.length]!);
  const most = outcome.wires.reduce((a, b, k, all) => (b > all[a]! ? k : a), 0);
  return {
    said:
      `Wires and pattern in space. Strongest ${peak} dBi, at elevation ${elevation}° and ` +
      `azimuth ${azimuth}°. Most current on: ${wires.part[most] ?? "the antenna"}.`,
    key:
      `A ring is one elevation; its distance from the middle is the gain, from ${SPAN} dB below ` +
      `the strongest, ${peak} dBi, outwards. The wider and redder a wire, the more current on it.`,
  };
}
