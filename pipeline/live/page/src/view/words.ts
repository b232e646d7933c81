/** Numbers, lengths and chokes as a reader meets them: as Python words them in the report. */

import type { Complex, Head, Kind, OnCable, Outcome, Setting } from "../contract";

const MINUS = "−";
const METRE_PER_INCH = 0.0254;
const NUMBERS = "no one two three four five six seven eight nine ten".split(" ");

/** A number with so many decimals, a true minus sign, and no sign on a nothing. */
export function fixed(value: number, decimals: number): string {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", MINUS);
}

/** A share in per cent, two digits. */
export function percent(ratio: number): string {
  const value = 100 * ratio;
  if (value === 0 || value >= 9.95) return `${fixed(value, 0)} %`;
  return value >= 0.05 ? `${fixed(value, 1)} %` : "under 0.1 %";
}

export function decibels(value: number): string {
  return Number.isFinite(value) ? `${fixed(value, 1)} dBi` : "–";
}

export function swr(value: number): string {
  return value < 100 ? fixed(value, 2) : "over 100";
}

/** Power with two digits. */
export function watts(value: number): string {
  if (value < 0.01) return "under 0.01 W";
  return `${value < 9.95 ? Number(value.toPrecision(2)) : Math.round(value)} W`;
}

export function megahertz(frequency: number): string {
  return `${Number((frequency / 1e6).toFixed(3))} MHz`;
}

/** An impedance as R ± jX. */
export function ohms(z: Complex): string {
  const said = (value: number): string => String(Number(Math.abs(value).toPrecision(3)));
  if (!z[1]) return `${said(z[0])} Ω`;
  return `${said(z[0])} ${z[1] < 0 ? MINUS : "+"} j${said(z[1])} Ω`;
}

/** A distance in metres, or in feet and inches. */
export function length(metres: number, head: Head, decimals = 2): string {
  if (head.lengths === "metric") return `${fixed(metres, decimals)} m`;
  const inches = metres / METRE_PER_INCH;
  if (Math.abs(inches) < 72) return `${Number(inches.toFixed(1))} in`;
  const whole = Math.round(inches);
  const rest = whole % 12;
  return rest ? `${Math.floor(whole / 12)} ft ${rest} in` : `${whole / 12} ft`;
}

export function kindOf(head: Head, on: OnCable): Kind | undefined {
  return head.kinds.find((kind) => kind.id === on.kind);
}

/** Something on the cable without its place: "two cores, of a class". */
export function pieces(head: Head, on: OnCable): string {
  const kind = kindOf(head, on);
  const label = kind?.label ?? on.kind;
  if (!kind?.counted) return label;
  const count = NUMBERS[on.count] ?? String(on.count);
  return `${count} ${on.count === 1 ? "core" : "cores"}, ${label}`;
}

/** All that a setting puts on the cable. */
export function onCable(head: Head, setting: Setting): string {
  const found = [setting.first, setting.second].filter((on) => on !== null);
  if (!found.length) return "no choke";
  return found.map((on) => `${pieces(head, on)}, at ${length(on.position, head)}`).join("; and ");
}

/** So many times what is just visible is a strong change. */
const STRONG = 3;
const FIGURES: Readonly<Record<string, string>> = {
  swr: "the match",
  mean_gain_dbi: "the mean gain in the lowest lobe",
  pattern_rms_db: "the pattern at low angles",
  station_ratio: "the current at the radio",
};

function nameOf(figure: string): string {
  return FIGURES[figure] ?? figure.replaceAll("_", " ");
}

/** Two decimals where one would hide on which side of the threshold it lies. */
function times(score: number): string {
  const decimals = Math.abs(score - 1) < 0.05 ? 2 : 1;
  return fixed(score, score < 9.95 ? decimals : 0);
}

/** What a score means. */
export function verdict(outcome: Outcome): string {
  if (outcome.score <= 1) return "No visible change against an ideal choke";
  return outcome.score > STRONG ? "Strong change" : "Noticeable change";
}

/** Which figure makes the score, how many times what is just visible it is, and without a choke. */
export function reason(outcome: Outcome, bare: Outcome | null): string {
  const nearest = outcome.score <= 1 ? " comes nearest, at" : " is";
  const score = `${times(outcome.score)} times what is just visible`;
  const what = `${nameOf(outcome.reason)}${nearest} ${score}`;
  return bare === null ? what : `${what}, without a choke ${times(bare.score)} times`;
}
