/**
 * Impedance over the band as a reflection from 50 ohm: the middle is the match, the edge all of it
 * coming back. What is close to the match is magnified.
 */

import type { OverBand } from "../contract";
import { lettering, picture, polyline, put, shape } from "./dom";
import type { Seen, State } from "./state";
import { megahertz } from "./words";

const BOX = { wide: 350, tall: 304, x: 175, y: 152, radius: 128 };
const REFERENCE = 50;
/** Lines of equal resistance and of equal reactance [ohm], and rings of equal SWR. */
const RESISTANCES = [10, 25, 50, 100, 250];
const REACTANCES = [10, 25, 50, 100, 250];
const MATCHES = [1.2, 1.5, 2, 3, 5];
/** At least so much of the disc is shown, and so much room beside what is in it. */
const CLOSEST = 0.2;
const ROOM = 1.25;

type Place = readonly [number, number];

/** Reflection of an impedance [ohm]: z less the reference over z and the reference. */
export function reflection(r: number, x: number): Place {
  const [above, below] = [r - REFERENCE, r + REFERENCE];
  const size = below * below + x * x;
  return [(above * below + x * x) / size, (2 * REFERENCE * x) / size];
}

function onDisc([re, im]: Place, reach: number): Place {
  return [BOX.x + (BOX.radius * re) / reach, BOX.y - (BOX.radius * im) / reach];
}

/** Path through reflections, broken where it leaves the part of the disc that is shown. */
function inside(places: readonly Place[], reach: number): string {
  let path = "";
  let run: number[] = [];
  for (const place of places) {
    if (Math.hypot(...place) <= reach * 1.0001) run.push(...onDisc(place, reach));
    else if (run.length) [path, run] = [path + polyline(run), []];
  }
  return path + (run.length > 2 ? polyline(run) : "");
}

/** Numbers close together near a middle and far apart far from it, on both sides of zero. */
const SWEEP = Array.from({ length: 1601 }, (_, k) => 50 * Math.sinh((k - 800) / 132));

function netOf(reach: number): SVGElement[] {
  const lines = [
    ...RESISTANCES.map((r) => SWEEP.map((x) => reflection(r, x))),
    ...REACTANCES.flatMap((x) =>
      [x, -x].map((each) => SWEEP.filter((r) => r >= 0).map((r) => reflection(r, each))),
    ),
    SWEEP.filter((r) => r >= 0).map((r) => reflection(r, 0)),
  ];
  const net = lines.map((line) => inside(line, reach)).join("");
  const found = [
    shape("circle", { class: "edge", cx: BOX.x, cy: BOX.y, r: BOX.radius }),
    shape("path", { class: "grid", d: net }),
  ];
  return [...found, ...numbersOf(reach), ...sidesOf(reach), ...matchRings(reach)];
}

/** Resistances where the reactance is nothing, reactances where the resistance is the reference. */
function numbersOf(reach: number): SVGElement[] {
  const found: SVGElement[] = [];
  const add = (place: Place, text: string): void => {
    if (Math.hypot(...place) < 0.95 * reach) found.push(label(onDisc(place, reach), text));
  };
  for (const r of RESISTANCES) {
    add(reflection(r, 0), r === REFERENCE ? `${r} Ω, match` : `${r} Ω`);
  }
  for (const x of REACTANCES) {
    add(reflection(REFERENCE, x), `+j${x}`);
    add(reflection(REFERENCE, -x), `−j${x}`);
  }
  return found;
}

/** What lies on which side; at the edge itself only where all of the disc is shown. */
function sidesOf(reach: number): SVGElement[] {
  const whole = reach >= 1;
  const { x, y, radius } = BOX;
  const side = (at: Place, anchor: string, text: string): SVGElement =>
    lettering({ class: "tick", "text-anchor": anchor, x: at[0], y: at[1] }, text);
  return [
    side([x, y - radius - 8], "middle", "inductive, +jX"),
    side([x, y + radius + 16], "middle", "capacitive, −jX"),
    side([x - radius - 5, y + 3], "end", whole ? "short" : "← short"),
    side([x + radius + 5, y + 3], "start", whole ? "open" : "open →"),
  ];
}

function matchRings(reach: number): SVGElement[] {
  const found: SVGElement[] = [];
  for (const swr of MATCHES) {
    const long = (BOX.radius * (swr - 1)) / (swr + 1) / reach;
    if (long > 0.97 * BOX.radius) continue;
    found.push(shape("circle", { class: "ring-swr", cx: BOX.x, cy: BOX.y, r: long.toFixed(1) }));
    // Below on the left, where the lines of resistance leave room.
    const aside = long * Math.SQRT1_2;
    const at = { x: (BOX.x - aside - 2).toFixed(1), y: (BOX.y + aside + 9).toFixed(1) };
    found.push(lettering({ class: "tick", "text-anchor": "end", ...at }, `SWR ${swr}`));
  }
  return found;
}

function label([x, y]: Place, text: string): SVGElement {
  return lettering({ class: "tick", x: (x + 3).toFixed(1), y: (y - 3).toFixed(1) }, text);
}

function placesOf(band: OverBand): Place[] {
  return Array.from(band.r, (r, k) => reflection(r, band.x[k]!));
}

/** The picture, and how to draw it anew. */
export function smith(state: State): { board: SVGElement; draw(seen: Seen): void } {
  const board = picture(BOX.wide, BOX.tall, "smith");
  const net = shape("g", {});
  const looks = ["bare", "ideal", "set"] as const;
  const lines = looks.map((look) => shape("path", { class: look }));
  const low = shape("circle", { class: "end", r: 4 });
  const now = shape("circle", { class: "bead", r: 7 });
  const drawing = shape("g", { role: "img" }, net, ...lines, low, now);
  board.append(drawing);
  let reach = 0;
  return {
    board,
    draw(seen) {
      const curves = [seen.bare, seen.ideal, seen.outcome].map((each) => placesOf(each.band));
      const here = reflection(seen.outcome.at.r[0]!, seen.outcome.at.x[0]!);
      const farthest = Math.max(...[...curves.flat(), here].map((place) => Math.hypot(...place)));
      // In steps, so that the net does not swim while a hand moves.
      const wanted = Math.ceil(10 * Math.min(1, Math.max(CLOSEST, ROOM * farthest))) / 10;
      if (wanted !== reach) {
        reach = wanted;
        net.replaceChildren(...netOf(reach));
      }
      curves.forEach((places, k) => put(lines[k]!, { d: inside(places, reach) }));
      const place = (node: SVGElement, [x, y]: Place): void => put(node, { cx: x, cy: y });
      place(low, onDisc(curves[2]![0]!, reach));
      place(now, onDisc(here, reach));
      const { band } = state.model.head;
      const over = `${megahertz(band[0])}, the small dot, to ${megahertz(band[1])}`;
      const at = `the ring: ${megahertz(seen.setting.frequency)}`;
      put(drawing, { "aria-label": `Impedance at the antenna over ${over}; ${at}` });
    },
  };
}
