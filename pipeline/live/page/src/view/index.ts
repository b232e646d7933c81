/** The live page's own part of the document: what a reader sets, and what follows from it. */

import { announcer, surround } from "../around";
import type { Model } from "../contract";
import { alongView } from "./along";
import { bandView } from "./band";
import { controlsView } from "./controls";
import { isAdvised, legendView, shownWords } from "./legend";
import "./live.css";
import { numbersView, scoreView } from "./numbers";
import { patternView } from "./pattern";
import { sideView } from "./side";
import { State, type Seen } from "./state";
import { percent, swr, verdict } from "./words";

export { State, type Seen } from "./state";

type Mount = (host: HTMLElement, state: State) => void;

/** Places of the page and what stands in them; a page without one of them goes without it. */
const MOUNTS: Readonly<Record<string, Mount>> = {
  "live-numbers": numbersView,
  "live-legend": legendView,
  "live-score": scoreView,
  "picture-side": sideView,
  "picture-along": alongView,
  "picture-pattern": patternView,
  "live-controls": controlsView,
  "live-band": bandView,
};

/** Puts the page to work on a solved study. */
export function start(model: Model): void {
  const state = new State(model);
  for (const [id, mount] of Object.entries(MOUNTS)) {
    const host = document.getElementById(id);
    if (host) mount(host, state);
  }
  surround(model, state);
  const first = document.getElementById("first");
  if (first) listening(first, state);
  for (const place of document.querySelectorAll<HTMLElement>(".live")) place.hidden = false;
  openLinked();
  // From here on the style sheet shows the moving pictures in place of the still ones.
  document.documentElement.dataset["live"] = model.head.name;
}

/** A link to a part of the page opens what it stands in; the address keeps what is set. */
function openLinked(): void {
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest('a[href^="#"]') : null;
    const wanted = link && document.getElementById(link.getAttribute("href")!.slice(1));
    const fold = wanted?.closest("details");
    if (!wanted || !fold) return;
    event.preventDefault();
    fold.open = true;
    wanted.scrollIntoView();
    fold.querySelector("summary")?.focus({ preventScroll: true });
  });
}

/** Says what a change came to, and dims what is no longer so. */
function listening(first: HTMLElement, state: State): void {
  const say = announcer(first);
  state.hear(say);
  let isFirst = true;
  state.subscribe((seen: Seen) => {
    first.classList.toggle("old", seen.refused !== "");
    document.documentElement.dataset["mode"] = seen.mode;
    // The headline stays; the style sheet says that it is the advice and not what is set.
    document.documentElement.dataset["set"] = isAdvised(state, seen) ? "advice" : "other";
    if (!isFirst) say(seen.refused || saidOf(state, seen));
    isFirst = false;
  });
}

function saidOf(state: State, seen: Seen): string {
  const { at } = seen.outcome;
  const numbers = `current at the radio ${percent(at.station[0]!)}, SWR ${swr(at.swr[0]!)}`;
  // Nothing is judged but the installation as described.
  const isJudged = seen.setting.variant === state.model.head.start.variant;
  const judged = isJudged ? ` ${verdict(seen.outcome)}.` : "";
  return `${shownWords(state, seen)}: ${numbers}.${judged}`;
}
