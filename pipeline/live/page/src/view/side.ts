/** The installation from the side, the cable as wide and as dark as its current, chokes by hand. */

import { variantOf, type Head, type Setting, type Way, type Wires } from "../contract";
import { along, bead, inPicture, type Bead, type Rail } from "./bead";
import { LEAST_WIDE, MOST_WIDE, SIDE, STEPS } from "./boxes";
import { element, lettering, picture, polyline, put, shape, tell } from "./dom";
import { landmarks } from "./landmarks";
import { begins, BOTH, endsOf, gripOf, handleLook, isFixed, moved, placed } from "./place";
import type { Which } from "./place";
import { most } from "./scales";
import { without, type Seen, type State } from "./state";
import { length, onCable, percent } from "./words";

/** The plane of the side view laid on the picture. */
interface Sheet {
  axis: 0 | 1;
  scale: number;
  left: number;
  foot: number;
}

const LOOKS: Readonly<Record<string, string>> = {
  ...{ antenna: "antenna", "bond lead": "lead", "rod star": "lead", "station lead": "lead" },
  ...{ shield: "", coil: "winding", sleeve: "winding" },
};
const HINT = "Drag the ring along the shaded stretch.";
const HINT_OF_MANY =
  "Drag the ring along the shaded stretches; between them nothing was solved, and it jumps.";
const DRAWN = ["around", "lead", "winding", "antenna"] as const;

function lookOf(part: string): string {
  return LOOKS[part] ?? "around";
}

/** The longer side of the installation, to scale, what stands on the ground at the foot. */
function sheetOf(wires: Wires, head: Head): Sheet {
  const low = [Infinity, Infinity, head.overGround ? 0 : Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (const ends of [wires.start, wires.end]) {
    for (let i = 0; i < ends.length; i++) {
      low[i % 3] = Math.min(low[i % 3]!, ends[i]!);
      high[i % 3] = Math.max(high[i % 3]!, ends[i]!);
    }
  }
  const axis = high[1]! - low[1]! > high[0]! - low[0]! ? 1 : 0;
  const { wide, tall, left, top, right, bottom } = SIDE;
  const across = Math.max(high[axis]! - low[axis]!, 1e-3);
  const upwards = Math.max(high[2]! - low[2]!, 1e-3);
  const scale = Math.min((wide - left - right) / across, (tall - top - bottom) / upwards);
  const middle = (wide + left - right) / 2 - (scale * (low[axis]! + high[axis]!)) / 2;
  return { axis, scale, left: middle, foot: tall - bottom + scale * low[2]! };
}

/** Places of the picture, two numbers each, of points of three. */
function onSheet(points: ArrayLike<number>, sheet: Sheet): Float64Array {
  const found = new Float64Array((2 * points.length) / 3);
  for (let i = 0; i < found.length / 2; i++) {
    found[2 * i] = sheet.left + sheet.scale * points[3 * i + sheet.axis]!;
    found[2 * i + 1] = sheet.foot - sheet.scale * points[3 * i + 2]!;
  }
  return found;
}

/** The cable as bands as wide as the current on it: one path for each step of colour. */
function ribbons(points: Float64Array, current: Float64Array, largest: number): string[] {
  const paths = Array<string>(STEPS).fill("");
  const share = (i: number): number => Math.min(current[i]! / largest, 1);
  const half = (i: number): number => (LEAST_WIDE + (MOST_WIDE - LEAST_WIDE) * share(i)) / 2;
  for (let i = 0; i + 1 < current.length; i++) {
    const [ax, ay, bx, by] = points.subarray(2 * i, 2 * i + 4) as unknown as number[];
    const long = Math.hypot(bx! - ax!, by! - ay!) || 1e-9;
    const [nx, ny] = [(by! - ay!) / long, (ax! - bx!) / long];
    const [a, b] = [half(i), half(i + 1)];
    const corners = [
      ...[ax! + a * nx, ay! + a * ny, bx! + b * nx, by! + b * ny],
      ...[bx! - b * nx, by! - b * ny, ax! - a * nx, ay! - a * ny],
    ];
    const step = Math.min(Math.floor((STEPS * (share(i) + share(i + 1))) / 2), STEPS - 1);
    paths[step] += polyline(corners, true);
  }
  return paths;
}

/** What the picture of one variant is drawn on. */
interface Ground {
  variant: string;
  sheet: Sheet;
  way: Way;
  rail: Rail;
}

function groundOf(state: State, setting: Setting): Ground {
  const { model } = state;
  const bare = without(setting);
  const sheet = sheetOf(model.wires(setting.variant, bare), model.head);
  const way = model.way(setting.variant, bare);
  const rail = along(way.position, onSheet(way.point, sheet));
  return { variant: setting.variant, sheet, way, rail };
}

/** What the wires hang on: the variant, and kinds that are wires of their own. */
function drawnIn(head: Head, setting: Setting): string {
  const kinds = BOTH.map((which) => setting[which]).filter((on) => on && isFixed(head, on));
  return JSON.stringify([setting.variant, ...kinds.map((on) => on!.kind)]);
}

class Side {
  private readonly board = picture(SIDE.wide, SIDE.tall, "side");
  private readonly lines = new Map(
    ["ground", ...DRAWN].map((look) => [look, shape("path", { class: look })]),
  );
  private readonly bands = Array.from({ length: STEPS }, (_, k) =>
    shape("path", { class: `q${k}` }),
  );
  private readonly touch = shape("path", { class: "touch" });
  /** The part of the cable that a choke was solved on. */
  private readonly track = shape("path", { class: "track" });
  private readonly names = shape("g", {});
  private readonly drawing: SVGElement;
  private readonly beads: Bead[];
  private readonly tags = BOTH.map(() => lettering({ class: "name", "aria-hidden": "true" }, ""));
  private readonly hint = element("span", { class: "live hint" });
  private ground: Ground;
  private variant = "";
  private drawn = "";
  /** The rail changes with the variant, the handles stay. */
  private readonly rail: Rail = {
    at: (value) => this.ground.rail.at(value),
    nearest: (x, y) => this.ground.rail.nearest(x, y),
    heading: (value) => this.ground.rail.heading!(value),
  };

  constructor(private readonly state: State) {
    this.ground = groundOf(state, state.current());
    const drawn = [this.track, ...this.lines.values(), ...this.bands];
    this.drawing = shape("g", { role: "img" }, ...drawn);
    this.touch.addEventListener("click", (event) => {
      putThere(state, this.rail.nearest(...inPicture(this.board, event)));
    });
    this.beads = BOTH.map((which) => bead(this.board, this.rail, gripOf(state, which), 9));
    const handles = this.beads.map((each) => each.node);
    this.board.append(this.drawing, this.touch, this.names, ...this.tags, ...handles);
  }

  mount(host: Element): void {
    host.prepend(this.board);
    host.querySelector("figcaption")?.append(this.hint);
    this.state.hear((text) => tell(this.hint, text));
    this.state.subscribe((seen) => this.draw(seen));
  }

  private draw(seen: Seen): void {
    const { model } = this.state;
    if (seen.shown.variant !== this.variant) this.layGround(seen);
    const { sheet } = this.ground;
    const drawn = drawnIn(model.head, seen.shown);
    if (drawn !== this.drawn) drawWires(this.lines, model.wires(this.variant, seen.shown), sheet);
    this.drawn = drawn;
    // Twice what counts at the radio is wide on every page, as without a choke where that is more.
    const counts = model.head.thresholds["station_ratio"] ?? 0.05;
    const largest = Math.max(most(seen.bare.shield), 2 * counts);
    const paths = ribbons(onSheet(seen.way.point, sheet), seen.outcome.shield, largest);
    this.bands.forEach((band, k) => put(band, { d: paths[k]! }));
    put(this.drawing, { "aria-label": said(model.head, seen) });
    BOTH.forEach((which, k) => this.placeBead(this.beads[k]!, this.tags[k]!, seen, which));
  }

  /** What stays while a hand moves. */
  private layGround(seen: Seen): void {
    const { model } = this.state;
    const ground = (this.ground = groundOf(this.state, seen.shown));
    this.variant = ground.variant;
    const { ranges } = variantOf(model.head, ground.variant);
    const lines = ranges.map((range) => polyline(stretchOf(this.rail, ground.way, range)));
    const stretch = lines.join("");
    put(this.touch, { d: stretch });
    put(this.track, { d: stretch });
    this.names.replaceChildren(...namesOf(ground, model.wires(ground.variant, seen.shown)));
    if (model.head.overGround) put(this.lines.get("ground")!, groundLine(ground.sheet));
  }

  private placeBead(handle: Bead, tag: SVGElement, seen: Seen, which: Which): void {
    const on = seen.setting[which];
    const { head } = this.state.model;
    put(handle.node, { class: `grip ${on ? handleLook(seen.mode) : "away"}` });
    put(tag, { class: on && seen.mode === "own" ? "name" : "away" });
    if (!on) return;
    handle.place(on.position, endsOf(head, seen.setting.variant, on), isFixed(head, on));
    const [x, y] = this.rail.at(on.position);
    putTag(tag, x, y, which);
    const count = on.count > 1 ? `${on.count} cores, ` : "";
    tell(tag, `${count}${length(on.position, head)}`);
    const { ranges } = variantOf(head, seen.setting.variant);
    const hint = ranges.length > 1 ? HINT_OF_MANY : HINT;
    if (which === "first") tell(this.hint, isFixed(head, on) ? "" : hint);
  }
}

/** Puts the name of a handle beside it: above where the picture would end beside it. */
function putTag(tag: SVGElement, x: number, y: number, which: Which): void {
  // The second is named on the other side: two that lie close have room.
  const isFirst = which === "first";
  const place = (right: number, down: number, anchor: string): void =>
    put(tag, { x: (x + right).toFixed(1), y: (y + down).toFixed(1), "text-anchor": anchor });
  if (x > SIDE.wide / 2) place(10, isFirst ? -18 : -38, "end");
  else if (isFirst) place(18, 5, "start");
  else place(-18, 5, "end");
}

/** Puts the picture into a figure and keeps it as the setting is. */
export function sideView(host: Element, state: State): void {
  new Side(state).mount(host);
}

/** The line of a rail between two values, its corners among them. */
function stretchOf(rail: Rail, way: Way, [low, high]: readonly [number, number]): number[] {
  const inside = Array.from(way.position).filter((place) => place > low && place < high);
  return [low, ...inside, high].flatMap((place) => [...rail.at(place)]);
}

function groundLine(sheet: Sheet): { d: string } {
  return { d: `M0 ${sheet.foot.toFixed(1)}H${SIDE.wide}` };
}

/** Puts a choke where the reader points: the one that is there, or else the one advised. */
function putThere(state: State, position: number): void {
  const { head } = state.model;
  const setting = state.current();
  const movable = head.kinds.find((kind) => kind.fixed === null);
  if (setting.first) {
    if (!isFixed(head, setting.first)) state.change(moved(head, setting, "first", position));
  } else if (head.start.first && !isFixed(head, head.start.first)) {
    const { first } = head.start;
    state.change({ first: { ...first, position: placed(head, setting.variant, first, position) } });
  } else if (movable) state.change({ first: begins(head, setting.variant, movable.id, position) });
}

function drawWires(lines: Map<string, SVGElement>, wires: Wires, sheet: Sheet): void {
  const paths = new Map<string, string>();
  const [starts, ends] = [onSheet(wires.start, sheet), onSheet(wires.end, sheet)];
  wires.part.forEach((part, i) => {
    const line = [starts[2 * i]!, starts[2 * i + 1]!, ends[2 * i]!, ends[2 * i + 1]!];
    paths.set(lookOf(part), (paths.get(lookOf(part)) ?? "") + polyline(line));
  });
  for (const look of DRAWN) put(lines.get(look)!, { d: paths.get(look) ?? "" });
}

/** Antenna above its top, bond and radio below the foot. */
function namesOf(ground: Ground, wires: Wires): SVGElement[] {
  const { sheet, way } = ground;
  let top = [0, Infinity];
  const ends = [onSheet(wires.start, sheet), onSheet(wires.end, sheet)];
  wires.part.forEach((part, i) => {
    for (const end of part === "antenna" ? ends : []) {
      if (end[2 * i + 1]! < top[1]!) top = [end[2 * i]!, end[2 * i + 1]!];
    }
  });
  const name = (x: number, y: number, text: string): SVGElement =>
    lettering({ class: "name", x: x.toFixed(1), y: y.toFixed(1), "text-anchor": "middle" }, text);
  const found = [name(top[0]!, top[1]! - 9, "antenna")];
  const below = SIDE.tall - SIDE.bottom + 22;
  for (const [text, place] of landmarks(way, wires)) {
    if (text === "antenna" || text === "bend") continue;
    found.push(name(ground.rail.at(place)[0], below, text));
  }
  return found;
}

function said(head: Head, seen: Seen): string {
  const what = seen.mode === "ideal" ? "an ideal choke" : onCable(head, seen.shown);
  const largest = `at most ${percent(most(seen.outcome.shield))} of the feed current`;
  return `The installation from the side, with ${what}: ${largest} on the cable`;
}
