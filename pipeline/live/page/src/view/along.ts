/** Current along the cable as a curve, downwards as it hangs; the choke is moved on it too. */

import { variantOf, type Head, type Way } from "../contract";
import { bead, type Bead, type Rail } from "./bead";
import { ALONG } from "./boxes";
import { lettering, picture, polyline, put, shape } from "./dom";
import { endOf, landmarks } from "./landmarks";
import { BOTH, endsOf, gripOf, handleLook, isFixed } from "./place";
import { most, ticks } from "./scales";
import type { Seen, State } from "./state";
import { length, percent } from "./words";

/** Names nearer to each other than this do not both fit. */
const APART = 26;
const FOOT = ALONG.tall - ALONG.bottom;
const EDGE = ALONG.wide - ALONG.right;

interface Scale {
  x(ratio: number): number;
  y(place: number): number;
  largest: number;
}

function scaleOf(seen: Seen, limit: number): Scale {
  const curves = [seen.bare, seen.ideal, seen.outcome].map((each) => most(each.shield));
  const largest = 1.08 * Math.max(...curves, 1.3 * limit);
  const long = endOf(seen.bareWay);
  return {
    largest,
    x: (ratio) => ALONG.left + ((EDGE - ALONG.left) * ratio) / largest,
    y: (place) => ALONG.top + ((FOOT - ALONG.top) * place) / long,
  };
}

/** Places along a cable with a coil in it, as if the coil's own cable took no room. */
function withoutWinding(way: Way, bare: Way, start: number): ArrayLike<number> {
  const extra = way.position.at(-1)! - bare.position.at(-1)!;
  if (extra < 1e-3) return way.position;
  return way.position.map((s) => (s < start + extra ? Math.min(s, start) : s - extra));
}

function curve(places: ArrayLike<number>, current: ArrayLike<number>, scale: Scale): number[] {
  const found: number[] = [];
  for (let i = 0; i < places.length; i++) found.push(scale.x(current[i]!), scale.y(places[i]!));
  return found;
}

/** A line of the picture without a path yet. */
function line(look: string): SVGElement {
  return shape("path", { class: look });
}

class Along {
  private readonly board = picture(ALONG.wide, ALONG.tall, "along");
  private readonly grid = line("grid");
  private readonly edge = line("limit");
  /** The part of the cable that a choke was solved on. */
  private readonly track = line("track");
  private readonly area = line("area");
  private readonly curves = { bare: line("bare"), ideal: line("ideal"), own: line("set") };
  private readonly names = shape("g", {});
  private readonly numbers = shape("g", {});
  private readonly drawing: SVGElement;
  private readonly beads: Bead[];
  private readonly limit: number;
  private scale: Scale;
  private drawnFor = "";
  private counted = 0;

  constructor(private readonly state: State) {
    const { head } = state.model;
    this.limit = head.thresholds["station_ratio"] ?? 0.05;
    this.scale = scaleOf(state.now(), this.limit);
    const { bare, ideal, own } = this.curves;
    const lines = [this.grid, this.track, this.edge, this.area, bare, ideal, own];
    this.drawing = shape("g", { role: "img" }, ...lines, this.names, this.numbers);
    const rail = this.railOf();
    this.beads = BOTH.map((which) => bead(this.board, rail, gripOf(state, which), 7, true));
    this.board.append(this.drawing, ...this.beads.map((each) => each.node));
  }

  mount(host: Element): void {
    host.prepend(this.board);
    this.state.subscribe((seen) => this.draw(seen));
  }

  private railOf(): Rail {
    return {
      at: (value) => [ALONG.left, this.scale.y(value)],
      nearest: (_, y) => {
        const { ranges } = variantOf(this.state.model.head, this.state.current().variant);
        const [low, high] = [ranges[0]![0], ranges.at(-1)![1]];
        const [top, foot] = [this.scale.y(low), this.scale.y(high)];
        return low + ((y - top) * (high - low)) / (foot - top);
      },
    };
  }

  private draw(seen: Seen): void {
    const scale = (this.scale = scaleOf(seen, this.limit));
    const { bare, ideal, own } = this.curves;
    put(this.edge, { d: `M${scale.x(this.limit).toFixed(1)} ${ALONG.top}V${FOOT}` });
    const start = seen.shown.first?.position ?? 0;
    const places = withoutWinding(seen.way, seen.bareWay, start);
    const points = curve(places, seen.outcome.shield, scale);
    const { left } = ALONG;
    put(own, { d: polyline(points) });
    put(this.area, { d: polyline([left, points[1]!, ...points, left, points.at(-1)!], true) });
    put(bare, { d: polyline(curve(seen.bareWay.position, seen.bare.shield, scale)) });
    put(ideal, { d: polyline(curve(seen.bareWay.position, seen.ideal.shield, scale)) });
    put(this.drawing, { "aria-label": said(seen) });
    this.letter(seen);
    this.placeBeads(seen);
  }

  /** Names and numbers, which stay while a hand moves unless the scale has to grow. */
  private letter(seen: Seen): void {
    if (this.scale.largest !== this.counted) {
      this.counted = this.scale.largest;
      this.numbers.replaceChildren(...numbersOf(this.scale));
    }
    if (this.drawnFor === seen.shown.variant) return;
    this.drawnFor = seen.shown.variant;
    const marks = namesOf(this.state, seen, this.scale);
    this.names.replaceChildren(...marks.map(([, node]) => node));
    const across = marks.map(([y]) => `M${ALONG.left} ${y.toFixed(1)}H${EDGE}`);
    put(this.grid, { d: across.join("") });
    const tracks = variantOf(this.state.model.head, this.drawnFor).ranges.map((range) => {
      const [from, to] = range.map((place) => this.scale.y(place).toFixed(1));
      return `M${ALONG.left} ${from}V${to}`;
    });
    put(this.track, { d: tracks.join("") });
  }

  private placeBeads(seen: Seen): void {
    const { head } = this.state.model;
    BOTH.forEach((which, k) => {
      const [each, on] = [this.beads[k]!, seen.setting[which]];
      put(each.node, { class: `grip ${on ? handleLook(seen.mode) : "away"}` });
      if (on) each.place(on.position, endsOf(head, seen.setting.variant, on), isFixed(head, on));
    });
  }
}

/** Puts the picture into a figure and keeps it as the setting is. */
export function alongView(host: Element, state: State): void {
  new Along(state).mount(host);
}

function numbersOf(scale: Scale): SVGElement[] {
  return ticks(0, 100 * scale.largest, 3).map((value) =>
    lettering(
      {
        ...{ class: "tick", "text-anchor": "middle" },
        ...{ x: scale.x(value / 100).toFixed(1), y: FOOT + 20 },
      },
      `${value} %`,
    ),
  );
}

/** Names beside the curves with their heights; a bend gives way to whatever else is near. */
function namesOf(state: State, seen: Seen, scale: Scale): [number, SVGElement][] {
  const wires = state.model.wires(seen.shown.variant, seen.shown);
  const every = landmarks(seen.bareWay, wires);
  const found: [number, SVGElement][] = [];
  for (const isBend of [false, true]) {
    for (const [name, place] of every.filter((mark) => (mark[0] === "bend") === isBend)) {
      const y = scale.y(place);
      if (found.some(([other]) => Math.abs(other - y) < APART)) continue;
      found.push([y, named(name, place, y, state.model.head)]);
    }
  }
  return found;
}

function named(name: string, place: number, y: number, head: Head): SVGElement {
  const text = lettering({ class: "name", x: 0, y: (y + 5).toFixed(1) }, name);
  if (place) {
    const more = shape("tspan", { class: "more" });
    more.textContent = ` ${length(place, head, 1)}`;
    text.append(more);
  }
  return text;
}

function said(seen: Seen): string {
  const [own, bare, ideal] = [seen.outcome, seen.bare, seen.ideal].map((each) =>
    percent(most(each.shield)),
  );
  const beside = `without a choke ${bare}, ideal ${ideal}`;
  return `Current along the cable, share of the feed current: as shown up to ${own}, ${beside}`;
}
