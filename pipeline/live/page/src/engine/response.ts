/** Response of a loaded geometry: voltages of its ports, and all that follows from them. */

import type { Complex, OverBand } from "../contract";
import { ETA, type Fields } from "./field";
import type { Geometry } from "./geometry";
import { absorbing, over, powerIn, swrOn, throughLine, type RadioEnd } from "./line";
import type { Loading } from "./loading";
import { Network } from "./network";
import { vector, type Vector } from "./payload";

/** Port voltages at one frequency; the arrays stand in order of `active`. */
export interface Driven {
  active: readonly number[];
  w: Vector;
  /** Impedance in series with each active port [ohm]. */
  z: Vector;
}

/** Impedance that a usual radio expects [ohm]. */
export const RADIO_OHM = 50;

export class Solver {
  private readonly network: Network;
  private readonly y: Vector;
  private readonly z: Vector;

  constructor(most: number) {
    this.network = new Network(most);
    this.y = vector(most * most);
    this.z = vector(most);
  }

  /** Voltages at a told frequency; at the `design` one from the whole port matrix. */
  drive(loading: Loading, active: readonly number[], told: number, isDesign: boolean): Driven {
    const { geometry } = loading;
    if (isDesign) geometry.yDesign(active, this.y);
    else geometry.yAt(told, active, this.y);
    seriesOf(loading, active, told, this.z);
    const n = active.length;
    const w = this.network.solve(n, this.y, this.z, active.indexOf(geometry.feed));
    return { active, w, z: this.z };
  }

  /** Match and current at the radio at some told frequencies [Hz]. */
  overBand(loading: Loading, frequency: Float64Array, z0: number): OverBand {
    const active = activePorts(loading);
    const n = active.length;
    const feed = active.indexOf(loading.geometry.feed);
    const station = active.indexOf(loading.geometry.portIndex("station"));
    const whole = loading.geometry.portIndex("station");
    const found = emptyBand(frequency.length);
    frequency.forEach((f, told) => {
      const { w } = this.drive(loading, active, told, false);
      const current = rowTimes(this.y, feed, n, w);
      // Where the radio's end is shorted it is no active port, and its row was not formed.
      const there = station >= 0 ? rowTimes(this.y, station, n, w) : null;
      const far = there ?? portCurrent(loading.geometry, whole, told, active, w);
      tell(found, told, { f, z: over([1, 0], current), z0, loading });
      found.station[told] = Math.hypot(...far) / Math.hypot(...current);
    });
    return found;
  }
}

/** Arrays of a band, to be filled. */
export function emptyBand(length: number): OverBand {
  const made = (): Float64Array => new Float64Array(length);
  return {
    ...{ frequency: made(), r: made(), x: made(), swr: made() },
    ...{ swrRadio: made(), station: made() },
  };
}

interface Seen {
  f: number;
  z: Complex;
  z0: number;
  loading: Loading;
}

function tell(found: OverBand, at: number, { f, z, z0, loading }: Seen): void {
  const taken = absorbing(z);
  found.frequency[at] = f;
  found.r[at] = taken[0];
  found.x[at] = taken[1];
  found.swr[at] = swrOn(z, z0);
  found.swrRadio[at] = swrOn(throughLine(loading.line, loading.position, f, z).z, RADIO_OHM);
}

/** Ports with an impedance at any frequency, and the feed: all others are shorted. */
export function activePorts(loading: Loading): number[] {
  const { geometry, parts, rod, radio } = loading;
  const used = new Set<number>([geometry.feed, ...geometry.loaded]);
  const isThere = (z: Complex): boolean => z[0] !== 0 || z[1] !== 0;
  for (const [name, z] of [["rod", rod], ["station", radio]] as const) {
    const port = geometry.portIndex(name);
    if (port >= 0 && isThere(z)) used.add(port);
  }
  for (const part of parts) part.share.forEach((share, port) => share > 0 && used.add(port));
  return [...used].sort((a, b) => a - b);
}

/** Impedance in series with each active port at a told frequency [ohm], into `found`. */
function seriesOf(
  loading: Loading,
  active: readonly number[],
  told: number,
  found: Vector,
): void {
  const { geometry, parts, rod, radio } = loading;
  const { fixed, loaded } = geometry;
  const [rodPort, radioPort] = [geometry.portIndex("rod"), geometry.portIndex("station")];
  active.forEach((port, k) => {
    const own = loaded.indexOf(port);
    let re = own < 0 ? 0 : fixed.re[told * loaded.length + own]!;
    let im = own < 0 ? 0 : fixed.im[told * loaded.length + own]!;
    const end = port === rodPort ? rod : port === radioPort ? radio : null;
    if (end) [re, im] = [re + end[0], im + end[1]];
    for (const { kind, count, share } of parts) {
      re += count * kind.z.re[told]! * share[port]!;
      im += count * kind.z.im[told]! * share[port]!;
    }
    found.re[k] = re;
    found.im[k] = im;
  });
}

function rowTimes(y: Vector, row: number, n: number, w: Vector): Complex {
  let re = 0;
  let im = 0;
  for (let j = 0; j < n; j++) {
    const yr = y.re[row * n + j]!;
    const yi = y.im[row * n + j]!;
    re += yr * w.re[j]! - yi * w.im[j]!;
    im += yr * w.im[j]! + yi * w.re[j]!;
  }
  return [re, im];
}

const row = { y: vector(0) };

/** Current at a port that is not active, at a told frequency; none where there is no such port. */
function portCurrent(
  geometry: Geometry,
  port: number,
  told: number,
  active: readonly number[],
  w: Vector,
): Complex {
  if (port < 0) return [0, 0];
  const n = active.length + 1;
  if (row.y.re.length < n * n) row.y = vector(n * n);
  geometry.yAt(told, [port, ...active], row.y);
  let [re, im] = [0, 0];
  for (let j = 1; j < n; j++) {
    re += row.y.re[j]! * w.re[j - 1]! - row.y.im[j]! * w.im[j - 1]!;
    im += row.y.re[j]! * w.im[j - 1]! + row.y.im[j]! * w.re[j - 1]!;
  }
  return [re, im];
}

/** All that follows from port voltages at the design frequency. */
export class Response {
  /** Currents of all segments, and of all ports [A]. */
  readonly segment: Vector;
  readonly port: Vector;
  readonly feed: Complex;
  readonly input: number;
  private readonly size: number;

  constructor(
    private readonly geometry: Geometry,
    private readonly driven: Driven,
  ) {
    const { current, segments, ports } = geometry;
    const n = segments.count;
    this.segment = vector(n);
    driven.active.forEach((port, k) => {
      const wr = driven.w.re[k]!;
      const wi = driven.w.im[k]!;
      for (let s = 0, at = port * n; s < n; s++, at++) {
        this.segment.re[s]! += wr * current.re[at]! - wi * current.im[at]!;
        this.segment.im[s]! += wr * current.im[at]! + wi * current.re[at]!;
      }
    });
    this.port = vector(ports.length);
    ports.forEach((port, k) => {
      for (const segment of port.segments) {
        this.port.re[k]! += this.segment.re[segment]!;
        this.port.im[k]! += this.segment.im[segment]!;
      }
    });
    this.feed = [this.port.re[geometry.feed]!, this.port.im[geometry.feed]!];
    this.input = powerIn(this.feed);
    this.size = Math.hypot(...this.feed);
  }

  get zFeed(): Complex {
    return over([1, 0], this.feed);
  }

  /** Current of one segment or port per feed current. */
  private ratio(re: number, im: number): number {
    return Math.hypot(re, im) / this.size;
  }

  station(): number {
    const port = this.geometry.portIndex("station");
    return port < 0 ? 0 : this.ratio(this.port.re[port]!, this.port.im[port]!);
  }

  shield(): Float64Array {
    const { path, beside } = this.geometry;
    return path.map((segment) => {
      let [re, im] = [this.segment.re[segment]!, this.segment.im[segment]!];
      for (const more of beside.get(segment) ?? []) {
        re += this.segment.re[more]!;
        im += this.segment.im[more]!;
      }
      return this.ratio(re, im);
    });
  }

  wires(): Float64Array {
    return this.segment.re.map((re, s) => this.ratio(re, this.segment.im[s]!));
  }

  /** Power in impedances of `z` ohm, shared out over ports [W]. */
  heat(z: Complex, share: Float64Array): number {
    let sum = 0;
    share.forEach((part, port) => {
      sum += 0.5 * part * z[0] * (this.port.re[port]! ** 2 + this.port.im[port]! ** 2);
    });
    return sum;
  }

  /** Power per solid angle in all directions [W/sr], into `found`. */
  density(fields: Fields, found: Float64Array): void {
    const size = found.length;
    const sums = [vector(size), vector(size)];
    this.driven.active.forEach((port, k) => {
      const wr = this.driven.w.re[k]!;
      const wi = this.driven.w.im[k]!;
      const parts = fields.of(port);
      for (let p = 0; p < 2; p++) {
        const { re, im } = parts[p]!;
        const sum = sums[p]!;
        for (let i = 0; i < size; i++) {
          sum.re[i]! += wr * re[i]! - wi * im[i]!;
          sum.im[i]! += wr * im[i]! + wi * re[i]!;
        }
      }
    });
    const [a, b] = sums as [Vector, Vector];
    for (let i = 0; i < size; i++) {
      found[i] = (a.re[i]! ** 2 + a.im[i]! ** 2 + b.re[i]! ** 2 + b.im[i]! ** 2) / (2 * ETA);
    }
  }

  radio(loading: Loading, f: number): RadioEnd {
    return throughLine(loading.line, loading.position, f, this.zFeed);
  }
}
