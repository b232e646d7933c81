/** Known places along the cable: antenna, bends, bond, radio. */

import type { Way, Wires } from "../contract";

export type Landmark = readonly [name: string, position: number];

/** A bend turns by more than this; beside another known place it has no name of its own [m]. */
const TURNS_COSINE = 0.9;
const BESIDE = 0.1;

/** Where the cable ends, half a piece behind the middle of its last one [m]. */
export function endOf(way: Way): number {
  const [before, last] = [way.position.at(-2)!, way.position.at(-1)!];
  return last + (last - before) / 2;
}

/** In order along the cable. */
export function landmarks(way: Way, wires: Wires): Landmark[] {
  const last = way.position.length - 1;
  const known: Landmark[] = [["radio", endOf(way)]];
  const bond = nearestToBond(way, wires);
  if (bond !== null) known.push(["bond", bond]);
  const bends: Landmark[] = [];
  for (let i = 1; i < last; i++) {
    const [before, after] = [step(way.point, i - 1), step(way.point, i)];
    const cosine = dot(before, after) / Math.sqrt(dot(before, before) * dot(after, after) || 1);
    const place = way.position[i]!;
    const isNear = [...known, ...bends].some(([, other]) => Math.abs(other - place) < BESIDE);
    if (cosine < TURNS_COSINE && !isNear) bends.push(["bend", place]);
  }
  const found: Landmark[] = [["antenna", 0], ...bends, ...known];
  return found.sort((a, b) => a[1] - b[1]);
}

function step(points: ArrayLike<number>, i: number): number[] {
  return [0, 1, 2].map((k) => points[3 * i + 3 + k]! - points[3 * i + k]!);
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, k) => sum + value * b[k]!, 0);
}

/** Where the lead to the ground rod leaves the cable. */
function nearestToBond(way: Way, wires: Wires): number | null {
  let [best, found] = [Infinity, null as number | null];
  wires.part.forEach((part, i) => {
    if (part !== "bond lead") return;
    for (const ends of [wires.start, wires.end]) {
      for (let k = 0; k < way.position.length; k++) {
        const apart = [0, 1, 2].map((c) => ends[3 * i + c]! - way.point[3 * k + c]!);
        if (dot(apart, apart) < best) [best, found] = [dot(apart, apart), way.position[k]!];
      }
    }
  });
  return found;
}
