/**
 * What engine and view share: the setting of a reader, and what it leads to.
 *
 * A `Model` in, an `Outcome` for a `Setting` out. The view knows nothing of the arrays behind a
 * model, and the engine nothing of the document. SI units; names of figures are those of Python
 * (`pipeline/analysis/figures_of_merit_and_score.py`).
 */

/** Real and imaginary part. */
export type Complex = readonly [number, number];

/** Something on the cable: so many pieces of a kind, its end at the antenna at `position` [m]. */
export interface OnCable {
  kind: string;
  count: number;
  position: number;
}

/** All that a reader can set; each value has to be one that the model knows. */
export interface Setting {
  variant: string;
  first: OnCable | null;
  second: OnCable | null;
  /** Impedance of the ground rod [ohm], or no bond; of no effect where the cable has none. */
  bond: Complex | "none";
  /** Impedance between the shield at the radio and its power lead [ohm]. */
  radio: Complex | "open";
  /** Match and current at the radio are told at it [Hz]; patterns at the design frequency. */
  frequency: number;
}

/** Whether what is set is shown, or the same without a choke or with an ideal one. */
export type Mode = "own" | "bare" | "ideal";

/** How a setting is looked at: which case is shown, and the azimuth of the cut upwards [deg]. */
export interface Look {
  mode: Mode;
  cut: number;
}

/** A kind of choke as the page offers it. */
export interface Kind {
  id: string;
  /** Its name in a sentence, without how many. */
  label: string;
  /** Pieces of it are counted, `most` at most. */
  counted: boolean;
  most: number;
  /** Length of one piece along the cable [m]; zero for what acts at a point. */
  length: number;
  /** Where it sits if it is a drawing of its own and cannot be moved [m]; null: it can. */
  fixed: number | null;
  /** Price of one piece, and its currency; null where there is none. */
  price: number | null;
  currency: string;
  /** Keys of a study file that make it, without id, count and position. */
  study: Readonly<Record<string, unknown>>;
}

/** A candidate of the study as a setting. */
export interface Candidate {
  id: string;
  label: string;
  setting: Setting;
  /** Range of some figures, by name: the stated installation and 95 of 100 like it. */
  intervals: Readonly<Record<string, readonly [number, number]>>;
}

/** Wires of one drawing for pictures: ends in metres, z upwards, a part's name each. */
export interface Wires {
  start: Float32Array;
  end: Float32Array;
  radius: Float32Array;
  part: readonly string[];
}

/** The way of the shield: places along it [m] and where they are, x, y, z for each [m]. */
export interface Way {
  position: Float64Array;
  point: Float32Array;
}

/** A stretch of the cable that something can lie on, from its first place to its last [m]. */
export type Stretch = readonly [number, number];

/** An installation that can be shown. */
export interface Variant {
  id: string;
  label: string;
  /** Grade of its drawing: sound, usable or unsound. */
  grade: string;
  /** Stretches that were solved, rising; there is nothing between. */
  ranges: readonly Stretch[];
  /** Keys of sections of a study file that make it. */
  study: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
}

/** What is known beside the arrays. */
export interface Head {
  title: string;
  name: string;
  frequency: number;
  band: readonly [number, number];
  power: number;
  lengths: "metric" | "imperial";
  overGround: boolean;
  /** Bearing of the antenna's front, azimuth zero, from true north [deg]; null: not stated. */
  facing: number | null;
  /** Elevation that stands for the horizon [deg]. */
  elevation: number;
  /** Azimuths of the rings and elevations of the pattern [deg]. */
  azimuths: Float64Array;
  elevations: Float64Array;
  kinds: readonly Kind[];
  /** The installation as described, and others that were solved beside it. */
  variants: readonly Variant[];
  candidates: readonly Candidate[];
  /** Setting of what the report advises. */
  start: Setting;
  /** Places that the answer names [m], rising. */
  places: readonly number[];
  hasBond: boolean;
  /** What bond "none" is in words: the rod is open, its lead stays. */
  bondOff: string;
  /** A figure's change from which it is visible, by the figure's name. */
  thresholds: Readonly<Record<string, number>>;
  /** The study's file as data, so that a setting can be written as one. */
  study: Readonly<Record<string, unknown>>;
}

/** Match and current at one frequency, or over the band (arrays of one length). */
export interface OverBand {
  frequency: Float64Array;
  r: Float64Array;
  x: Float64Array;
  swr: Float64Array;
  swrRadio: Float64Array;
  /** Current at the radio per feed current. */
  station: Float64Array;
}

/** What a setting leads to. Where it is refused nothing else of it holds. */
export interface Outcome {
  /** Why there is no result (outside of what was solved); empty where there is one. */
  refused: string;
  /** Figures of merit at the design frequency, by name. */
  figures: Readonly<Record<string, number>>;
  /** Changes from the ideal choke over their thresholds, by name; the score is the largest. */
  over: Readonly<Record<string, number>>;
  score: number;
  /** Name of the figure that makes the score. */
  reason: string;
  /** Shield current per feed current along the way, at `Way.position`. */
  shield: Float64Array;
  /** Current of every wire of the picture per feed current. */
  wires: Float64Array;
  /** Gain all round at the horizon's elevation, at `Head.azimuths` [dBi]. */
  ring: Float64Array;
  /** Gain at `Head.elevations` times `Head.azimuths`, row by row [dBi]. */
  pattern: Float64Array;
  band: OverBand;
  /** The same at the setting's frequency, one value each. */
  at: OverBand;
  /** Power at the study's power in each part on the cable [W]; their sum is that in the choke. */
  heat: readonly number[];
}

/** A solved study: every choke, count, place and end is linear algebra on it. */
export interface Model {
  readonly head: Head;
  wires(variant: string, setting: Setting): Wires;
  way(variant: string, setting: Setting): Way;
  evaluate(setting: Setting): Outcome;
  /** The ideal choke with the same ends. */
  ideal(setting: Setting): Outcome;
}

/** An installation by its name; the one as described where there is none of that name. */
export function variantOf(head: Pick<Head, "variants">, id: string): Variant {
  return head.variants.find((variant) => variant.id === id) ?? head.variants[0]!;
}
