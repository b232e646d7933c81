/** Fan and ring: gain upwards above the ground, and all round as seen from above. */

import { FAN, RING } from "./boxes";
import type { Compass } from "./compass";
import { lettering, polyline, shape } from "./dom";

/** Gain as a radius: from the middle outwards. */
export interface Radial {
  low: number;
  high: number;
  radius: number;
}

/** The fan spans so many decibels, the ring at least so many; each has three rings. */
const FAN_SPAN = 30;
const LEAST_STEP = 2;
const DEEPEST = 25;
const RINGS = 3;

export function fanScale(highest: number): Radial {
  const high = 5 * Math.ceil((highest + 0.1) / 5);
  return { low: high - FAN_SPAN, high, radius: FAN.radius };
}

export function ringScale(lowest: number, highest: number): Radial {
  const high = Math.ceil(highest + 0.1);
  const step = Math.max(LEAST_STEP, Math.ceil((high - Math.max(lowest, high - DEEPEST)) / 2));
  return { low: high - RINGS * step, high, radius: RING.radius };
}

export function radius(gain: number, scale: Radial): number {
  return scale.radius * Math.max(0, (gain - scale.low) / (scale.high - scale.low));
}

/** Path of gains at angles [deg] that are counted from the right against the clock. */
export function polarPath(
  angles: ArrayLike<number>,
  gains: ArrayLike<number>,
  scale: Radial,
  middle: { x: number; y: number },
  closed = false,
): string {
  const points = new Float64Array(2 * angles.length);
  for (let i = 0; i < angles.length; i++) {
    const [turn, long] = [(angles[i]! * Math.PI) / 180, radius(gains[i]!, scale)];
    points[2 * i] = middle.x + long * Math.cos(turn);
    points[2 * i + 1] = middle.y - long * Math.sin(turn);
  }
  return polyline(points, closed);
}

export function rings(scale: Radial): { level: number; long: number }[] {
  const step = (scale.high - scale.low) / RINGS;
  return Array.from({ length: RINGS }, (_, k) => {
    const level = scale.low + step * (k + 1);
    return { level, long: radius(level, scale) };
  });
}

function level(value: number): string {
  return String(value).replace("-", "−");
}

/** Arcs of the fan with their gains, on the ground line. */
export function fanGround(scale: Radial, sides: readonly [string, string]): SVGElement[] {
  const { x, y, radius: far } = FAN;
  const found = [shape("path", { class: "axis", d: `M${x - far - 12} ${y}H${x + far + 12}` })];
  for (const { level: gain, long } of rings(scale)) {
    const arc = `A${long} ${long} 0 0 1 ${x + long} ${y}`;
    found.push(shape("path", { class: "grid", d: `M${x - long} ${y}${arc}` }));
    const at = { class: "tick", "text-anchor": "middle", x: x + long, y: y + 15 };
    found.push(lettering(at, level(gain)));
  }
  sides.forEach((side, k) => {
    const at = x + (k ? -1 : 1) * (far + 14);
    found.push(lettering({ class: "name", "text-anchor": "middle", x: at, y: y - 6 }, side));
  });
  return found;
}

/** Rings with their gains, and strokes around them every 30 degrees from the top. */
export function ringGround(scale: Radial, compass: Compass): SVGElement[] {
  const { x, y, radius: far } = RING;
  const found: SVGElement[] = [];
  for (const { level: gain, long } of rings(scale)) {
    found.push(shape("circle", { class: "grid", cx: x, cy: y, r: long }));
    // Between the directions that have names, and off a needle that points at one of them.
    const [px, py] = onRing(45, long);
    const at = { class: "tick", x: (px + 2).toFixed(1), y: (py + 3).toFixed(1) };
    found.push(lettering(at, level(gain)));
  }
  let strokes = "";
  for (let turn = 0; turn < 360; turn += 30) strokes += stroke(turn);
  found.push(shape("path", { class: "compass", d: strokes }));
  for (const azimuth of compass.marks) {
    const [px, py] = onRing(compass.turn(azimuth), far + 16);
    const at = { class: "name", "text-anchor": "middle", x: px.toFixed(1), y: (py + 5).toFixed(1) };
    found.push(lettering(at, compass.name(azimuth)));
  }
  return found;
}

/** Place of the ring at an angle from the right [deg] and a distance from its middle. */
export function onRing(angle: number, long: number): readonly [number, number] {
  const turn = (angle * Math.PI) / 180;
  return [RING.x + long * Math.cos(turn), RING.y - long * Math.sin(turn)];
}

function stroke(turn: number): string {
  return polyline([...onRing(turn, RING.radius + 2), ...onRing(turn, RING.radius + 7)]);
}
