/**
 * The setting in the address of the page, and two buttons that copy it: as a link, as a study file.
 */

import type { Head, Look, Mode, Setting } from "../contract";
import { fragmentOf, settingOf } from "./fragment";
import { studyFile } from "./study_file";

/** The page as the rest of it knows it: what is set, how to set it, and who wants to know. */
export interface Settable {
  current(): Setting;
  set(setting: Setting, mode?: Mode): void;
  /** How it is looked at, and how to turn the cut upwards. */
  look(): Look;
  turn(azimuth: number): void;
  watch(listener: () => void): void;
}

/** So long after the last change the address follows: browsers allow a hundred in half a minute. */
const STILL = 400;

/** Keeps the address and mounts the buttons at the end of a host. */
export function share(host: HTMLElement, head: Head, page: Settable): void {
  const said = document.createElement("p");
  said.className = "small";
  said.setAttribute("role", "status");
  const shown = document.createElement("textarea");
  shown.readOnly = true;
  shown.hidden = true;
  shown.rows = 8;
  shown.setAttribute("aria-label", "Text to copy");
  shown.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    shown.hidden = true;
    host.querySelector("button")?.focus();
  });
  const copied = (name: string, text: string): Promise<void> => copy(text, name, said, shown);
  host.append(
    button("Copy link", () => void copied("The link", linkTo(page, head))),
    button("Copy study file", () => {
      const written = studyFile(page.current(), head);
      if ("text" in written) void copied("The study file", written.text);
      else said.textContent = written.refused;
    }),
    said,
    shown,
  );
  followAddress(head, page, refusals(host));
}

function button(words: string, act: () => void): HTMLButtonElement {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

/** A function that says above the numbers why a link is not taken: those who open it look there. */
function refusals(host: HTMLElement): (text: string) => void {
  const refused = document.createElement("p");
  refused.className = "refused";
  refused.setAttribute("role", "alert");
  (document.getElementById("first") ?? host).prepend(refused);
  return (text) => {
    refused.textContent = text;
  };
}

function linkTo(page: Settable, head: Head): string {
  return location.href.split("#")[0]! + fragmentOf(page.current(), head, page.look());
}

/** To the clipboard; where the browser does not let a page do that, into a field to copy from. */
async function copy(
  text: string,
  name: string,
  said: HTMLElement,
  shown: HTMLTextAreaElement,
): Promise<void> {
  try {
    await navigator.clipboard.writeText(text);
    shown.hidden = true;
    said.textContent = `${name} is copied.`;
  } catch {
    shown.value = text;
    shown.hidden = false;
    shown.focus();
    shown.select();
    said.textContent = `${name} stands below, selected: copy it from there.`;
  }
}

/** Takes what the address asks for, now and when it changes, and writes what is set into it. */
function followAddress(head: Head, page: Settable, say: (text: string) => void): void {
  let waiting = 0;
  let own = false;
  const take = (): void => {
    const fragment = location.hash;
    if (!fragment || namesPart(fragment)) return;
    const read = settingOf(fragment, head);
    if ("refused" in read) {
      say(`${read.refused} Nothing is changed by it.`);
      return;
    }
    say("");
    own = true;
    page.set(read.setting, read.look.mode);
    page.turn(read.look.cut);
    own = false;
  };
  take();
  addEventListener("hashchange", take);
  page.watch(() => {
    // What came from the address stands there already.
    if (own) return;
    say("");
    clearTimeout(waiting);
    // In place of the entry in the history, which the reader's own steps fill.
    waiting = setTimeout(() => {
      history.replaceState(null, "", fragmentOf(page.current(), head, page.look()));
    }, STILL);
  });
}

/** Whether a fragment is the link to a part of the page, such as its cautions. */
function namesPart(fragment: string): boolean {
  return !fragment.includes("=") && document.getElementById(fragment.slice(1)) !== null;
}
