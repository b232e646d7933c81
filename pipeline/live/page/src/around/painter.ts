/** Pieces in space on a canvas: back to front in a few slabs, each of them a few strokes. */

import type { Placed } from "./scene";

/** Degrees: about the vertical, and down from the horizontal view. */
export interface Turned {
  turn: number;
  tilt: number;
}

/** Colours as CSS has them. */
export interface Inks {
  ink: string;
  soft: string;
  paper: string;
  current: string;
}

const SLABS = 28;
const TONES = 4;
const WIDTHS = 6;
/** Widths of a wire without current and with the most [px]. */
const [THIN, THICK] = [1.2, 6];
const MARGIN = 0.97;
const RADIAN = Math.PI / 180;

/** Ends of pieces on the paper, with the slab that each lies in. */
interface Seen {
  x: Float32Array;
  y: Float32Array;
  depth: Float32Array;
}

/** Draw a scene as it is turned. */
export function paint(canvas: HTMLCanvasElement, scene: Placed, turned: Turned, inks: Inks): void {
  const context = sized(canvas);
  if (!context) return;
  const scale = (MARGIN * Math.min(canvas.width, canvas.height)) / 2 / scene.reach;
  const look = looker(turned, scale, canvas.width / 2, canvas.height / 2);
  context.clearRect(0, 0, canvas.width, canvas.height);
  context.lineCap = context.lineJoin = "round";
  const unit = canvas.width / canvas.clientWidth;
  if (scene.ground !== null) paintGround(context, scene, look, inks, unit);
  const slabs = [...emptySlabs()];
  sortRings(scene, look(scene.points), slabs, scene.reach * scale);
  sortWires(scene, look(scene.start), look(scene.end), slabs, scene.reach * scale);
  slabs.forEach((slab, k) => paintSlab(context, slab, inks, unit, 0.3 + (0.7 * k) / (SLABS - 1)));
}

/** The canvas with as many dots as its place on the screen has; nothing where it has no place. */
function sized(canvas: HTMLCanvasElement): CanvasRenderingContext2D | null {
  const [width, height] = [canvas.clientWidth, canvas.clientHeight].map((side) =>
    Math.round(side * Math.min(2, devicePixelRatio)),
  );
  if (!width || !height) return null;
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  return canvas.getContext("2d");
}

type Look = (points: Float32Array) => Seen;

/** Parallel projection: x, y on the paper and the depth towards the eye of points in a row. */
function looker(turned: Turned, scale: number, right: number, down: number): Look {
  const [c, s] = [Math.cos(turned.turn * RADIAN), Math.sin(turned.turn * RADIAN)];
  const [flat, steep] = [Math.cos(turned.tilt * RADIAN), Math.sin(turned.tilt * RADIAN)];
  return (points) => {
    const count = points.length / 3;
    const [x, y, depth] = [0, 0, 0].map(() => new Float32Array(count)) as [
      Float32Array,
      Float32Array,
      Float32Array,
    ];
    for (let n = 0; n < count; n++) {
      const [px, py, pz] = [points[3 * n]!, points[3 * n + 1]!, points[3 * n + 2]!];
      const near = c * px + s * py;
      x[n] = right + scale * (c * py - s * px);
      y[n] = down - scale * (flat * pz - steep * near);
      depth[n] = scale * (flat * near + steep * pz);
    }
    return { x, y, depth };
  };
}

/** What lies at about one depth: covers, rings by tone, wires by width. */
interface Slab {
  cover: Path2D;
  rings: Path2D[];
  wires: Path2D[];
}

function* emptySlabs(): Generator<Slab> {
  for (let k = 0; k < SLABS; k++) {
    yield {
      cover: new Path2D(),
      rings: Array.from({ length: TONES }, () => new Path2D()),
      wires: Array.from({ length: WIDTHS }, () => new Path2D()),
    };
  }
}

/** Slab of a depth, the farthest first. */
function slabOf(depth: number, reach: number): number {
  const place = Math.floor((SLABS * (depth / reach + 1)) / 2);
  return Math.min(SLABS - 1, Math.max(0, place));
}

function sortRings(scene: Placed, seen: Seen, slabs: Slab[], reach: number): void {
  const { around, level } = scene;
  const covers = sortCovers(scene, seen, slabs, reach);
  for (let n = 0; n + 1 < level.length; n++) {
    if ((n + 1) % around === 0) continue;
    // Not behind a cover that it borders.
    const own = slabOf((seen.depth[n]! + seen.depth[n + 1]!) / 2, reach);
    const slab = Math.max(own, covers[n] ?? 0, covers[n - around] ?? 0);
    const tone = Math.min(TONES - 1, Math.floor(TONES * Math.max(level[n]!, level[n + 1]!)));
    const path = slabs[slab]!.rings[tone]!;
    path.moveTo(seen.x[n]!, seen.y[n]!);
    path.lineTo(seen.x[n + 1]!, seen.y[n + 1]!);
  }
}

/** What the rings span hides what is behind it; the slab of each piece between two rings. */
function sortCovers(scene: Placed, seen: Seen, slabs: Slab[], reach: number): Uint8Array {
  const { x, y, depth } = seen;
  const { around, level } = scene;
  const found = new Uint8Array(Math.max(0, level.length - around));
  for (let n = 0; n < found.length; n++) {
    if ((n + 1) % around === 0) continue;
    const above = n + around;
    const middle = (depth[n]! + depth[n + 1]! + depth[above]! + depth[above + 1]!) / 4;
    found[n] = slabOf(middle, reach);
    const { cover } = slabs[found[n]!]!;
    cover.moveTo(x[n]!, y[n]!);
    cover.lineTo(x[n + 1]!, y[n + 1]!);
    cover.lineTo(x[above + 1]!, y[above + 1]!);
    cover.lineTo(x[above]!, y[above]!);
  }
  return found;
}

function sortWires(scene: Placed, begin: Seen, end: Seen, slabs: Slab[], reach: number): void {
  scene.current.forEach((current, n) => {
    const slab = slabs[slabOf((begin.depth[n]! + end.depth[n]!) / 2, reach)]!;
    // By the root, so that a tenth of the largest current, a good deal on a cable, still shows.
    const path = slab.wires[Math.min(WIDTHS - 1, Math.floor(WIDTHS * Math.sqrt(current)))]!;
    path.moveTo(begin.x[n]!, begin.y[n]!);
    path.lineTo(end.x[n]!, end.y[n]!);
  });
}

function paintSlab(
  context: CanvasRenderingContext2D,
  slab: Slab,
  inks: Inks,
  unit: number,
  close: number,
): void {
  context.globalAlpha = 0.55;
  context.fillStyle = inks.paper;
  context.fill(slab.cover, "nonzero");
  context.strokeStyle = inks.ink;
  slab.rings.forEach((path, tone) => {
    context.globalAlpha = close * (0.25 + (0.6 * tone) / (TONES - 1));
    context.lineWidth = unit * (0.6 + (0.7 * tone) / (TONES - 1));
    context.stroke(path);
  });
  context.globalAlpha = 1;
  slab.wires.forEach((path, step) => {
    const share = step / (WIDTHS - 1);
    context.strokeStyle = `color-mix(in oklab, ${inks.current} ${100 * share}%, ${inks.soft})`;
    context.lineWidth = unit * (THIN + (THICK - THIN) * share);
    context.stroke(path);
  });
}

/** A dashed circle on the ground with the azimuths that the tables count. */
function paintGround(
  context: CanvasRenderingContext2D,
  scene: Placed,
  look: Look,
  inks: Inks,
  unit: number,
): void {
  const [ahead, left] = scene.foot;
  const within = Math.sqrt(Math.max(0, scene.reach ** 2 - (scene.ground ?? 0) ** 2)) * 0.86;
  const radius = within - Math.hypot(ahead, left);
  if (radius < 0.2 * scene.reach) return;
  const points = new Float32Array(3 * 73);
  for (let k = 0; k <= 72; k++) {
    const angle = 5 * k * RADIAN;
    const [x, y] = [ahead + radius * Math.cos(angle), left + radius * Math.sin(angle)];
    points.set([x, y, scene.ground ?? 0], 3 * k);
  }
  const { x, y } = look(points);
  context.globalAlpha = 0.8;
  context.strokeStyle = context.fillStyle = inks.soft;
  context.lineWidth = unit;
  context.setLineDash([3 * unit, 4 * unit]);
  context.beginPath();
  x.forEach((right, k) => context.lineTo(right, y[k]!));
  context.stroke();
  context.setLineDash([]);
  context.font = `${12 * unit}px sans-serif`;
  context.textAlign = "center";
  // A little outside of the circle, whose middle is that of its ends.
  const [right, down] = [(x[0]! + x[36]!) / 2, (y[0]! + y[36]!) / 2];
  for (let k = 0; k < 72; k += 18) {
    const [off, up] = [1.12 * (x[k]! - right), 1.12 * (y[k]! - down)];
    context.fillText(`${5 * k}°`, right + off, down + up + 4 * unit);
  }
  context.globalAlpha = 1;
}
