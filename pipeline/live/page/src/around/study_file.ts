/**
 * A setting as a study file: the page's own study with the bond and the end at the radio put in
 * place of its own, and what is on the cable as one more candidate. The project's reader takes it
 * as it is. The other candidates stay: with them the cable is drawn in the same pieces, so that the
 * same figures come out, and they are what the new one will be held against.
 *
 * All texts are in quotes, so that none of them is taken for anything else.
 */

import {
  variantOf,
  type Complex,
  type Head,
  type Kind,
  type OnCable,
  type Setting,
} from "../contract";
import { quoted } from "./plain_text";

/** A study file, or a sentence that says why the setting is none. */
export type Written = { text: string } | { refused: string };

type Data = Readonly<Record<string, unknown>>;

/** Id of the candidate that was set. */
const ID = "as-set";
/** Words that YAML 1.1 reads as no text. */
const NO_TEXT = new Set(["y", "n", "yes", "no", "on", "off", "true", "false", "null"]);
const PLAIN_KEY = /^[a-z][a-z0-9_]*$/;
/** Kinds that a study file can have two of at once. */
const GO_IN_PAIRS = new Set<unknown>(["ferrite", "table", "fixture"]);
const NO_PAIR =
  "A study file holds two chokes at once where both are cores or measured chokes: take one of " +
  "them off.";
const BEGINS = [
  "# Made by the page of a report: its study with the bond and the end at the radio that were set",
  "# there, and the choke as its last candidate. Save it beside the study, since files that it",
  "# names are looked for there, under a name of letters, digits, _ and -; then",
  "#   braidwise study as_set.yaml",
  "# A choke where no other candidate is may have the cable drawn in other pieces: the third digit",
  "# of a figure may then differ from the page's.",
];
const OFF_THE_ROD = [
  "# The bond is off its rod here (open), only to compare: it protects from lightning. Join it",
  "# before the antenna is used.",
];

/** The study with a setting among its candidates. */
export function studyFile(setting: Setting, head: Head): Written {
  const candidate = candidateOf(setting, head);
  if ("refused" in candidate) return candidate;
  const study: Record<string, unknown> = { ...head.study };
  for (const [section, keys] of Object.entries(variantOf(head, setting.variant).study)) {
    study[section] = { ...part(study[section]), ...keys };
  }
  const isOff = head.hasBond && setting.bond === "none";
  if (head.hasBond) {
    const rod = setting.bond === "none" ? "open" : ohms(setting.bond);
    study.bond = { ...part(study.bond), rod_impedance: rod };
  }
  if (isOff && isData(study.unknowns)) {
    // What the rod may be is no question where the lead is off it.
    const { rod, ...others } = study.unknowns;
    study.unknowns = others;
  }
  study.station = { ...part(study.station), impedance: radioText(setting) };
  if (candidate.data) study.chokes = [...candidates(head), candidate.data];
  const begins = isOff ? [...BEGINS, ...OFF_THE_ROD] : BEGINS;
  return { text: [...begins, ...lines(study, ""), ""].join("\n") };
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
  const placed = [setting.first, setting.second].filter((on) => on !== null);
  const chokes: Data[] = [];
  for (const on of placed.sort((a, b) => a.position - b.position)) {
    const kind = head.kinds.find((each) => each.id === on.kind);
    if (!kind) return { refused: "What is on the cable is of no kind that this page knows." };
    chokes.push({ ...kind.study, ...priceOf(kind), ...counted(kind, on.count), ...at(on) });
  }
  const [first, second] = chokes;
  if (!first) return { data: null };
  const id = freeId(head);
  if (!second) return { data: { id, ...first } };
  if (!chokes.every((each) => GO_IN_PAIRS.has(each.kind))) return { refused: NO_PAIR };
  return { data: { id, kind: "pair", first, second } };
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
