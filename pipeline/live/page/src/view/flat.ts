/** Curves on straight axes: pattern cuts, and what a frequency does. */

import { FLAT } from "./boxes";
import { lettering, picture, polyline, put, shape } from "./dom";
import { least, most, ticks } from "./scales";
import { decibels } from "./words";

/** A curve and how it looks: "set", "ideal" or "bare". */
export interface Curve {
  look: string;
  x: ArrayLike<number>;
  y: ArrayLike<number>;
}

export interface Flat {
  board: SVGElement;
  draw(curves: readonly Curve[]): void;
}

/** Nulls deeper than this below the strongest lobe are cut off [dB]. */
const DEPTH = 30;

const FOOT = FLAT.tall - FLAT.bottom;
const EDGE = FLAT.wide - FLAT.right;

/** Limits of an axis in numbers, and where they lie on the picture. */
export interface Axis {
  low: number;
  high: number;
  from: number;
  to: number;
}

export function onAxis(value: number, axis: Axis): number {
  const share = (value - axis.low) / (axis.high - axis.low);
  return axis.from + Math.min(Math.max(share, -0.02), 1.02) * (axis.to - axis.from);
}

export function curvePath(curve: Curve, across: Axis, upwards: Axis): string {
  const points: number[] = [];
  for (let i = 0; i < curve.x.length; i++) {
    points.push(onAxis(curve.x[i]!, across), onAxis(curve.y[i]!, upwards));
  }
  return polyline(points);
}

/** Lines and numbers of two axes with what the lower one counts. */
export function axes(
  across: Axis,
  upwards: Axis,
  steps: readonly number[],
  counts: string,
): SVGElement[] {
  const say = (value: number): string => String(value).replace("-", "−");
  const found: SVGElement[] = [];
  for (const value of ticks(upwards.low, upwards.high, 4)) {
    const y = onAxis(value, upwards).toFixed(1);
    found.push(shape("path", { class: "grid", d: `M${across.from} ${y}H${across.to}` }));
    const at = { class: "tick", "text-anchor": "end", x: across.from - 6, y: Number(y) + 4 };
    found.push(lettering(at, say(value)));
  }
  for (const value of steps) {
    const x = onAxis(value, across).toFixed(1);
    const at = { class: "tick", "text-anchor": "middle", x, y: upwards.from + 15 };
    found.push(lettering(at, say(value)));
  }
  const middle = (across.from + across.to) / 2;
  const below = { class: "tick", "text-anchor": "middle", x: middle, y: upwards.from + 30 };
  found.push(lettering(below, counts));
  return found;
}

/** Gain [dBi] over an angle from 0 to some degrees. */
export function flat(counts: string, degrees: number): Flat {
  const board = picture(FLAT.wide, FLAT.tall, "flat");
  const ground = shape("g", {});
  const lines = new Map(["bare", "ideal", "set"].map((l) => [l, shape("path", { class: l })]));
  board.append(shape("g", { role: "img" }, ground, ...lines.values()));
  const across = { low: 0, high: degrees, from: FLAT.left, to: EDGE };
  const steps = Array.from({ length: 5 }, (_, k) => (degrees * k) / 4);
  return {
    board,
    draw(curves) {
      const highest = Math.max(...curves.map((each) => most(each.y)));
      const lowest = Math.min(...curves.map((each) => least(each.y)));
      const high = Math.ceil(highest + 0.1);
      const low = Math.max(Math.floor(lowest), high - DEPTH);
      const upwards = { low, high, from: FOOT, to: FLAT.top };
      ground.replaceChildren(...axes(across, upwards, steps, `${counts} [°]`));
      for (const each of curves) {
        put(lines.get(each.look)!, { d: curvePath(each, across, upwards) });
      }
      const said = `Gain over ${counts}, up to ${decibels(highest)}`;
      put(ground.parentElement!, { "aria-label": said });
    },
  };
}
