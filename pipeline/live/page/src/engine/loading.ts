/** A setting as impedances on ports: what sits where, or a sentence why that cannot be told. */

import { variantOf, type Complex, type Head, type OnCable, type Setting } from "../contract";
import type { Geometry } from "./geometry";
import type { Line } from "./line";
import type { Vector } from "./payload";

/** What computes of a kind of choke, as `pipeline/live/payload.py` writes it. */
export interface KindData {
  geometry: string;
  /** Port of its own geometry that its impedance is in series with; empty: along the cable. */
  port: string;
  /** Length of cable that one piece acts over and takes up [m]. */
  over: number;
  extent: number;
  stiff: boolean;
  cores: boolean;
  told: Complex | null;
  line: Line;
}

/** A kind with its impedance at every told frequency [ohm]. */
export interface LiveKind extends KindData {
  id: string;
  z: Vector;
}

/** Something on the cable with its share on every port that it covers. */
export interface Part {
  kind: LiveKind;
  count: number;
  position: number;
  share: Float64Array;
  /** Share of each piece by itself, those of a row of cores one after the other. */
  pieces: readonly Float64Array[];
}

/** A setting as it loads a geometry. */
export interface Loading {
  geometry: Geometry;
  parts: readonly Part[];
  line: Line;
  /** Place of the part that brings cable of its own [m]. */
  position: number;
  rod: Complex;
  radio: Complex;
}

/** What a setting is held against. */
export interface Bounds {
  head: Head;
  kinds: ReadonlyMap<string, LiveKind>;
  geometry(name: string): Geometry;
  /** Drawing of the cable of each variant, by its name. */
  cables: Readonly<Record<string, string>>;
  corners: readonly number[];
  /** Length of the cable's way [m]. */
  route: number;
  line: Line;
  open: number;
}

/** Places that differ by rounding are the same [m]. */
const SLACK = 1e-9;
const CABLE = "cable";

/** The setting as impedances, or a sentence why there is no result for it. */
export function loadingOf(setting: Setting, bounds: Bounds): Loading | string {
  const placed = [setting.first, setting.second].filter((one) => one !== null);
  const refused = refusalOf(setting, placed, bounds);
  if (refused) return refused;
  const kinds = placed.map((one) => bounds.kinds.get(one.kind)!);
  const drawn = kinds.find((kind) => kind.geometry !== CABLE);
  const geometry = bounds.geometry(drawn?.geometry ?? bounds.cables[setting.variant]!);
  const parts: Part[] = [];
  for (const [k, { count, position }] of placed.entries()) {
    const kind = kinds[k]!;
    const share = sharesOf(geometry, kind, count, position);
    const pieces = piecesOf(geometry, kind, count, position);
    if (!share || !pieces) return unsolved(position, setting, bounds.head);
    parts.push({ kind, count, position, share, pieces });
  }
  const owner = kinds.findIndex((kind) => kind.line.own || kind.geometry !== CABLE);
  const { bond, radio } = setting;
  return {
    ...{ geometry, parts, line: owner < 0 ? bounds.line : kinds[owner]!.line },
    position: owner < 0 ? 0 : placed[owner]!.position,
    rod: bond === "none" ? [bounds.open, 0] : bond,
    radio: radio === "open" ? [bounds.open, 0] : radio,
  };
}

/** Share of a choke's impedance on every port; null where it lies where there is none. */
export function sharesOf(
  geometry: Geometry,
  kind: Pick<KindData, "over" | "port" | "geometry">,
  count: number,
  position: number,
): Float64Array | null {
  const found = new Float64Array(geometry.ports.length);
  if (kind.geometry !== CABLE) {
    if (kind.port) found[geometry.portIndex(kind.port)] = 1;
    return found;
  }
  const length = kind.over * count;
  let sum = 0;
  geometry.ports.forEach(({ span }, k) => {
    if (!span) return;
    const [low, high] = span;
    if (length > 0) {
      const covered = Math.min(high, position + length) - Math.max(low, position);
      found[k] = Math.max(0, covered) / length;
    } else found[k] = low - 1e-6 <= position && position < high - 1e-6 ? 1 : 0;
    sum += found[k]!;
  });
  return Math.abs(sum - 1) > 1e-3 ? null : found;
}

/** Share of every piece of a row; null where one of them lies where there is no port. */
function piecesOf(
  geometry: Geometry,
  kind: LiveKind,
  count: number,
  position: number,
): Float64Array[] | null {
  const found: Float64Array[] = [];
  for (let k = 0; k < count; k++) {
    const share = sharesOf(geometry, kind, 1, position + k * kind.over);
    if (!share) return null;
    found.push(share);
  }
  return found;
}

function refusalOf(setting: Setting, placed: readonly OnCable[], bounds: Bounds): string {
  const { head } = bounds;
  const [low, high] = head.band;
  const { frequency } = setting;
  if (!(frequency >= low && frequency <= high)) {
    return `Computed is the band from ${megahertz(low)} to ${megahertz(high)}.`;
  }
  if (!head.variants.some((variant) => variant.id === setting.variant)) {
    return "This variant of the installation is not computed.";
  }
  for (const one of placed) {
    const refused = ofOne(one, bounds) || ofVariant(one, setting, bounds);
    if (refused) return refused;
  }
  return placed.length === 2 ? ofTwo(placed as [OnCable, OnCable], bounds) : "";
}

function ofOne(one: OnCable, bounds: Bounds): string {
  const shown = bounds.head.kinds.find((kind) => kind.id === one.kind);
  const kind = bounds.kinds.get(one.kind);
  if (!shown || !kind) return "This kind of choke is not computed.";
  if (!Number.isInteger(one.count) || one.count < 1 || one.count > shown.most) {
    return `Computed are 1 to ${shown.most} pieces of ${shown.label}.`;
  }
  if (!Number.isFinite(one.position)) return "A choke has to have a place on the cable.";
  if (shown.fixed !== null) {
    if (Math.abs(one.position - shown.fixed) < SLACK) return "";
    const place = metres(shown.fixed, bounds.head);
    return `${shown.label} is drawn as wire: it is computed at ${place} only.`;
  }
  const end = one.position + kind.extent * one.count;
  if (end > bounds.route + SLACK) {
    return `It would reach beyond the end of the cable, at ${metres(bounds.route, bounds.head)}.`;
  }
  const bend = bounds.corners.find((c) => one.position + SLACK < c && c < end - SLACK);
  if (!kind.stiff || bend === undefined) return "";
  const place = metres(bend, bounds.head);
  return `It would lie across the bend of the cable at ${place}, and a row of cores is stiff.`;
}

/** What is drawn as wire is drawn on the installation as described. */
function ofVariant(one: OnCable, setting: Setting, bounds: Bounds): string {
  const isDrawn = bounds.kinds.get(one.kind)!.geometry !== CABLE;
  if (!isDrawn || bounds.cables[setting.variant] === CABLE) return "";
  const { label } = bounds.head.kinds.find((kind) => kind.id === one.kind)!;
  return `${label} is drawn as wire: it is computed on the installation as described only.`;
}

function ofTwo([first, second]: [OnCable, OnCable], bounds: Bounds): string {
  const kinds = [first, second].map((one) => bounds.kinds.get(one.kind)!);
  if (kinds.some((kind) => kind.geometry !== CABLE)) {
    return "Beside a choke that is drawn as wire no second one is computed.";
  }
  if (kinds.every((kind) => kind.line.own)) return "Two coils on one cable are not computed.";
  const [a, b] = first.position <= second.position ? [first, second] : [second, first];
  const extent = bounds.kinds.get(a.kind)!.extent * a.count;
  const overlaps = a.position + extent > b.position + SLACK;
  return overlaps ? "The two would lie over each other on the cable." : "";
}

/** Says that part of something lies where there is no port, and which stretches are near. */
function unsolved(position: number, setting: Setting, head: Head): string {
  const { ranges } = variantOf(head, setting.variant);
  const before = ranges.filter(([low]) => low <= position).at(-1);
  const behind = ranges.find(([low]) => low > position);
  const near = [before, behind]
    .filter((range) => range !== undefined)
    .map(([low, high]) => `${metres(low, head)} to ${metres(high, head)}`);
  return `Not all of it would lie where places along the cable are solved: ${near.join(", ")}.`;
}

function metres(length: number, head: Head): string {
  if (head.lengths === "imperial") return `${(length / 0.0254).toFixed(1)} in`;
  return `${length.toFixed(2)} m`;
}

function megahertz(frequency: number): string {
  return `${(frequency / 1e6).toFixed(3)} MHz`;
}
