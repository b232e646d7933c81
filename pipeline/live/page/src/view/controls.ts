/** What a reader sets beside the pictures: kinds, counts, places, ends, frequency, drawing. */

import { variantOf, type Complex, type Setting } from "../contract";
import { element, tell } from "./dom";
import { begins, BOTH, isFixed, onVariant, placed, placesOf, type Which } from "./place";
import type { Seen, State } from "./state";
import { kindOf, length, megahertz, ohms } from "./words";

const NOTHING = "";
/** Resistances that grounds and radios have, from a good one to next to nothing [ohm]. */
const BONDS = [0, 10, 50, 200];
const RADIOS = [0, 22, 100, 1000];
const STEPS = 200;

interface Control {
  node: HTMLElement;
  show(seen: Seen): void;
}

/** A control under its label. */
function labelled(text: string, inside: HTMLElement, ...more: Node[]): HTMLElement {
  return element("label", {}, element("span", { class: "small" }, text, ...more), inside);
}

interface Option {
  value: string;
  text: string;
}

/** Offers options anew where they differ from those that are there. */
function offer(select: HTMLSelectElement, options: readonly Option[], chosen: string): void {
  const key = JSON.stringify(options);
  if (select.dataset["offered"] !== key) {
    select.dataset["offered"] = key;
    const made = options.map(({ value, text }) => element("option", { value }, text));
    select.replaceChildren(...made);
  }
  if (select.value !== chosen) select.value = chosen;
}

/** Kind, count and place of one of the two things on the cable. */
function chokeControl(state: State, which: Which): Control {
  const { head } = state.model;
  // What is drawn as wire is solved by itself: nothing stands beside it.
  const offered = head.kinds.filter(({ fixed }) => which === "first" || fixed === null);
  const kinds = element("select", {});
  const count = element("input", { type: "number", min: 1, step: 1, inputmode: "numeric" });
  // Counts places: what was not solved is no part of it.
  const place = element("input", { type: "range", min: 0, step: 1 });
  const said = element("span", { class: "told-place" });
  kinds.addEventListener("change", () => state.change(chosenKind(state, which, kinds.value)));
  count.addEventListener("change", () => {
    const on = state.current()[which];
    const wanted = Math.round(Number(count.value));
    if (on) state.change({ [which]: { ...on, count: wanted } });
  });
  place.addEventListener("input", () => {
    const on = state.current()[which];
    const { variant } = state.current();
    const position = on && placesOf(head, variant, on)[Number(place.value)];
    if (position) state.change({ [which]: { ...on, position } });
  });
  const counted = labelled("how many", count);
  const where = labelled("begins at ", place, said);
  const name = which === "first" ? "Choke" : "Second choke";
  const node = element("div", { class: "row" }, labelled(name, kinds), counted, where);
  return {
    node,
    show(seen) {
      const on = seen.setting[which];
      const options = offered.map(({ id, label }) => ({ value: id, text: label }));
      offer(kinds, [{ value: NOTHING, text: "none" }, ...options], on?.kind ?? NOTHING);
      const kind = on ? kindOf(head, on) : undefined;
      counted.hidden = !kind?.counted;
      where.hidden = !on;
      if (!on) return;
      count.max = String(kind?.most ?? 1);
      if (document.activeElement !== count) count.value = String(on.count);
      const { variant } = seen.setting;
      const places = placesOf(head, variant, on);
      place.max = String(places.length - 1);
      place.value = String(places.indexOf(placed(head, variant, on, on.position)));
      place.disabled = isFixed(head, on);
      const words = length(on.position, head);
      tell(said, words);
      place.setAttribute("aria-valuetext", `${words} from the antenna`);
    },
  };
}

function chosenKind(state: State, which: Which, kind: string): Partial<Setting> {
  if (kind === NOTHING) return { [which]: null };
  const { head } = state.model;
  const { variant, [which]: on } = state.current();
  const [low, high] = variantOf(head, variant).ranges[0]!;
  const usual = which === "second" ? (low + high) / 2 : low;
  const wanted = on?.position ?? head.start[which]?.position ?? usual;
  const next = begins(head, variant, kind, wanted);
  const most = kindOf(head, next)?.counted ? (kindOf(head, next)?.most ?? 1) : 1;
  return { [which]: { ...next, count: Math.min(on?.count ?? 1, most) } };
}

/** An end of the cable that is an impedance, or nothing at all under a word of its own. */
function endControl(
  state: State,
  which: "bond" | "radio",
  name: string,
  nothing: Option,
  usual: readonly number[],
): Control {
  const own = state.model.head.start[which];
  const select = element("select", {});
  const impedances = new Map<string, Complex>();
  const options: Option[] = [nothing];
  const add = (z: Complex, more = ""): void => {
    const value = z.join(" ");
    if (impedances.has(value)) return;
    impedances.set(value, z);
    options.push({ value, text: `${ohms(z)}${more}` });
  };
  if (typeof own !== "string") add(own, ", as described");
  for (const r of usual) add([r, 0]);
  select.addEventListener("change", () => {
    const z = impedances.get(select.value);
    state.change({ [which]: z ?? nothing.value });
  });
  return {
    node: labelled(name, select),
    show(seen) {
      const now = seen.setting[which];
      if (typeof now !== "string") add(now);
      offer(select, options, typeof now === "string" ? now : now.join(" "));
    },
  };
}

function frequencyControl(state: State): Control {
  const [low, high] = state.model.head.band;
  const step = (high - low) / STEPS;
  const range = element("input", { type: "range", min: 0, max: STEPS, step: 1 });
  const said = element("span", {});
  range.addEventListener("input", () => {
    const wanted = low + step * Number(range.value);
    const { frequency } = state.model.head;
    // The design frequency is one of them, to the last digit.
    state.change({ frequency: Math.abs(wanted - frequency) < 0.6 * step ? frequency : wanted });
  });
  return {
    node: labelled("frequency of match and current ", range, said),
    show(seen) {
      const words = megahertz(seen.setting.frequency);
      range.value = String(Math.round((seen.setting.frequency - low) / step));
      range.setAttribute("aria-valuetext", words);
      tell(said, words);
    },
  };
}

function variantControl(state: State): Control {
  const select = element("select", {});
  const { head } = state.model;
  select.addEventListener("change", () => {
    state.set(onVariant(head, state.current(), select.value));
  });
  const options = head.variants.map(({ id, label }) => ({ value: id, text: label }));
  return {
    node: labelled("cable's shield joined to the", select),
    show: (seen) => offer(select, options, seen.setting.variant),
  };
}

/** Mounts everything that can be set. */
export function controlsView(host: HTMLElement, state: State): void {
  const { head } = state.model;
  const none = { value: "none", text: head.bondOff };
  const open = { value: "open", text: "touches nothing" };
  const ends: Control[] = [endControl(state, "radio", "radio end", open, RADIOS)];
  if (head.hasBond) ends.unshift(endControl(state, "bond", "ground rod", none, BONDS));
  ends.push(frequencyControl(state));
  if (head.variants.length > 1) ends.push(variantControl(state));
  const chokes = BOTH.map((which) => chokeControl(state, which));
  const refused = element("p", { class: "refused", role: "alert" });
  const row = element("div", { class: "row" }, ...ends.map((each) => each.node));
  host.append(refused, ...chokes.map((each) => each.node), row);
  const every = [...chokes, ...ends];
  state.subscribe((seen) => {
    for (const each of every) each.show(seen);
    tell(refused, seen.refused ? `Not computed: ${seen.refused}` : "");
  });
}
