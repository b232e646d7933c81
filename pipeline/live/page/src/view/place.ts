/** Where something on the cable may be put, and the two things that a setting has there. */

import type { Head, OnCable, Setting } from "../contract";
import type { Grip } from "./bead";
import type { State } from "./state";
import { kindOf, length } from "./words";

export type Which = "first" | "second";
export const BOTH: readonly Which[] = ["first", "second"];
const NAMES: Readonly<Record<Which, string>> = { first: "Choke", second: "Second choke" };
/** A hand sets centimetres. */
const STEP = 0.01;
const LEAP = 0.25;

/** A place that a hand can mean, inside of what was solved. */
export function placed(head: Head, position: number): number {
  const round = Math.round(position / STEP) * STEP;
  return Number(Math.min(Math.max(round, head.range[0]), head.range[1]).toFixed(4));
}

/** Where a kind begins when it is put on the cable. */
export function begins(head: Head, kind: string, otherwise: number): OnCable {
  const found = head.kinds.find((each) => each.id === kind);
  return { kind, count: 1, position: found?.fixed ?? placed(head, otherwise) };
}

export function isFixed(head: Head, on: OnCable): boolean {
  return (kindOf(head, on)?.fixed ?? null) !== null;
}

/** The setting with one of its two things moved. */
export function moved(setting: Setting, which: Which, position: number): Partial<Setting> {
  const on = setting[which];
  return on ? { [which]: { ...on, position } } : {};
}

/** What a handle on the cable is called, and what it does. */
export function gripOf(state: State, which: Which): Grip {
  const head = state.model.head;
  return {
    ...{ label: NAMES[which], step: STEP, leap: LEAP },
    words: (value) => `${length(value, head)} along the cable from the antenna`,
    moved: (value) => state.change(moved(state.current(), which, placed(head, value))),
  };
}
