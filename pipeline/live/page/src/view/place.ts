/** Where something on the cable may be put, and the two things that a setting has there. */

import {
  variantOf,
  type Head,
  type Mode,
  type OnCable,
  type Setting,
  type Stretch,
  type Variant,
} from "../contract";
import type { Grip } from "./bead";
import type { State } from "./state";
import { kindOf, length } from "./words";

export type Which = "first" | "second";
export const BOTH: readonly Which[] = ["first", "second"];
const NAMES: Readonly<Record<Which, string>> = { first: "Choke", second: "Second choke" };
/** A hand sets centimetres. */
const STEP = 0.01;
const LEAP = 0.25;
const SLACK = 1e-6;
/** What acts at a point lies on a stretch up to so far before its end [m]. */
const POINT = 1e-5;

const known = new WeakMap<Variant, Map<number, readonly number[]>>();

/**
 * All places where something can begin [m], rising: whole centimetres, which a hand means, and what
 * the answer names, so far as all of it lies where the cable was solved.
 */
export function placesOf(head: Head, variant: string, on: OnCable): readonly number[] {
  const long = Math.max(POINT, on.count * (kindOf(head, on)?.length ?? 0));
  const drawn = variantOf(head, variant);
  const of = known.get(drawn) ?? new Map<number, readonly number[]>();
  known.set(drawn, of);
  let found = of.get(long);
  if (!found) {
    found = allPlaces(head, drawn.ranges, long);
    of.set(long, found);
  }
  return found;
}

function allPlaces(head: Head, ranges: readonly Stretch[], long: number): readonly number[] {
  const found: number[] = [];
  for (const [low, high] of ranges) {
    const last = Math.floor((high - long) / STEP + SLACK);
    for (let k = Math.ceil(low / STEP - SLACK); k <= last; k++) {
      found.push(Number((k * STEP).toFixed(4)));
    }
    const isInside = (place: number): boolean => place >= low && place + long <= high + SLACK;
    const isNew = (place: number): boolean => !found.some((each) => Math.abs(each - place) < SLACK);
    found.push(...head.places.filter((place) => isInside(place) && isNew(place)));
  }
  // Longer than any stretch: it stays at the first place, and is refused with a reason.
  return found.length ? found.sort((a, b) => a - b) : [ranges[0]![0]];
}

/** First and last place of something on the cable [m]. */
export function endsOf(head: Head, variant: string, on: OnCable): Stretch {
  const places = placesOf(head, variant, on);
  return [places[0]!, places.at(-1)!];
}

/** The place of several that is nearest to a wanted one. */
function nearest(places: readonly number[], wanted: number): number {
  return places.reduce((a, b) => (Math.abs(b - wanted) < Math.abs(a - wanted) ? b : a));
}

/** A place that a hand can mean. */
export function placed(head: Head, variant: string, on: OnCable, position: number): number {
  return nearest(placesOf(head, variant, on), position);
}

/** The place so far on, past what was not solved; the one it has at the end of the last stretch. */
function stepped(head: Head, variant: string, on: OnCable, by: number): number {
  const isOn = (place: number): boolean => (place - on.position) * Math.sign(by) > SLACK;
  const beyond = placesOf(head, variant, on).filter(isOn);
  return beyond.length ? nearest(beyond, on.position + by) : on.position;
}

/** Where a kind begins when it is put on the cable. */
export function begins(head: Head, variant: string, kind: string, otherwise: number): OnCable {
  const one = { kind, count: 1, position: otherwise };
  const position = kindOf(head, one)?.fixed ?? placed(head, variant, one, otherwise);
  return { ...one, position };
}

/** Another variant of the installation with the same on its cable, at the nearest places. */
export function onVariant(head: Head, setting: Setting, variant: string): Setting {
  const kept = (on: OnCable | null): OnCable | null =>
    on && !isFixed(head, on) ? { ...on, position: placed(head, variant, on, on.position) } : on;
  return { ...setting, variant, first: kept(setting.first), second: kept(setting.second) };
}

export function isFixed(head: Head, on: OnCable): boolean {
  return (kindOf(head, on)?.fixed ?? null) !== null;
}

/** One of the two things of a setting moved. */
export function moved(head: Head, setting: Setting, which: Which, to: number): Partial<Setting> {
  const on = setting[which];
  return on ? { [which]: { ...on, position: placed(head, setting.variant, on, to) } } : {};
}

/** Class of a handle: faint while what is shown has nothing to do with its choke. */
export function handleLook(mode: Mode): string {
  return mode === "own" ? "held" : "faint";
}

/** What a handle on the cable is called, and what it does. */
export function gripOf(state: State, which: Which): Grip {
  const { head } = state.model;
  const there = (value: number): string =>
    `${length(value, head)} along the cable from the antenna`;
  return {
    ...{ label: NAMES[which], step: STEP, leap: LEAP, words: there },
    next: (value, by) => {
      const setting = state.current();
      const on = setting[which];
      return on ? stepped(head, setting.variant, { ...on, position: value }, by) : value;
    },
    moved: (value) => state.change(moved(head, state.current(), which, value)),
    ended: (value) => state.say(`${NAMES[which]} at the end of what was solved: ${there(value)}.`),
  };
}
