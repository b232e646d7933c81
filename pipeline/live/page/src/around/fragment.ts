/**
 * A setting as the fragment of a link, and back.
 *
 *     #choke=2*mix-43-clamp-12-7@0.05m&second=none&bond=40+10j&radio=open&at=145.2MHz
 *     #choke=none&show=ideal&cut=90deg
 *
 * What is left out is as the page begins. A fragment comes from strangers: what does not read is
 * refused with a sentence, and nothing is thrown.
 */

import {
  variantOf,
  type Complex,
  type Head,
  type Kind,
  type Look,
  type Mode,
  type OnCable,
  type Setting,
} from "../contract";
import { shown } from "./plain_text";

/** A setting that was read, or a sentence that says why there is none. */
export type Read = { setting: Setting; look: Look } | { refused: string };

const LONGEST = 600;
const NONE = "none";
const NUMBER = String.raw`-?\d{1,9}(?:\.\d{1,25})?(?:e-?\d{1,2})?`;
const PIECES = new RegExp(`^(?:(\\d{1,3})\\*)?([^*@]+)@(${NUMBER})m$`);
const OHMS = new RegExp(`^(${NUMBER})(?:([+-])(${NUMBER})j)?$`);
const DEGREES = /^(\d{1,3})deg$/;
const MEGAHERTZ = new RegExp(`^(${NUMBER})MHz$`);
/** A stretch ends where a wire does, and nodes of wires lie on a grid of this, 2^-20 [m]. */
const SLACK = 1e-6;

class Refusal extends Error {}

/** How a page is looked at when it opens. */
const AT_FIRST: Look = { mode: "own", cut: 0 };
/** Cases that are shown in place of what is set, by their words in a link. */
const MODES: Readonly<Record<string, Mode>> = { none: "bare", ideal: "ideal" };

/** The setting as a fragment with its `#`, and how it is looked at. */
export function fragmentOf(setting: Setting, head: Head, look = AT_FIRST): string {
  const parts = [`choke=${onCableText(setting.first)}`];
  if (setting.second) parts.push(`second=${onCableText(setting.second)}`);
  if (head.hasBond) {
    parts.push(`bond=${setting.bond === NONE ? NONE : ohmsText(setting.bond)}`);
  }
  parts.push(`radio=${setting.radio === "open" ? "open" : ohmsText(setting.radio)}`);
  if (setting.frequency !== head.frequency) parts.push(`at=${setting.frequency / 1e6}MHz`);
  if (head.variants.length > 1) parts.push(`drawn=${encodeURIComponent(setting.variant)}`);
  const shows = Object.keys(MODES).find((word) => MODES[word] === look.mode);
  if (shows) parts.push(`show=${shows}`);
  if (look.cut) parts.push(`cut=${look.cut}deg`);
  return `#${parts.join("&")}`;
}

/** The setting that a fragment, with its `#` or without, asks for. */
export function settingOf(fragment: string, head: Head): Read {
  try {
    return read(fragment.replace(/^#/, ""), head);
  } catch (error) {
    if (error instanceof Refusal || error instanceof URIError) return { refused: saidOf(error) };
    throw error;
  }
}

function saidOf(error: Error): string {
  const why = error instanceof Refusal ? error.message : "it holds a % that stands for nothing";
  return `The link's settings are not taken: ${why}.`;
}

function onCableText(on: OnCable | null): string {
  if (!on) return NONE;
  const count = on.count === 1 ? "" : `${on.count}*`;
  return `${count}${encodeURIComponent(on.kind).replaceAll("*", "%2A")}@${on.position}m`;
}

function ohmsText([real, imaginary]: Complex): string {
  return imaginary ? `${real}${imaginary < 0 ? "-" : "+"}${Math.abs(imaginary)}j` : `${real}`;
}

type Reader = (text: string, head: Head) => Partial<Setting & Look>;

const READERS: Readonly<Record<string, Reader>> = {
  choke: (text, head) => ({ first: onCable(text, head) }),
  second: (text, head) => ({ second: onCable(text, head) }),
  bond: (text) => ({ bond: text === NONE ? NONE : ohms(text) }),
  radio: (text) => ({ radio: text === "open" ? "open" : ohms(text) }),
  at: (text, head) => ({ frequency: frequency(text, head) }),
  drawn: (text, head) => ({ variant: variant(text, head) }),
  show: (text) => ({ mode: mode(text) }),
  cut: (text) => ({ cut: azimuth(text) }),
};

function read(text: string, head: Head): { setting: Setting; look: Look } {
  if (text.length > LONGEST) throw new Refusal(`they are longer than ${LONGEST} signs`);
  let found: Setting & Look = { ...head.start, ...AT_FIRST };
  const known = new Set<string>();
  for (const part of text ? text.split("&") : []) {
    const cut = part.indexOf("=");
    const key = cut < 0 ? part : part.slice(0, cut);
    if (!Object.hasOwn(READERS, key)) throw new Refusal(`${shown(key)} is nothing to set`);
    if (known.has(key)) throw new Refusal(`${key} is there twice`);
    known.add(key);
    found = { ...found, ...READERS[key]!(cut < 0 ? "" : part.slice(cut + 1), head) };
  }
  // A link that names the choke names all that is on the cable.
  if (known.has("choke") && !known.has("second")) found.second = null;
  const { mode, cut, ...setting } = found;
  for (const on of [setting.first, setting.second]) refuseUnsolved(on, setting, head);
  return { setting, look: { mode, cut } };
}

/** Refuses a place that lies on no stretch of the setting's installation. */
function refuseUnsolved(on: OnCable | null, { variant }: Setting, head: Head): void {
  if (!on || head.kinds.find(({ id }) => id === on.kind)?.fixed !== null) return;
  const { position } = on;
  const { ranges } = variantOf(head, variant);
  if (!ranges.some(([low, high]) => position >= low - SLACK && position <= high + SLACK)) {
    throw new Refusal(`${position} m is on no stretch of the cable that was solved`);
  }
}

function onCable(text: string, head: Head): OnCable | null {
  if (text === NONE) return null;
  const match = PIECES.exec(text);
  if (!match) throw new Refusal(`${shown(text)} is no choke with its place, like 2*name@0.05m`);
  const id = decodeURIComponent(match[2]!);
  const kind = head.kinds.find((each) => each.id === id);
  if (!kind) throw new Refusal(`this page has no choke ${shown(id)}`);
  const count = match[1] ? Number(match[1]) : 1;
  if (count < 1 || count > (kind.counted ? kind.most : 1)) {
    throw new Refusal(`${count} of ${shown(id)} is outside 1 to ${kind.counted ? kind.most : 1}`);
  }
  return { kind: id, count, position: place(Number(match[3]), kind) };
}

function place(position: number, kind: Kind): number {
  if (kind.fixed !== null && Math.abs(position - kind.fixed) > SLACK) {
    throw new Refusal(`${shown(kind.id)} was solved at ${kind.fixed} m only`);
  }
  return position;
}

function ohms(text: string): Complex {
  const match = OHMS.exec(text);
  if (!match) throw new Refusal(`${shown(text)} is no impedance, like 40+10j`);
  const real = Number(match[1]);
  const imaginary = Number(match[3] ?? 0) * (match[2] === "-" ? -1 : 1);
  if (real < 0) throw new Refusal(`the impedance ${shown(text)} has a negative resistance`);
  return [real, imaginary];
}

function frequency(text: string, head: Head): number {
  const match = MEGAHERTZ.exec(text);
  if (!match) throw new Refusal(`${shown(text)} is no frequency, like 145.2MHz`);
  const hertz = Number(match[1]) * 1e6;
  const [low, high] = head.band;
  if (hertz < low * (1 - SLACK) || hertz > high * (1 + SLACK)) {
    const ends = `${low / 1e6} MHz to ${high / 1e6} MHz`;
    throw new Refusal(`${match[1]} MHz is outside the band that was solved, ${ends}`);
  }
  return Math.min(Math.max(hertz, low), high);
}

function mode(text: string): Mode {
  const found = Object.hasOwn(MODES, text) ? MODES[text] : undefined;
  if (!found) throw new Refusal(`${shown(text)} is no case to show, like ideal or none`);
  return found;
}

function azimuth(text: string): number {
  const match = DEGREES.exec(text);
  const degrees = Number(match?.[1] ?? NaN);
  if (!(degrees < 360)) throw new Refusal(`${shown(text)} is no direction, like 90deg`);
  return degrees;
}

function variant(text: string, head: Head): string {
  const id = decodeURIComponent(text);
  if (!head.variants.some((each) => each.id === id)) {
    throw new Refusal(`this page has no drawing ${shown(id)}`);
  }
  return id;
}
