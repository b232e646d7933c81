/** Series impedances on ports as linear algebra: what `pipeline/circuit/port_algebra.py` does. */

import { vector, type Vector } from "./payload";

/**
 * Voltages left across some ports once one volt and series impedances act, w of (I + Z Y) w = v.
 *
 * Rows are divided by 1 + |Z|, so that an open port spoils no pivot. One object holds the room for
 * all solves: nothing is made anew while a reader drags something.
 */
export class Network {
  private readonly matrix: Vector;
  /** Voltages of the last solve, one for each active port. */
  readonly w: Vector;

  constructor(most: number) {
    this.matrix = vector(most * most);
    this.w = vector(most);
  }

  /**
   * Solves for `n` active ports; `y` (n x n) and `z` (n) stand in order of them, the source of one
   * volt at the one numbered `feed`.
   */
  solve(n: number, y: Vector, z: Vector, feed: number): Vector {
    const { re, im } = this.matrix;
    for (let i = 0; i < n; i++) {
      const zr = z.re[i]!;
      const zi = z.im[i]!;
      const scale = 1 / (1 + Math.hypot(zr, zi));
      for (let j = 0; j < n; j++) {
        const yr = y.re[i * n + j]!;
        const yi = y.im[i * n + j]!;
        re[i * n + j] = scale * (zr * yr - zi * yi) + (i === j ? scale : 0);
        im[i * n + j] = scale * (zr * yi + zi * yr);
      }
      this.w.re[i] = i === feed ? scale : 0;
      this.w.im[i] = 0;
    }
    this.eliminate(n);
    this.substitute(n);
    return this.w;
  }

  /** Gaussian elimination with the largest pivot of each column. */
  private eliminate(n: number): void {
    const { re, im } = this.matrix;
    const { re: br, im: bi } = this.w;
    for (let k = 0; k < n; k++) {
      this.pivot(n, k);
      const pr = re[k * n + k]!;
      const pi = im[k * n + k]!;
      const size = pr * pr + pi * pi;
      for (let i = k + 1; i < n; i++) {
        const ar = re[i * n + k]!;
        const ai = im[i * n + k]!;
        const fr = (ar * pr + ai * pi) / size;
        const fi = (ai * pr - ar * pi) / size;
        if (fr === 0 && fi === 0) continue;
        for (let j = k + 1; j < n; j++) {
          const ur = re[k * n + j]!;
          const ui = im[k * n + j]!;
          re[i * n + j]! -= fr * ur - fi * ui;
          im[i * n + j]! -= fr * ui + fi * ur;
        }
        br[i]! -= fr * br[k]! - fi * bi[k]!;
        bi[i]! -= fr * bi[k]! + fi * br[k]!;
      }
    }
  }

  private pivot(n: number, k: number): void {
    const { re, im } = this.matrix;
    let best = k;
    let size = -1;
    for (let i = k; i < n; i++) {
      const found = re[i * n + k]! ** 2 + im[i * n + k]! ** 2;
      if (found > size) [best, size] = [i, found];
    }
    if (best === k) return;
    for (let j = k; j < n; j++) {
      swap(re, best * n + j, k * n + j);
      swap(im, best * n + j, k * n + j);
    }
    swap(this.w.re, best, k);
    swap(this.w.im, best, k);
  }

  private substitute(n: number): void {
    const { re, im } = this.matrix;
    const { re: br, im: bi } = this.w;
    for (let i = n - 1; i >= 0; i--) {
      let sr = br[i]!;
      let si = bi[i]!;
      for (let j = i + 1; j < n; j++) {
        sr -= re[i * n + j]! * br[j]! - im[i * n + j]! * bi[j]!;
        si -= re[i * n + j]! * bi[j]! + im[i * n + j]! * br[j]!;
      }
      const pr = re[i * n + i]!;
      const pi = im[i * n + i]!;
      const size = pr * pr + pi * pi;
      br[i] = (sr * pr + si * pi) / size;
      bi[i] = (si * pr - sr * pi) / size;
    }
  }
}

function swap(values: Float64Array, i: number, j: number): void {
  const kept = values[i]!;
  values[i] = values[j]!;
  values[j] = kept;
}
