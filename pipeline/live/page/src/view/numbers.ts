/** The numbers that count, each beside those without a choke and with an ideal one. */

import {
  variantOf,
  type Candidate,
  type Head,
  type OnCable,
  type Outcome,
  type Setting,
} from "../contract";
import { element, tell } from "./dom";
import type { Seen, State } from "./state";
import { decibels, megahertz, percent, reason, swr, verdict, watts } from "./words";

/** A number of the panel; `interval` is its name among the intervals of a candidate. */
interface Row {
  label: string;
  of(outcome: Outcome): number;
  say(value: number): string;
  interval: string;
}

const figure =
  (name: string) =>
  (outcome: Outcome): number =>
    outcome.figures[name] ?? NaN;

const ROWS: readonly Row[] = [
  {
    ...{ label: "Current at the radio", say: percent },
    ...{ of: (o) => o.at.station[0]!, interval: "station_ratio" },
  },
  {
    ...{ label: "Mean gain, lowest lobe", say: decibels },
    ...{ of: figure("mean_gain_dbi"), interval: "mean_gain_dbi" },
  },
  { label: "SWR", say: swr, of: (o) => o.at.swr[0]!, interval: "swr" },
];
function sameOn(a: OnCable | null, b: OnCable | null): boolean {
  if (!a || !b) return a === b;
  return a.kind === b.kind && a.count === b.count && Math.abs(a.position - b.position) < 1e-6;
}

/** Whether two settings are one, but for the frequency. */
export function isSame(a: Setting, b: Setting): boolean {
  const ends = ({ variant, bond, radio }: Setting): string =>
    JSON.stringify([variant, bond, radio]);
  return sameOn(a.first, b.first) && sameOn(a.second, b.second) && ends(a) === ends(b);
}

/** The candidate of the study that a setting is, at the frequency it was judged at. */
export function candidateOf(head: Head, setting: Setting): Candidate | null {
  if (setting.frequency !== head.frequency) return null;
  return head.candidates.find((each) => isSame(each.setting, setting)) ?? null;
}

/** An interval in the words of its number, the unit once. */
function between(row: Row, ends: readonly [number, number]): string {
  const [low, high] = ends.map((end) => row.say(end));
  if (low === high) return "";
  const unit = / [^ ]+$/.exec(high!)?.[0] ?? "";
  return `(${low!.endsWith(unit) ? low!.slice(0, low!.length - unit.length) : low} to ${high})`;
}

/** Mounts the panel and keeps it as the setting is. */
export function numbersView(host: HTMLElement, state: State): void {
  const { head } = state.model;
  const list = element("dl", { class: "facts" });
  const cells = ROWS.map((row) => {
    const [value, interval] = [element("span", {}), element("span", { class: "small whole" })];
    const beside = element("span", { class: "small beside" });
    const said = element("dd", {}, value, " ", interval, " ", beside);
    list.append(element("div", {}, element("dt", {}, row.label), said));
    return { value, interval, beside };
  });
  host.append(list);
  state.subscribe((seen) => {
    const found = seen.mode === "ideal" ? null : candidateOf(head, seen.shown);
    ROWS.forEach((row, k) => fill(cells[k]!, row, seen, found));
  });
}

/** Mounts the sentence on the score: below the pictures, which it would push about as it grows. */
export function scoreView(host: HTMLElement, state: State): void {
  const { head } = state.model;
  const sentence = element("p", { class: "score" });
  host.append(sentence);
  state.subscribe((seen) => {
    sentence.classList.toggle("refused", seen.refused !== "");
    // Patterns, and so the score, belong to the design frequency wherever the match is told.
    const isThere = seen.setting.frequency === head.frequency;
    const when = isThere ? "" : `At ${megahertz(head.frequency)}: `;
    tell(sentence, seen.refused ? `Not computed: ${seen.refused}` : when + inSentence(seen, head));
  });
}

/** The verdict; of another installation than the one that was judged only what it is. */
function headOf(seen: Seen, head: Head): string {
  const { variant } = seen.setting;
  if (variant === head.start.variant) return verdict(seen.outcome);
  const { label, grade } = variantOf(head, variant);
  return `With the cable on the ${label}, computed as described and not judged (${grade} drawing)`;
}

/** The score with its reason, and the heat. */
function inSentence(seen: Seen, head: Head): string {
  const isBare = !seen.shown.first && !seen.shown.second && seen.mode !== "ideal";
  const why = reason(seen.outcome, isBare ? null : seen.bare);
  const said = `${headOf(seen, head)}: ${why}`;
  const heat = seen.outcome.heat.reduce((sum, each) => sum + each, 0);
  // What is drawn as wire has no heat of its own: it is that of the metal.
  if (!heat || seen.mode === "ideal") return `${said}.`;
  return `${said}; heat in the choke ${watts(heat)}.`;
}

type Cell = Readonly<Record<"value" | "interval" | "beside", Element>>;

function fill(cell: Cell, row: Row, seen: Seen, found: Candidate | null): void {
  tell(cell.value, row.say(row.of(seen.outcome)));
  const ends = found?.intervals[row.interval];
  tell(cell.interval, ends ? between(row, ends) : "");
  const [bare, ideal] = [row.say(row.of(seen.bare)), row.say(row.of(seen.ideal))];
  tell(cell.beside, `without ${bare}, ideal ${ideal}`);
}
