/** The live page's own part of the document: what a reader sets, and what follows from it. */

import type { Model } from "../contract";
import "./live.css";

/** Puts the page to work on a solved study. */
export function start(model: Model): void {
  document.documentElement.dataset["live"] = model.head.name;
}
