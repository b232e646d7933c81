/**
 * The one place where the page keeps what is set and what follows from it.
 *
 * Whoever changes the setting does it here; whoever shows anything subscribes. A burst of changes
 * is worked out once, before the next picture is shown.
 */

import type { Look, Mode, Model, Outcome, Setting, Way } from "../contract";

/** What is set and what follows from it, for those who show it. */
export interface Seen {
  setting: Setting;
  mode: Mode;
  /** Azimuth of the cut upwards [deg]. */
  cut: number;
  /** Why the setting has no result; the outcome is then that of the last one that had. */
  refused: string;
  /** Setting and outcome of what is shown. */
  shown: Setting;
  outcome: Outcome;
  way: Way;
  ideal: Outcome;
  bare: Outcome;
  /** The way of the cable with nothing on it. */
  bareWay: Way;
}

type Listener = (seen: Seen) => void;

/** The same ends without anything on the cable. */
export function without(setting: Setting): Setting {
  return { ...setting, first: null, second: null };
}

export class State {
  private setting: Setting;
  private mode: Mode = "own";
  private cut = 0;
  private waiting = 0;
  private ends = "";
  private readonly listeners = new Set<Listener>();
  private readonly watchers = new Set<() => void>();
  private readonly hearers = new Set<(text: string) => void>();
  private seen: Seen;

  constructor(readonly model: Model) {
    this.setting = model.head.start;
    const bareWay = model.way(this.setting.variant, without(this.setting));
    const none = model.evaluate(without(this.setting));
    this.seen = {
      ...{ setting: this.setting, mode: "own", cut: 0, refused: "", shown: this.setting },
      ...{ outcome: none, way: bareWay, ideal: none, bare: none, bareWay },
    };
    this.work();
  }

  /** What the reader has set. */
  current(): Setting {
    return this.setting;
  }

  now(): Seen {
    return this.seen;
  }

  set(setting: Setting, mode: Mode = "own"): void {
    this.setting = setting;
    this.mode = mode;
    this.changed();
  }

  /** Changes some of the setting. */
  change(part: Partial<Setting>): void {
    this.set({ ...this.setting, ...part });
  }

  /** Shows the setting without a choke or with an ideal one, or, if that is shown, as it is. */
  toggle(mode: Mode): void {
    this.mode = this.mode === mode ? "own" : mode;
    this.changed();
  }

  /** How what is set is looked at. */
  look(): Look {
    return { mode: this.mode, cut: this.cut };
  }

  /** Turns the cut upwards to an azimuth [deg]. */
  turn(azimuth: number): void {
    this.cut = azimuth;
    this.changed();
  }

  private changed(): void {
    for (const watcher of this.watchers) watcher();
    this.later();
  }

  /** Calls a function now and after every change, once a picture; gives back how to end that. */
  subscribe(listener: Listener): () => void {
    this.listeners.add(listener);
    listener(this.seen);
    return () => this.listeners.delete(listener);
  }

  /** Calls a function at once with every change. */
  watch(watcher: () => void): void {
    this.watchers.add(watcher);
  }

  /** Says something that changes nothing, such as that a handle is at an end. */
  say(text: string): void {
    for (const hearer of this.hearers) hearer(text);
  }

  /** Calls a function with what is said. */
  hear(hearer: (text: string) => void): void {
    this.hearers.add(hearer);
  }

  private later(): void {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.work();
      for (const listener of this.listeners) listener(this.seen);
    });
  }

  private work(): void {
    const { setting, mode, model } = this;
    this.seen = { ...this.seen, cut: this.cut };
    this.references();
    const outcome = mode === "own" ? model.evaluate(setting) : this.seen[mode];
    if (outcome.refused) {
      this.seen = { ...this.seen, setting, mode, refused: outcome.refused };
      return;
    }
    const shown = mode === "own" ? setting : without(setting);
    const way = mode === "own" ? model.way(setting.variant, setting) : this.seen.bareWay;
    this.seen = { ...this.seen, setting, mode, refused: "", shown, outcome, way };
  }

  /** None and the ideal choke follow from the ends alone: dragging does not move them. */
  private references(): void {
    const { setting, model } = this;
    const { variant, bond, radio, frequency } = setting;
    const ends = JSON.stringify([variant, bond, radio, frequency]);
    if (ends === this.ends) return;
    const [bare, ideal] = [model.evaluate(without(setting)), model.ideal(setting)];
    if (bare.refused || ideal.refused) return;
    this.ends = ends;
    this.seen = { ...this.seen, bare, ideal, bareWay: model.way(variant, without(setting)) };
  }
}
