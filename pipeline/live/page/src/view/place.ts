/** Where something on the cable may be put, and the two things that a setting has there. */

import type { Head, OnCable, Setting } from "../contract";
import type { Grip } from "./bead";
import type { Mode, State } from "./state";
import { kindOf, length } from "./words";

export type Which = "first" | "second";
export const BOTH: readonly Which[] = ["first", "second"];
const NAMES: Readonly<Record<Which, string>> = { first: "Choke", second: "Second choke" };
/** A hand sets centimetres. */
const STEP = 0.01;
const LEAP = 0.25;
const SLACK = 1e-6;

/** First and last place of something on the cable, all of it inside of what was solved [m]. */
export function endsOf(head: Head, on: OnCable): readonly [number, number] {
  const long = on.count * (kindOf(head, on)?.length ?? 0);
  const [low, high] = head.range;
  // Rounded inwards, as the places that a hand means.
  const first = Math.ceil(low / STEP - SLACK) * STEP;
  const last = Math.floor((high - long) / STEP + SLACK) * STEP;
  return [Number(first.toFixed(4)), Number(Math.max(first, last).toFixed(4))];
}

/** A place that a hand can mean. */
export function placed(head: Head, on: OnCable, position: number): number {
  const [low, high] = endsOf(head, on);
  const round = Math.round(position / STEP) * STEP;
  return Number(Math.min(Math.max(round, low), high).toFixed(4));
}

/** Where a kind begins when it is put on the cable. */
export function begins(head: Head, kind: string, otherwise: number): OnCable {
  const one = { kind, count: 1, position: otherwise };
  return { ...one, position: kindOf(head, one)?.fixed ?? placed(head, one, otherwise) };
}

export function isFixed(head: Head, on: OnCable): boolean {
  return (kindOf(head, on)?.fixed ?? null) !== null;
}

/** One of the two things of a setting moved. */
export function moved(head: Head, setting: Setting, which: Which, to: number): Partial<Setting> {
  const on = setting[which];
  return on ? { [which]: { ...on, position: placed(head, on, to) } } : {};
}

/** Class of a handle: faint while what is shown has nothing to do with its choke. */
export function handleLook(mode: Mode): string {
  return mode === "own" ? "held" : "faint";
}

/** What a handle on the cable is called, and what it does. */
export function gripOf(state: State, which: Which): Grip {
  const head = state.model.head;
  return {
    ...{ label: NAMES[which], step: STEP, leap: LEAP },
    words: (value) => `${length(value, head)} along the cable from the antenna`,
    moved: (value) => state.change(moved(head, state.current(), which, value)),
  };
}
