/** Names of the lines, each a button that shows its state: as set, ideal, without; one key away. */

import { variantOf, type Head, type Mode } from "../contract";
import { element, shape, tell } from "./dom";
import { isSame } from "./numbers";
import type { Seen, State } from "./state";
import { onCable } from "./words";

/** Fields that single keys say nothing to. */
const UNTYPED = new Set(["range", "checkbox"]);

/** Whether what is set is what the report advises. */
export function isAdvised(state: State, seen: Seen): boolean {
  const { start } = state.model.head;
  return isSame(seen.setting, start) && seen.setting.frequency === start.frequency;
}

/** Where the cable's shield is joined, in a few words. */
export function joinedTo(head: Head, seen: Seen): string {
  return `cable on the ${variantOf(head, seen.setting.variant).label}`;
}

/** What is shown, in a few words. */
export function shownWords(state: State, seen: Seen): string {
  if (seen.mode === "bare") return "no choke";
  if (seen.mode === "ideal") return "ideal choke";
  const { head } = state.model;
  if (isSame(seen.setting, head.start)) return "as advised";
  const other = seen.setting.variant === head.start.variant ? "" : `, ${joinedTo(head, seen)}`;
  return `as set: ${onCable(head, seen.setting)}${other}`;
}

function sample(look: string): SVGElement {
  const line = shape("path", { class: look, d: "M2 5H42" });
  return shape("svg", { viewBox: "0 0 44 10", "aria-hidden": "true" }, line);
}

function button(inside: (Node | string)[], act: () => void): HTMLButtonElement {
  const made = element("button", { type: "button" }, ...inside);
  made.addEventListener("click", act);
  return made;
}

/** Single keys for the same, unless the reader switches them off or is typing. */
function listenToKeys(keys: HTMLInputElement, acts: Readonly<Record<string, () => void>>): void {
  document.addEventListener("keydown", (event) => {
    const { target } = event;
    const isTyped = target instanceof HTMLInputElement && !UNTYPED.has(target.type);
    const isElsewhere =
      target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement;
    const isChord = event.ctrlKey || event.metaKey || event.altKey;
    if (keys.checked && !isTyped && !isElsewhere && !isChord) acts[event.key]?.();
  });
}

/** Mounts the buttons and keeps them as the setting is. */
export function legendView(host: HTMLElement, state: State): void {
  const own = element("span", {});
  const show = (mode: Mode) => (): void => state.toggle(mode);
  const states: Readonly<Record<Mode, HTMLButtonElement>> = {
    own: button([sample("set"), " ", own], show("own")),
    ideal: button([sample("ideal"), " ideal choke (i)"], show("ideal")),
    bare: button([sample("bare"), " no choke (n)"], show("bare")),
  };
  const back = (): void => state.set(state.model.head.start);
  const advice = button(["back to the advice (a)"], back);
  const keys = element("input", { type: "checkbox" });
  keys.checked = true;
  listenToKeys(keys, { n: show("bare"), i: show("ideal"), a: back, Escape: show("own") });
  const switched = element("label", { class: "keys" }, keys, " keys i, n, a");
  host.classList.add("legend");
  host.append(states.own, states.ideal, states.bare, advice, switched);
  state.subscribe((seen) => {
    // No longer than before: the pictures below must not move while a hand is on them.
    tell(own, isSame(seen.setting, state.model.head.start) ? "as advised" : "as set");
    for (const [mode, node] of Object.entries(states)) {
      node.setAttribute("aria-pressed", String(seen.mode === mode));
    }
    advice.disabled = isAdvised(state, seen) && seen.mode === "own";
  });
}
