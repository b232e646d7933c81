/** One solved drawing: its segments, and the currents that one volt at each port makes. */

import { vector, type Payload, type Vector } from "./payload";

/** A port: the segments driven together, and which stretch of the cable it covers [m]. */
export interface Port {
  name: string;
  segments: readonly number[];
  span: readonly [number, number] | null;
}

/** Plain data of a geometry, as `pipeline/live/payload.py` writes it. */
export interface GeometryData {
  ports: readonly Port[];
  near: readonly number[];
  loaded: readonly number[];
  parts: readonly string[];
  beside: readonly (readonly [number, readonly number[]])[];
}

/** Straight pieces that carry one current each: ends as x, y, z [m], radius [m], part's name. */
export interface Segments {
  count: number;
  start: Float64Array;
  end: Float64Array;
  radius: Float32Array;
  part: string[];
}

/** Nodes lie on this grid [m]. */
const GRID = 2 ** -20;

export class Geometry {
  readonly ports: readonly Port[];
  readonly segments: Segments;
  /** Currents of all segments per volt, port by port [A/V]. */
  readonly current: Vector;
  /** Port matrix at the design frequency, row by row [S]. */
  readonly y: Vector;
  /** Impedance that ports have by themselves at every told frequency [ohm], of those `loaded`. */
  readonly fixed: Vector;
  readonly loaded: readonly number[];
  readonly feed: number;
  /** Segments along the shield, what carries current beside each, and places along it [m]. */
  readonly path: Float64Array;
  readonly along: Float64Array;
  readonly beside: ReadonlyMap<number, readonly number[]>;
  private readonly change: Vector;
  private readonly share: Vector;

  constructor(data: GeometryData, payload: Payload, name: string) {
    const of = (key: string): string => `${name}/${key}`;
    this.ports = data.ports;
    this.loaded = data.loaded;
    this.feed = this.portIndex("feed");
    this.segments = segmentsOf(data, payload, name);
    this.current = this.currents(data.near, payload, name);
    this.y = this.portMatrix();
    this.fixed = payload.complex(of("fixed"));
    this.path = payload.numbers(of("path"));
    this.along = payload.numbers(of("along"));
    this.beside = new Map(data.beside);
    this.change = payload.complex(of("change"));
    this.share = payload.complex(of("share"));
  }

  /** Index of a port, -1 where there is none of that name. */
  portIndex(name: string): number {
    return this.ports.findIndex((port) => port.name === name);
  }

  /** Port matrix of some ports at a told frequency, row by row into `found`. */
  yAt(told: number, active: readonly number[], found: Vector): void {
    const { change, share, y } = this;
    const n = this.ports.length;
    const size = n * n;
    const solved = change.re.length / size;
    let at = 0;
    for (const i of active) {
      for (const j of active) {
        const place = i * n + j;
        let re = y.re[place]!;
        let im = y.im[place]!;
        for (let s = 0; s < solved; s++) {
          const part = told * solved + s;
          const cr = change.re[s * size + place]!;
          const ci = change.im[s * size + place]!;
          re += share.re[part]! * cr - share.im[part]! * ci;
          im += share.re[part]! * ci + share.im[part]! * cr;
        }
        found.re[at] = re;
        found.im[at++] = im;
      }
    }
  }

  /** Port matrix of some ports at the design frequency, row by row into `found`. */
  yDesign(active: readonly number[], found: Vector): void {
    const n = this.ports.length;
    let at = 0;
    for (const i of active) {
      for (const j of active) {
        found.re[at] = this.y.re[i * n + j]!;
        found.im[at++] = this.y.im[i * n + j]!;
      }
    }
  }

  private currents(near: readonly number[], payload: Payload, name: string): Vector {
    const [own, mix, large, small] = ["near_current", "mix", "pattern", "small_pattern"].map(
      (key) => payload.complex(`${name}/${key}`),
    ) as [Vector, Vector, Vector, Vector];
    const pattern = behind(large, small);
    const [n, ports] = [this.segments.count, this.ports.length];
    const isNear = new Set(near);
    const rest = Array.from({ length: n }, (_, k) => k).filter((k) => !isNear.has(k));
    const count = mix.re.length / ports;
    const found = vector(ports * n);
    for (let p = 0; p < ports; p++) {
      near.forEach((segment, k) => {
        found.re[p * n + segment] = own.re[p * near.length + k]!;
        found.im[p * n + segment] = own.im[p * near.length + k]!;
      });
      for (let r = 0; r < count; r++) {
        const mr = mix.re[p * count + r]!;
        const mi = mix.im[p * count + r]!;
        rest.forEach((segment, k) => {
          const vr = pattern.re[r * rest.length + k]!;
          const vi = pattern.im[r * rest.length + k]!;
          found.re[p * n + segment]! += mr * vr - mi * vi;
          found.im[p * n + segment]! += mr * vi + mi * vr;
        });
      }
    }
    return found;
  }

  private portMatrix(): Vector {
    const [n, count] = [this.ports.length, this.segments.count];
    const found = vector(n * n);
    this.ports.forEach((port, i) => {
      for (let j = 0; j < n; j++) {
        for (const segment of port.segments) {
          found.re[i * n + j]! += this.current.re[j * count + segment]!;
          found.im[i * n + j]! += this.current.im[j * count + segment]!;
        }
      }
    });
    return found;
  }
}

/** Numbers of one and then of another. */
function behind(first: Vector, second: Vector): Vector {
  const found = vector(first.re.length + second.re.length);
  for (const part of ["re", "im"] as const) {
    found[part].set(first[part]);
    found[part].set(second[part], first[part].length);
  }
  return found;
}

/** Segments of the wires, cut as `Structure.segments` cuts them. */
function segmentsOf(data: GeometryData, payload: Payload, name: string): Segments {
  const [steps, pieces, radius, part] = ["steps", "pieces", "radius", "part"].map((key) =>
    payload.numbers(`${name}/${key}`),
  ) as [Float64Array, Float64Array, Float64Array, Float64Array];
  const count = pieces.reduce((sum, each) => sum + each, 0);
  const found: Segments = {
    ...{ count, start: new Float64Array(3 * count), end: new Float64Array(3 * count) },
    ...{ radius: new Float32Array(count), part: [] },
  };
  const node = [0, 0, 0];
  let at = 0;
  pieces.forEach((cuts, wire) => {
    const ends = [0, 1].map((end) =>
      node.map((_, axis) => GRID * (node[axis]! += steps[6 * wire + 3 * end + axis]!)),
    ) as [number[], number[]];
    for (let k = 0; k < cuts; k++, at++) {
      found.radius[at] = radius[wire]!;
      found.part.push(data.parts[part[wire]!]!);
      for (let axis = 0; axis < 3; axis++) {
        const [from, to] = [ends[0][axis]!, ends[1][axis]!];
        found.start[3 * at + axis] = between(from, to, k / cuts);
        found.end[3 * at + axis] = between(from, to, (k + 1) / cuts);
      }
    }
  });
  return found;
}

function between(from: number, to: number, share: number): number {
  return from * (1 - share) + to * share;
}
