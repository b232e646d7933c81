/**
 * A setting as a study file: the page's own study with the bond and the end at the radio put in
 * place of its own, and what is on the cable as one more candidate. The project's reader takes it
 * as it is. The other candidates stay: with them the cable is drawn in the same pieces, so that the
 * same figures come out, and they are what the new one will be held against.
 *
 * All texts are in quotes, so that none of them is taken for anything else.
 */

import type { Complex, Head, Kind, OnCable, Setting } from "../contract";
import { quoted } from "./plain_text";

/** A study file, or a sentence that says why the setting is none. */
export type Written = { text: string } | { refused: string };

type Data = Readonly<Record<string, unknown>>;

/** Id of the candidate that was set. */
const ID = "as-set";
/** Words that YAML 1.1 reads as no text. */
const NO_TEXT = new Set(["y", "n", "yes", "no", "on", "off", "true", "false", "null"]);
const PLAIN_KEY = /^[a-z][a-z0-9_]*$/;
const HANGS_FREE =
  "A study file cannot say that the lead to the rod hangs free: set a rod here, or take the bond " +
  "out of the route in the study itself.";
const IN_TWO_PLACES =
  "A study file holds two chokes at once only where they are equal rows of one core: take one of " +
  "them off, or make them equal.";
const BEGINS = [
  "# Made by the page of a report: its study with the bond and the end at the radio that were set",
  "# there, and the choke as its last candidate. Save it beside the study, since files that it",
  "# names are looked for there, under a name of letters, digits, _ and -; then",
  "#   braidwise study as_set.yaml",
];

/** The study with a setting among its candidates. */
export function studyFile(setting: Setting, head: Head): Written {
  const candidate = candidateOf(setting, head);
  if ("refused" in candidate) return candidate;
  const study: Record<string, unknown> = { ...head.study };
  if (head.hasBond) {
    if (setting.bond === "none") return { refused: HANGS_FREE };
    study.bond = { ...part(study.bond), rod_impedance: ohms(setting.bond) };
  }
  study.station = { ...part(study.station), impedance: radioText(setting) };
  if (candidate.data) study.chokes = [...candidates(head), candidate.data];
  return { text: [...BEGINS, ...lines(study, ""), ""].join("\n") };
}

function part(section: unknown): Data {
  return isData(section) ? section : {};
}

function radioText(setting: Setting): string {
  return setting.radio === "open" ? "open" : ohms(setting.radio);
}

/** Candidates of the study itself; the standard ones, which it has where it names none, are not. */
function candidates(head: Head): readonly unknown[] {
  return Array.isArray(head.study.chokes) ? head.study.chokes : [];
}

/** An id that no candidate has. */
function freeId(head: Head): string {
  const taken = new Set(candidates(head).map((each) => part(each).id));
  let id = ID;
  for (let k = 2; taken.has(id); k++) id = `${ID}-${k}`;
  return id;
}

/** What is on the cable as a candidate, nothing where nothing is on the cable. */
function candidateOf(
  setting: Setting,
  head: Head,
): { data: Data | null } | { refused: string } {
  const [first, second] = setting.first
    ? [setting.first, setting.second]
    : [setting.second, null];
  if (!first) return { data: null };
  const kind = head.kinds.find((each) => each.id === first.kind);
  if (!kind) return { refused: "What is on the cable is of no kind that this page knows." };
  const common = { id: freeId(head), ...kind.study, ...priceOf(kind) };
  if (!second) return { data: { ...common, ...counted(kind, first.count), ...at(first) } };
  return inTwoPlaces(common, kind, [first, second]);
}

/** A study has one choke a candidate; only equal rows of the same core can stand in two places. */
function inTwoPlaces(
  common: Data,
  kind: Kind,
  both: readonly [OnCable, OnCable],
): { data: Data } | { refused: string } {
  const [near, far] = both[0].position <= both[1].position ? both : [both[1], both[0]];
  if (!kind.counted || near.kind !== far.kind || near.count !== far.count) {
    return { refused: IN_TWO_PLACES };
  }
  const count = { count: near.count + far.count };
  return { data: { ...common, ...count, ...at(near), also_at: `${decimal(far.position)} m` } };
}

function counted(kind: Kind, count: number): Data {
  return kind.counted ? { count } : {};
}

function at(on: OnCable): Data {
  return { position: `${decimal(on.position)} m` };
}

function priceOf(kind: Kind): Data {
  return kind.price === null ? {} : { price: `${kind.price.toFixed(2)} ${kind.currency}` };
}

function ohms([real, imaginary]: Complex): string {
  const sign = imaginary < 0 ? "-" : "+";
  const rest = imaginary ? `${sign}${decimal(Math.abs(imaginary))}j` : "";
  return `${decimal(real)}${rest} ohm`;
}

/** A number without an exponent, in full. */
function decimal(value: number): string {
  const text = String(value);
  return text.includes("e") ? value.toFixed(15).replace(/\.?0+$/, "") : text;
}

function isData(value: unknown): value is Data {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** Block lines of a mapping, each behind an indent. */
function lines(data: Data, indent: string): string[] {
  return Object.entries(data).flatMap(([key, value]) => entry(`${indent}${keyText(key)}:`, value));
}

function entry(begin: string, value: unknown): string[] {
  const indent = begin.length - begin.trimStart().length;
  const inner = " ".repeat(indent + 2);
  if (isData(value) && Object.keys(value).length) return [begin, ...lines(value, inner)];
  if (Array.isArray(value) && value.length) {
    return [begin, ...value.flatMap((each) => item(each, inner))];
  }
  return [`${begin} ${scalar(value)}`];
}

function item(value: unknown, indent: string): string[] {
  if (!isData(value) || !Object.keys(value).length) return [`${indent}- ${flow(value)}`];
  const [first, ...rest] = lines(value, `${indent}  `);
  return [`${indent}- ${first!.trimStart()}`, ...rest];
}

/** What stands in a list inside of a list, such as a point among points, on one line. */
function flow(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(flow).join(", ")}]`;
  if (!isData(value)) return scalar(value);
  const entries = Object.entries(value).map(([key, each]) => `${keyText(key)}: ${flow(each)}`);
  return `{${entries.join(", ")}}`;
}

function keyText(key: string): string {
  return PLAIN_KEY.test(key) && !NO_TEXT.has(key) ? key : quoted(key);
}

function scalar(value: unknown): string {
  if (typeof value === "string") return quoted(value);
  if (typeof value === "number") return number(value);
  if (typeof value === "boolean") return value ? "true" : "false";
  return value === null || value === undefined ? "null" : flow(value);
}

/** A number with a point before its exponent, without which YAML 1.1 takes it for a text. */
function number(value: number): string {
  const [digits, exponent] = String(value).split("e");
  if (exponent === undefined) return digits!;
  return `${digits!.includes(".") ? digits! : `${digits!}.0`}e${exponent}`;
}
