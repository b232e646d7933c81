/** Current along the cable as a curve, downwards as the cable hangs; the choke is moved on it too. */

import type { Head, Way } from "../contract";
import { bead, type Rail } from "./bead";
import { ALONG } from "./boxes";
import { lettering, picture, polyline, put, shape } from "./dom";
import { landmarks } from "./landmarks";
import { BOTH, gripOf, isFixed } from "./place";
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
  const long = seen.bareWay.position.at(-1)!;
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

/** Puts the picture into a figure and keeps it as the setting is. */
export function alongView(host: Element, state: State): void {
  const { head } = state.model;
  const limit = head.thresholds["station_ratio"] ?? 0.05;
  const board = picture(ALONG.wide, ALONG.tall, "along");
  const line = (look: string): SVGElement => shape("path", { class: look });
  const [grid, edge, area] = [line("grid"), line("limit"), line("area")];
  const [bare, ideal, own] = [line("bare"), line("ideal"), line("set")];
  const [names, numbers] = [shape("g", {}), shape("g", {})];
  const drawing = shape("g", { role: "img" }, grid, edge, area, bare, ideal, own, names, numbers);
  let scale = scaleOf(state.now(), limit);
  const [low, high] = head.range;
  const rail: Rail = {
    at: (value) => [ALONG.left, scale.y(value)],
    nearest: (_, y) => low + ((y - scale.y(low)) * (high - low)) / (scale.y(high) - scale.y(low)),
  };
  const beads = BOTH.map((which) => bead(board, rail, gripOf(state, which), 7, true));
  board.append(drawing, ...beads.map((each) => each.node));
  host.prepend(board);
  let drawnFor = "";
  state.subscribe((seen) => {
    scale = scaleOf(seen, limit);
    put(edge, { d: `M${scale.x(limit).toFixed(1)} ${ALONG.top}V${FOOT}` });
    const start = seen.shown.first?.position ?? 0;
    const places = withoutWinding(seen.way, seen.bareWay, start);
    const points = curve(places, seen.outcome.shield, scale);
    put(own, { d: polyline(points) });
    put(area, { d: polyline([ALONG.left, points[1]!, ...points, ALONG.left, points.at(-1)!], true) });
    put(bare, { d: polyline(curve(seen.bareWay.position, seen.bare.shield, scale)) });
    put(ideal, { d: polyline(curve(seen.bareWay.position, seen.ideal.shield, scale)) });
    numbers.replaceChildren(...numbersOf(scale));
    if (drawnFor !== seen.shown.variant) {
      drawnFor = seen.shown.variant;
      const marks = namesOf(state, seen, scale);
      names.replaceChildren(...marks.map(([, node]) => node));
      put(grid, { d: marks.map(([y]) => `M${ALONG.left} ${y.toFixed(1)}H${EDGE}`).join("") });
    }
    put(drawing, { "aria-label": said(seen) });
    BOTH.forEach((which, k) => {
      const on = seen.setting[which];
      put(beads[k]!.node, { class: `grip ${on ? seen.mode : "away"}` });
      if (on) beads[k]!.place(on.position, head.range, isFixed(head, on));
    });
  });
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
  return `Current along the cable, share of the feed current: as shown up to ${own}, without a choke ${bare}, ideal ${ideal}`;
}
