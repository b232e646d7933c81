/**
 * What changes, for those who do not look at it: said once the hand is still, not at every step.
 */

/** So long after the last change a reader is taken to have stopped [ms]. */
export const STILL = 700;

/** A function that lets a text be read out; of several in a row only the last is. */
export function announcer(host: HTMLElement): (text: string) => void {
  const told = document.createElement("p");
  told.className = "told";
  told.setAttribute("role", "status");
  told.setAttribute("aria-live", "polite");
  host.append(told);
  let waiting = 0;
  return (text) => {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(() => {
      told.textContent = text;
    }, STILL);
  };
}
