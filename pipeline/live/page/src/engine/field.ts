/**
 * Far field of every port per volt: what `pipeline/solver/far_field.py` does.
 *
 * The page carries currents and no fields. What of a field no port changes is found once, port by
 * port the rest when it is first asked for: leaning segments by the patterns that their currents
 * are made of, upright ones column by column.
 */

import type { Complex } from "../contract";
import type { Geometry } from "./geometry";
import { over, times } from "./line";
import { vector, type Vector } from "./payload";

const EPS_0 = 8.854e-12;
const SPEED_OF_LIGHT = 1 / Math.sqrt(4e-7 * Math.PI * EPS_0);
/** Impedance of free space as NEC-2 has it [ohm]. */
export const ETA = Math.sqrt((4e-7 * Math.PI) / EPS_0);

/** Directions of a grid: polar angles and azimuths [rad], and the soil below, if there is one. */
export interface Sky {
  theta: Float64Array;
  phi: Float64Array;
  frequency: number;
  soil: readonly [number, number] | null;
}

/** A segment's middle, direction and length, and a column of those above each other. */
interface Piece {
  index: number;
  centre: readonly [number, number, number];
  direction: readonly [number, number, number];
  length: number;
}

export class Fields {
  private readonly k: number;
  private readonly upright: UprightBasis;
  private readonly leaning: Piece[];
  private readonly known = new Map<number, readonly [Vector, Vector]>();
  /** Reflection of the ground for each polar angle, of the vertical and the horizontal part. */
  private readonly ground: readonly (readonly [Complex, Complex])[];
  private readonly lean: LeaningBasis;
  /** Polar angles that are worked through. */
  private done = 0;

  constructor(
    geometry: Geometry,
    private readonly sky: Sky,
  ) {
    this.k = (2 * Math.PI * sky.frequency) / SPEED_OF_LIGHT;
    const pieces = piecesOf(geometry);
    const isUpright = (p: Piece): boolean => p.direction[0] === 0 && p.direction[1] === 0;
    this.upright = new UprightBasis(geometry, sky, this.k, pieces.filter(isUpright));
    this.leaning = pieces.filter((p) => !isUpright(p));
    this.ground = Array.from(sky.theta, (theta) => reflections(theta, sky));
    this.lean = new LeaningBasis(geometry, this.leaning);
  }

  /** Polar and azimuthal field of one volt at a port, polar angle slowest [V/V]. */
  of(port: number): readonly [Vector, Vector] {
    const known = this.known.get(port);
    if (known) return known;
    this.prepare();
    const size = this.sky.theta.length * this.sky.phi.length;
    const found = [vector(size), vector(size)] as const;
    this.lean.add(port, found);
    this.upright.add(port, found[0]);
    const factor = (-this.k * ETA) / (4 * Math.PI);
    for (const { re, im } of found) {
      for (let i = 0; i < size; i++) {
        const kept = re[i]!;
        // Times -j k eta / 4 pi.
        re[i] = -factor * im[i]!;
        im[i] = factor * kept;
      }
    }
    this.known.set(port, found);
    return found;
  }

  /** Work that all ports share, for so many milliseconds; whether there is more of it. */
  prepare(atMost = Infinity): boolean {
    const { theta, phi } = this.sky;
    if (this.done === 0) {
      this.lean.begin(theta.length * phi.length);
      this.upright.begin(this.ground.map(([vertical]) => vertical));
    }
    const end = performance.now() + atMost;
    for (; this.done < theta.length && performance.now() < end; this.done++) {
      for (let j = 0; j < phi.length; j++) this.leanTowards(this.done, j);
    }
    return this.done < theta.length;
  }

  /** Responses of all leaning segments in one direction. */
  private leanTowards(i: number, j: number): void {
    const { theta, phi } = this.sky;
    const sin = Math.sin(theta[i]!);
    const cos = Math.cos(theta[i]!);
    const out = Math.cos(phi[j]!);
    const aside = Math.sin(phi[j]!);
    const [[vr, vi], [hr, hi]] = this.ground[i]!;
    const { k, lean } = this;
    lean.at = i * phi.length + j;
    for (let s = 0; s < this.leaning.length; s++) {
      const { centre, direction, length } = this.leaning[s]!;
      const ahead = out * direction[0] + aside * direction[1];
      const beside = out * direction[1] - aside * direction[0];
      const level = 0.5 * k * length * sin * ahead;
      const upward = 0.5 * k * length * cos * direction[2];
      const across = sin * k * (out * centre[0] + aside * centre[1]);
      const up = k * cos * centre[2];
      const above = length * sinc(level + upward);
      const below = length * sinc(level - upward);
      const dr = above * Math.cos(across + up);
      const di = above * Math.sin(across + up);
      // The image of a current: same vertical, reversed horizontal part, mirrored place.
      const mr = below * Math.cos(across - up);
      const mi = below * Math.sin(across - up);
      const a = cos * ahead - sin * direction[2];
      const b = cos * ahead + sin * direction[2];
      lean.put(
        s,
        dr * a - (vr * mr - vi * mi) * b,
        di * a - (vr * mi + vi * mr) * b,
        (dr + hr * mr - hi * mi) * beside,
        (di + hr * mi + hi * mr) * beside,
      );
    }
    lean.sum();
  }
}

/** Upright segments, column by column: what of their fields no port changes. */
class UprightBasis {
  private readonly columns: Piece[][];
  /** Weight of every piece for each polar angle, and phase of every column in each direction. */
  private weight: Vector = vector(0);
  private phase: Vector = vector(0);

  constructor(
    private readonly geometry: Geometry,
    private readonly sky: Sky,
    private readonly k: number,
    pieces: readonly Piece[],
  ) {
    this.columns = columns(pieces);
  }

  /** `vertical` are reflections of the ground for each polar angle. */
  begin(vertical: readonly Complex[]): void {
    const { theta, phi } = this.sky;
    const { k } = this;
    const count = this.columns.reduce((sum, column) => sum + column.length, 0);
    this.weight = vector(theta.length * count);
    this.phase = vector(theta.length * this.columns.length * phi.length);
    let at = 0;
    let place = 0;
    theta.forEach((polar, i) => {
      const [vr, vi] = vertical[i]!;
      const [sin, cos] = [Math.sin(polar), Math.cos(polar)];
      for (const column of this.columns) {
        for (const piece of column) {
          const rise = piece.direction[2] * piece.length;
          const up = k * cos * piece.centre[2];
          const size = -sin * rise * sinc(0.5 * k * cos * rise);
          const [c, s] = [Math.cos(up), Math.sin(up)];
          this.weight.re[at] = size * (c + vr * c + vi * s);
          this.weight.im[at++] = size * (s + vi * c - vr * s);
        }
        const [x, y] = column[0]!.centre;
        for (const azimuth of phi) {
          const across = k * sin * (Math.cos(azimuth) * x + Math.sin(azimuth) * y);
          this.phase.re[place] = Math.cos(across);
          this.phase.im[place++] = Math.sin(across);
        }
      }
    });
  }

  /** Adds the polar field of a port's currents on upright segments. */
  add(port: number, found: Vector): void {
    const { weight, phase, geometry, sky } = this;
    const { re, im } = geometry.current;
    const first = port * geometry.segments.count;
    const around = sky.phi.length;
    let at = 0;
    let place = 0;
    for (let i = 0; i < sky.theta.length; i++) {
      for (const column of this.columns) {
        let sr = 0;
        let si = 0;
        for (const { index } of column) {
          const cr = re[first + index]!;
          const ci = im[first + index]!;
          sr += weight.re[at]! * cr - weight.im[at]! * ci;
          si += weight.re[at]! * ci + weight.im[at]! * cr;
          at++;
        }
        for (let j = i * around; j < (i + 1) * around; j++, place++) {
          found.re[j]! += sr * phase.re[place]! - si * phase.im[place]!;
          found.im[j]! += sr * phase.im[place]! + si * phase.re[place]!;
        }
      }
    }
  }
}

/** Fields of the patterns of current on leaning segments, and of each of them with a port. */
class LeaningBasis {
  /** Direction that is worked on. */
  at = 0;
  private readonly patterns: Vector;
  private readonly mix: Vector;
  private readonly count: number;
  private readonly response: Float64Array;
  private polar: Vector[] = [];
  private azimuthal: Vector[] = [];

  constructor(geometry: Geometry, leaning: readonly Piece[]) {
    const [ports, n] = [geometry.ports.length, geometry.segments.count];
    const currents = vector(ports * leaning.length);
    for (let p = 0; p < ports; p++) {
      leaning.forEach((piece, k) => {
        currents.re[p * leaning.length + k] = geometry.current.re[p * n + piece.index]!;
        currents.im[p * leaning.length + k] = geometry.current.im[p * n + piece.index]!;
      });
    }
    const found = patternsOf(currents, ports, leaning.length);
    this.patterns = found.patterns;
    this.mix = found.mix;
    this.count = found.count;
    this.response = new Float64Array(4 * leaning.length);
  }

  begin(size: number): void {
    this.polar = Array.from({ length: this.count }, () => vector(size));
    this.azimuthal = Array.from({ length: this.count }, () => vector(size));
  }

  put(s: number, tr: number, ti: number, pr: number, pi: number): void {
    this.response[4 * s] = tr;
    this.response[4 * s + 1] = ti;
    this.response[4 * s + 2] = pr;
    this.response[4 * s + 3] = pi;
  }

  /** Field of every pattern in the direction that is worked on. */
  sum(): void {
    const { patterns, response, at } = this;
    const n = response.length / 4;
    const { re, im } = patterns;
    for (let r = 0; r < this.count; r++) {
      let tr = 0;
      let ti = 0;
      let pr = 0;
      let pi = 0;
      for (let s = 0, at = r * n; s < n; s++, at++) {
        const cr = re[at]!;
        const ci = im[at]!;
        const ar = response[4 * s]!;
        const ai = response[4 * s + 1]!;
        const br = response[4 * s + 2]!;
        const bi = response[4 * s + 3]!;
        tr += cr * ar - ci * ai;
        ti += cr * ai + ci * ar;
        pr += cr * br - ci * bi;
        pi += cr * bi + ci * br;
      }
      this.polar[r]!.re[at] = tr;
      this.polar[r]!.im[at] = ti;
      this.azimuthal[r]!.re[at] = pr;
      this.azimuthal[r]!.im[at] = pi;
    }
  }

  /** Adds the field of a port's currents on leaning segments. */
  add(port: number, found: readonly [Vector, Vector]): void {
    for (let r = 0; r < this.count; r++) {
      const part = port * this.count + r;
      const [mr, mi] = [this.mix.re[part]!, this.mix.im[part]!];
      if (mr === 0 && mi === 0) continue;
      addTo(found[0], mr, mi, this.polar[r]!);
      addTo(found[1], mr, mi, this.azimuthal[r]!);
    }
  }
}

/** Adds a complex number of times one vector to another. */
export function addTo(sum: Vector, re: number, im: number, part: Vector): void {
  const [sr, si, pr, pi] = [sum.re, sum.im, part.re, part.im];
  for (let i = 0; i < sr.length; i++) {
    sr[i]! += re * pr[i]! - im * pi[i]!;
    si[i]! += re * pi[i]! + im * pr[i]!;
  }
}

/** Patterns are dropped that are smaller than the largest row by so much. */
const SMALLEST = 1e-10;

/**
 * Few patterns whose sums the rows of a matrix are: rows one by one, the largest remainder first,
 * made square to those before (Gram and Schmidt, twice for the sake of rounding).
 */
function patternsOf(
  rows: Vector,
  count: number,
  length: number,
): { patterns: Vector; mix: Vector; count: number } {
  const rest: Vector = { re: rows.re.slice(), im: rows.im.slice() };
  const made: Vector[] = [];
  const parts: Vector[] = [];
  let first = 0;
  while (made.length < Math.min(count, length)) {
    const [row, size] = largest(rest, count, length);
    if (made.length === 0) first = size;
    if (size <= SMALLEST * first || size === 0) break;
    const one = vector(length);
    for (let k = 0; k < length; k++) {
      one.re[k] = rest.re[row * length + k]! / size;
      one.im[k] = rest.im[row * length + k]! / size;
    }
    made.push(one);
    parts.push(takeOut(rest, one, count, length));
  }
  const [patterns, mix] = [vector(made.length * length), vector(count * made.length)];
  made.forEach((one, r) => {
    patterns.re.set(one.re, r * length);
    patterns.im.set(one.im, r * length);
    for (let p = 0; p < count; p++) {
      mix.re[p * made.length + r] = parts[r]!.re[p]!;
      mix.im[p * made.length + r] = parts[r]!.im[p]!;
    }
  });
  return { patterns, mix, count: made.length };
}

function largest(rows: Vector, count: number, length: number): [number, number] {
  let [best, most] = [0, -1];
  for (let p = 0; p < count; p++) {
    let sum = 0;
    for (let k = p * length; k < (p + 1) * length; k++) {
      sum += rows.re[k]! * rows.re[k]! + rows.im[k]! * rows.im[k]!;
    }
    if (sum > most) [best, most] = [p, sum];
  }
  return [best, Math.sqrt(most)];
}

/** Takes a pattern out of all rows; how much of it was in each. */
function takeOut(rows: Vector, one: Vector, count: number, length: number): Vector {
  const found = vector(count);
  for (let p = 0; p < count; p++) {
    for (let again = 0; again < 2; again++) {
      let re = 0;
      let im = 0;
      for (let k = 0; k < length; k++) {
        const ar = rows.re[p * length + k]!;
        const ai = rows.im[p * length + k]!;
        re += ar * one.re[k]! + ai * one.im[k]!;
        im += ai * one.re[k]! - ar * one.im[k]!;
      }
      for (let k = 0; k < length; k++) {
        rows.re[p * length + k]! -= re * one.re[k]! - im * one.im[k]!;
        rows.im[p * length + k]! -= re * one.im[k]! + im * one.re[k]!;
      }
      found.re[p]! += re;
      found.im[p]! += im;
    }
  }
  return found;
}

function piecesOf(geometry: Geometry): Piece[] {
  const { start, end, count } = geometry.segments;
  return Array.from({ length: count }, (_, index) => {
    const at = 3 * index;
    const step = [0, 1, 2].map((axis) => end[at + axis]! - start[at + axis]!);
    const length = Math.hypot(...step);
    const centre = [0, 1, 2].map((axis) => 0.5 * (start[at + axis]! + end[at + axis]!));
    const direction = step.map((part) => part / length);
    return { index, length, centre, direction } as unknown as Piece;
  });
}

function columns(pieces: readonly Piece[]): Piece[][] {
  const found = new Map<string, Piece[]>();
  for (const piece of pieces) {
    const key = `${piece.centre[0]} ${piece.centre[1]}`;
    const column = found.get(key);
    if (column) column.push(piece);
    else found.set(key, [piece]);
  }
  return [...found.values()];
}

/** Plane-wave reflection of the soil, for the vertical and the horizontal part of a field. */
function reflections(theta: number, sky: Sky): readonly [Complex, Complex] {
  if (!sky.soil) return [[0, 0], [0, 0]];
  const [eps, sigma] = sky.soil;
  const grazing = Math.PI / 2 - theta;
  const n2: Complex = [eps, -sigma / (2 * Math.PI * sky.frequency * EPS_0)];
  if (n2[0] === 1 && n2[1] === 0) return [[0, 0], [0, 0]];
  const sin = Math.sin(grazing);
  const root = squareRoot([n2[0] - Math.cos(grazing) ** 2, n2[1]]);
  const tall = times(n2, [sin, 0]);
  return [
    over([tall[0] - root[0], tall[1] - root[1]], [tall[0] + root[0], tall[1] + root[1]]),
    over([sin - root[0], -root[1]], [sin + root[0], root[1]]),
  ];
}

function squareRoot(z: Complex): Complex {
  const size = Math.hypot(z[0], z[1]);
  const re = Math.sqrt(0.5 * (size + Math.abs(z[0])));
  const im = re ? z[1] / (2 * re) : 0;
  if (z[0] >= 0) return [re, im];
  return [Math.abs(im), z[1] < 0 ? -re : re];
}

/** sin x / x, for small angles by its series. */
function sinc(x: number): number {
  const square = x * x;
  if (square > 0.25) return Math.sin(x) / x;
  let found = 1 - square / 110;
  for (const divisor of [72, 42, 20, 6]) found = 1 - (square / divisor) * found;
  return found;
}
