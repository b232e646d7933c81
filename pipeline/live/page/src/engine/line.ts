/** The inside of the cable: what `pipeline/circuit/line.py` does, one frequency at a time. */

import type { Complex } from "../contract";

/** A length of one class of cable; `grows` says how its length goes with the choke's place. */
export interface Piece {
  z0: number;
  velocity: number;
  k1: number;
  k2: number;
  length: number;
  grows: number;
}

/** The cable from the antenna to the radio with its connectors [dB], for a choke at `at` [m]. */
export interface Line {
  pieces: readonly Piece[];
  connectors: number;
  at: number;
  /** Whether the choke brings cable of its own. */
  own: boolean;
}

/** What the radio sees of it: impedance [ohm], and loss on the way [dB]. */
export interface RadioEnd {
  z: Complex;
  loss: number;
}

const SPEED_OF_LIGHT = 299_792_458;
const DB_PER_NEPER = 20 / Math.LN10;
const LEAST_RESISTANCE = 1e-3;
const LARGEST_GAMMA = 1 - 1e-9;

/** Product of two complex numbers. */
export function times(a: Complex, b: Complex): Complex {
  return [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]];
}

/** Quotient of two complex numbers. */
export function over(a: Complex, b: Complex): Complex {
  const size = b[0] * b[0] + b[1] * b[1];
  return [(a[0] * b[0] + a[1] * b[1]) / size, (a[1] * b[0] - a[0] * b[1]) / size];
}

/** Impedance of a load that takes power, its resistance a milliohm where it came out less. */
export function absorbing(z: Complex): Complex {
  return [Math.max(z[0], LEAST_RESISTANCE), z[1]];
}

/** Power that one volt drives into a load with a current [A]. */
export function powerIn(current: Complex): number {
  const square = current[0] ** 2 + current[1] ** 2;
  return 0.5 * Math.max(current[0], LEAST_RESISTANCE * square);
}

/** Standing wave ratio of an impedance on a line. */
export function swrOn(z: Complex, z0: number): number {
  const gamma = reflection(z, z0);
  const size = Math.min(Math.hypot(gamma[0], gamma[1]), LARGEST_GAMMA);
  return (1 + size) / (1 - size);
}

/** Impedance at the radio and loss of a line, with an antenna of `zFeed` at its near end. */
export function throughLine(line: Line, position: number, f: number, zFeed: Complex): RadioEnd {
  let z = absorbing(zFeed);
  let loss = line.connectors;
  for (const piece of line.pieces) {
    const length = piece.length + piece.grows * (position - line.at);
    const alpha = (piece.k1 * Math.sqrt(f) + piece.k2 * f) / DB_PER_NEPER;
    const beta = (2 * Math.PI * f) / (piece.velocity * SPEED_OF_LIGHT);
    loss += lossOf(z, piece.z0, alpha * length, beta * length);
    z = seenThrough(z, piece.z0, alpha * length, beta * length);
  }
  return { z, loss };
}

function reflection(z: Complex, z0: number): Complex {
  return over([z[0] - z0, z[1]], [z[0] + z0, z[1]]);
}

function seenThrough(z: Complex, z0: number, nepers: number, radians: number): Complex {
  const fade = Math.exp(-2 * nepers);
  const turn: Complex = [fade * Math.cos(2 * radians), -fade * Math.sin(2 * radians)];
  const back = times(reflection(z, z0), turn);
  const found = over([1 + back[0], back[1]], [1 - back[0], -back[1]]);
  return [z0 * found[0], z0 * found[1]];
}

/** Power in over power into the load [dB], mismatch at the load counted. */
function lossOf(z: Complex, z0: number, nepers: number, radians: number): number {
  const [c, s] = [Math.cos(radians), Math.sin(radians)];
  const cosh: Complex = [Math.cosh(nepers) * c, Math.sinh(nepers) * s];
  const sinh: Complex = [Math.sinh(nepers) * c, Math.cosh(nepers) * s];
  const across = times(z, cosh);
  const along = times(z, sinh);
  const volt: Complex = [across[0] + z0 * sinh[0], across[1] + z0 * sinh[1]];
  const current: Complex = [cosh[0] + along[0] / z0, cosh[1] + along[1] / z0];
  return 10 * Math.log10((volt[0] * current[0] + volt[1] * current[1]) / z[0]);
}
