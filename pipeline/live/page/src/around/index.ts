/** What stands around the live page's pictures: its address, what can be copied, the 3-D view. */

import type { Model, Outcome, Setting } from "../contract";
import "./around.css";
import { share, type Settable } from "./share";
import { solid } from "./solid";

export { announcer } from "./announce";

/** The page's state: what is set, and what is shown of it, told now and after every change. */
export interface Page extends Settable {
  subscribe(listener: (seen: { shown: Setting; outcome: Outcome }) => void): unknown;
}

/** Mounts what the page has a place for. */
export function surround(model: Model, page: Page): void {
  const buttons = document.getElementById("live-share");
  if (buttons) share(buttons, model.head, page);
  const space = document.getElementById("live-solid");
  if (space) showInSpace(space, model, page);
}

/** A picture in space that follows what is shown while its fold is open. */
function showInSpace(host: HTMLElement, model: Model, page: Page): void {
  const picture = solid(host, model.head);
  const fold = host.closest("details");
  let show = (): void => undefined;
  page.subscribe(({ shown, outcome }) => {
    show = () => picture.show({ wires: model.wires(shown.variant, shown), outcome });
    if (!fold || fold.open) show();
  });
  fold?.addEventListener("toggle", () => {
    if (fold.open) show();
  });
}
