/**
 * Handles on the pictures: dragged by pointer, moved by keys, told as sliders.
 *
 * A rail says where on the picture a value lies and which value lies nearest to a place of it.
 */

import { put, shape } from "./dom";

export interface Rail {
  /** Place of the picture for a value. */
  at(value: number): readonly [number, number];
  /** Value nearest to a place of the picture. */
  nearest(x: number, y: number): number;
  /** Which way on the picture a value grows, where keys go by that: to the right, and down. */
  heading?(value: number): readonly [number, number];
}

export interface Grip {
  label: string;
  /** One step of the arrow keys, and of the page keys. */
  step: number;
  leap: number;
  words(value: number): string;
  /** The value so far on from another; the same where there is none. */
  next(value: number, by: number): number;
  moved(value: number): void;
  /** A key was pressed that leads on from the last value there is. */
  ended(value: number): void;
}

export interface Bead {
  node: SVGElement;
  /** Puts it at a value between two ends; what is fixed takes no hand. */
  place(value: number, ends: readonly [number, number], isFixed?: boolean): void;
}

/** How far from its middle a handle is taken hold of. */
const REACH = 22;

/** A pointer's place in the units of a picture. */
export function inPicture(picture: SVGElement, event: MouseEvent): readonly [number, number] {
  const matrix = (picture as SVGSVGElement).getScreenCTM();
  if (!matrix) return [0, 0];
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [point.x, point.y];
}

/** A handle on a rail of a picture; a second one of the same is for the pointer alone. */
export function bead(
  picture: SVGElement,
  rail: Rail,
  grip: Grip,
  radius: number,
  isSecond = false,
): Bead {
  const role = { role: "slider", tabindex: 0, "aria-label": grip.label };
  const reach = shape("circle", { class: "reach", r: REACH });
  const mark = shape("circle", { class: "bead", r: radius });
  const node = shape("g", isSecond ? {} : role, reach, mark);
  let ends: readonly [number, number] = [0, 0];
  let now = 0;
  let isFixed = false;
  const move = (value: number): void => {
    const kept = Math.min(Math.max(value, ends[0]), ends[1]);
    if (isFixed || kept === now) return;
    // Another key may be pressed before the next picture.
    now = kept;
    grip.moved(kept);
  };
  node.addEventListener("keydown", (event) => {
    const next = afterKey(event.key, now, ends, grip, rail);
    if (next === null) return;
    event.preventDefault();
    if (next === now) grip.ended(now);
    else move(next);
  });
  dragging(node, (event) => move(rail.nearest(...inPicture(picture, event))));
  return {
    node,
    place(value, within, fixed = false) {
      [now, ends, isFixed] = [value, within, fixed];
      const [x, y] = rail.at(value);
      put(node, { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` });
      if (isSecond) return;
      put(node, { "aria-valuenow": value, "aria-valuetext": grip.words(value) });
      put(node, { "aria-valuemin": within[0], "aria-valuemax": within[1] });
      put(node, { "aria-disabled": String(fixed) });
    },
  };
}

function afterKey(
  key: string,
  now: number,
  ends: readonly [number, number],
  grip: Grip,
  rail: Rail,
): number | null {
  if (key === "Home") return ends[0];
  if (key === "End") return ends[1];
  const sign = signOf(key, rail.heading?.(now));
  if (sign === 0) return null;
  return grip.next(now, sign * (key.startsWith("Page") ? grip.leap : grip.step));
}

/** So much of a direction counts as one of the two that an arrow can mean. */
const LEAST_SHARE = 0.3;

/** Whether a key leads to more, +1, or to less, -1; zero where it means nothing. */
function signOf(key: string, heading?: readonly [number, number]): number {
  const usual: Readonly<Record<string, number>> = {
    ...{ ArrowRight: 1, ArrowUp: 1, PageUp: 1, ArrowLeft: -1, ArrowDown: -1, PageDown: -1 },
  };
  const found = usual[key] ?? 0;
  if (!found || !heading) return found;
  const [right, down] = heading;
  const least = LEAST_SHARE * Math.hypot(right, down);
  if (key === "ArrowRight" || key === "ArrowLeft") {
    return right < -least ? -found : found;
  }
  // Where the way is level, down is on from where it hangs.
  return down < -least ? found : -found;
}

/** Follows a pointer from where it goes down until it is let go. */
function dragging(node: SVGElement, follow: (event: PointerEvent) => void): void {
  node.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    node.setPointerCapture(event.pointerId);
    // The one beside it says what is set: a second handle is nothing to be told of.
    if (node.hasAttribute("role")) node.focus();
    event.preventDefault();
  });
  node.addEventListener("pointermove", (event) => {
    if (node.hasPointerCapture(event.pointerId)) follow(event);
  });
}

/** So far ahead a rail is looked along, in its own values. */
const AHEAD = 0.02;

/** A rail along a line of places, two numbers each, whose values rise. */
export function along(values: ArrayLike<number>, points: ArrayLike<number>): Rail {
  return {
    at(value) {
      for (let i = 1; i < values.length; i++) {
        if (values[i]! < value && i < values.length - 1) continue;
        const share = (value - values[i - 1]!) / (values[i]! - values[i - 1]!);
        const kept = Math.min(Math.max(share, 0), 1);
        const on = (k: number): number =>
          points[2 * i - 2 + k]! + kept * (points[2 * i + k]! - points[2 * i - 2 + k]!);
        return [on(0), on(1)];
      }
      return [points[0]!, points[1]!];
    },
    heading(value) {
      const [before, behind] = [this.at(value), this.at(value + AHEAD)];
      return [behind[0] - before[0], behind[1] - before[1]];
    },
    nearest(x, y) {
      let [best, found] = [Infinity, values[0]!];
      for (let i = 1; i < values.length; i++) {
        const [ax, ay] = [points[2 * i - 2]!, points[2 * i - 1]!];
        const [dx, dy] = [points[2 * i]! - ax, points[2 * i + 1]! - ay];
        const whole = dx * dx + dy * dy || 1e-12;
        const share = Math.min(Math.max(((x - ax) * dx + (y - ay) * dy) / whole, 0), 1);
        const apart = (ax + share * dx - x) ** 2 + (ay + share * dy - y) ** 2;
        if (apart >= best) continue;
        best = apart;
        found = values[i - 1]! + share * (values[i]! - values[i - 1]!);
      }
      return found;
    },
  };
}
