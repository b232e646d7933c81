/**
 * The pattern: a fan upwards and a ring all round, or both on straight axes.
 *
 * The needle across the ring says which way the fan is cut, and is turned by hand.
 */

import type { Head, Outcome } from "../contract";
import { bead, type Rail } from "./bead";
import { FAN, RING } from "./boxes";
import { compassOf, type Compass } from "./compass";
import { element, picture, polyline, put, shape } from "./dom";
import { flat, type Flat } from "./flat";
import { fanGround, fanScale, onRing, polarPath, ringGround, ringScale } from "./polar";
import { least, most } from "./scales";
import type { Seen, State } from "./state";
import { decibels } from "./words";

const LOOKS = ["bare", "ideal", "set"] as const;
type Look = (typeof LOOKS)[number];

/** Gain over elevation from the ground on one side over the top to the ground on the other. */
interface Cut {
  angles: number[];
  gains: number[];
}

function outcomes(seen: Seen): Readonly<Record<Look, Outcome>> {
  return { bare: seen.bare, ideal: seen.ideal, set: seen.outcome };
}

/** Nearest azimuth that is kept, by its index. */
function nearest(head: Head, azimuth: number): number {
  let [best, found] = [Infinity, 0];
  head.azimuths.forEach((each, k) => {
    const apart = Math.abs(((each - azimuth + 540) % 360) - 180);
    if (apart < best) [best, found] = [apart, k];
  });
  return found;
}

function cutOf(head: Head, outcome: Outcome, azimuth: number): Cut {
  const wide = head.azimuths.length;
  const [ahead, behind] = [nearest(head, azimuth), nearest(head, azimuth + 180)];
  const found: [number, number][] = [];
  head.elevations.forEach((elevation, k) => {
    // On the ground itself nothing is radiated.
    if (elevation <= 0) return;
    found.push([elevation, outcome.pattern[k * wide + ahead]!]);
    if (elevation < 90) found.push([180 - elevation, outcome.pattern[k * wide + behind]!]);
  });
  found.sort((a, b) => a[0] - b[0]);
  return { angles: found.map(([angle]) => angle), gains: found.map(([, gain]) => gain) };
}

interface Board {
  board: SVGElement;
  ground: SVGElement;
  lines: Readonly<Record<Look, SVGElement>>;
}

function boardOf(wide: number, tall: number, look: string): Board {
  const board = picture(wide, tall, look);
  const ground = shape("g", {});
  const [bare, ideal, set] = LOOKS.map((each) => shape("path", { class: each }));
  const drawing = shape("g", { role: "img" }, ground, bare!, ideal!, set!);
  board.append(drawing);
  return { board, ground, lines: { bare: bare!, ideal: ideal!, set: set! } };
}

/** Both cuts as polar pictures, and the same on straight axes. */
class Pattern {
  private readonly compass: Compass;
  /** Angles in the ring of the azimuths that are kept. */
  private readonly turned: Float64Array;
  private azimuth = 0;
  private isFlat = false;
  private grounds = "";
  private readonly fan = boardOf(FAN.wide, FAN.tall, "fan");
  private readonly ring = boardOf(RING.wide, RING.tall, "ring");
  private readonly needle = shape("path", { class: "needle" });
  private readonly hand;
  private readonly upwards: Flat;
  private readonly round: Flat;

  constructor(private readonly state: State) {
    this.compass = compassOf(state.model.head);
    this.turned = state.model.head.azimuths.map((azimuth) => this.compass.turn(azimuth));
    const rail: Rail = {
      at: (value) => onRing(this.compass.turn(value), RING.radius),
      nearest: (x, y) => {
        const turn = (Math.atan2(RING.y - y, x - RING.x) * 180) / Math.PI;
        return Math.round(this.compass.azimuth(turn)) % 360;
      },
    };
    const grip = {
      ...{ label: "Direction of the cut upwards", step: 1, leap: 15 },
      words: (value: number) => this.compass.words(value),
      // Once around it begins anew: no end to come to.
      next: (value: number, by: number) => (value + by + 360) % 360,
      ended: () => undefined,
      moved: (value: number) => state.turn(value),
    };
    this.hand = bead(this.ring.board, rail, grip, 6);
    this.ring.board.append(this.needle, this.hand.node);
    this.upwards = flat("elevation over the top", 180);
    this.round = flat("azimuth", 360);
  }

  mount(host: Element): void {
    const both = host.querySelector(".both") ?? host;
    both.append(this.fan.board, this.ring.board, this.upwards.board, this.round.board);
    const turn = element("button", { type: "button", class: "turn" }, "On straight axes");
    turn.addEventListener("click", () => {
      this.isFlat = !this.isFlat;
      turn.textContent = this.isFlat ? "As fan and ring" : "On straight axes";
      this.draw(this.state.now());
    });
    host.append(turn);
    const hint = "The ring's handle turns the upward cut.";
    host.querySelector("figcaption")?.append(element("span", { class: "live hint" }, hint));
    this.state.subscribe((seen) => this.draw(seen));
  }

  private draw(seen: Seen): void {
    this.azimuth = seen.cut;
    const away = (hidden: boolean, ...boards: SVGElement[]): void => {
      for (const each of boards) each.classList.toggle("away", hidden);
    };
    away(this.isFlat, this.fan.board, this.ring.board);
    away(!this.isFlat, this.upwards.board, this.round.board);
    if (this.isFlat) this.drawFlat(seen);
    else this.drawPolar(seen);
  }

  private cuts(seen: Seen): Readonly<Record<Look, Cut>> {
    const { head } = this.state.model;
    const of = outcomes(seen);
    const cut = (look: Look): Cut => cutOf(head, of[look], this.azimuth);
    return { bare: cut("bare"), ideal: cut("ideal"), set: cut("set") };
  }

  private drawPolar(seen: Seen): void {
    const [cuts, of] = [this.cuts(seen), outcomes(seen)];
    const high = fanScale(Math.max(...LOOKS.map((look) => most(cuts[look].gains))));
    const every = LOOKS.map((look) => of[look].ring);
    const round = ringScale(Math.min(...every.map(least)), Math.max(...every.map(most)));
    this.layGround(high, round);
    for (const look of LOOKS) {
      const { angles, gains } = cuts[look];
      put(this.fan.lines[look], { d: polarPath(angles, gains, high, FAN) });
      const ring = polarPath(this.turned, of[look].ring, round, RING, true);
      put(this.ring.lines[look], { d: ring });
    }
    const ahead = this.compass.turn(this.azimuth);
    const ends = [ahead, ahead + 180].map((turn) => onRing(turn, RING.radius));
    put(this.needle, { d: polyline(ends.flat()) });
    this.hand.place(this.azimuth, [0, 359]);
    this.label(seen);
  }

  /** Rings and numbers, which stay while a hand moves unless the scale has to grow. */
  private layGround(high: ReturnType<typeof fanScale>, round: ReturnType<typeof ringScale>): void {
    const key = JSON.stringify([high, round, this.azimuth]);
    if (key === this.grounds) return;
    this.grounds = key;
    const [ahead, behind] = [this.azimuth, this.azimuth + 180];
    const sides = [this.compass.name(ahead), this.compass.name(behind)] as const;
    this.fan.ground.replaceChildren(...fanGround(high, sides));
    this.ring.ground.replaceChildren(...ringGround(round, this.compass));
  }

  private drawFlat(seen: Seen): void {
    const { head } = this.state.model;
    const [cuts, of] = [this.cuts(seen), outcomes(seen)];
    this.upwards.draw(LOOKS.map((look) => ({ look, x: cuts[look].angles, y: cuts[look].gains })));
    this.round.draw(LOOKS.map((look) => ({ look, x: head.azimuths, y: of[look].ring })));
  }

  private label(seen: Seen): void {
    const { head } = this.state.model;
    const [own, ideal] = [seen.outcome, seen.ideal].map((each) => ({
      round: decibels(most(each.ring)),
      whole: decibels(most(each.pattern)),
    }));
    const [fan, ring] = [this.fan.ground.parentElement!, this.ring.ground.parentElement!];
    const towards = `towards ${this.compass.words(this.azimuth)}, and away from it`;
    const lobe = `the strongest lobe ${own!.whole}, ideal ${ideal!.whole}`;
    const round = `at most ${own!.round}, ideal ${ideal!.round}`;
    put(fan, { "aria-label": `Gain over elevation ${towards}; ${lobe}` });
    put(ring, { "aria-label": `Gain all round at ${head.elevation}° elevation, ${round}` });
  }
}

/** Puts the pattern into a figure and keeps it as the setting is. */
export function patternView(host: Element, state: State): void {
  new Pattern(state).mount(host);
}
