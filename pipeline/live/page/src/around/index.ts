/** What stands around the live page's figures: its address, what can be copied, and the 3-D view. */

import type { Model, Outcome, Setting } from "../contract";
import "./around.css";
import { share, type Settable } from "./share";
import { solid } from "./solid";

export { announcer } from "./announce";
export type { Settable } from "./share";

/** Mounts what the page has a place for. */
export function surround(model: Model, page: Settable): void {
  const buttons = document.getElementById("live-share");
  if (buttons) share(buttons, model.head, page);
  const space = document.getElementById("live-solid");
  if (space) showInSpace(space, model, page);
}

/** A picture in space that follows the setting while its fold is open. */
function showInSpace(host: HTMLElement, model: Model, page: Settable): void {
  const picture = solid(host, model.head);
  const fold = host.closest("details");
  const show = (setting: Setting, outcome: Outcome): void => {
    if (fold && !fold.open) return;
    picture.show({ wires: model.wires(setting.variant, setting), outcome });
  };
  const now = (): void => show(page.current(), page.outcome());
  now();
  fold?.addEventListener("toggle", now);
  page.watch(show);
}
