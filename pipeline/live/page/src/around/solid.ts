/**
 * The installation and its pattern in space, turned by hand: wires as wide as their current, the
 * pattern as rings of one elevation each, drawn in one ink and stacked like the contours of a hill.
 *
 * A painter on a plain canvas: all pieces are sorted by depth, then drawn in a few strokes. It
 * draws only while its fold is open.
 */

import type { Head, Outcome, Wires } from "../contract";
import { paint, type Inks } from "./painter";
import { placed, type Placed } from "./scene";

/** What is to be shown of an outcome. */
export interface Shown {
  wires: Wires;
  outcome: Pick<Outcome, "wires" | "pattern" | "refused">;
}

export interface Solid {
  show(shown: Shown): void;
}

/** Degrees of a step of an arrow key, and how many a pixel of a drag is. */
const STEP = 5;
const A_PIXEL = 0.4;
const BEGINS = { turn: 235, tilt: 20 };

/** A picture that can be turned, with its controls, at the end of a host. */
export function solid(host: HTMLElement, head: Head): Solid {
  const canvas = document.createElement("canvas");
  canvas.className = "solid";
  canvas.setAttribute("role", "img");
  const turn = slider("Turn", 0, 360, BEGINS.turn);
  const tilt = slider("Tilt", 0, 90, BEGINS.tilt);
  const controls = document.createElement("p");
  controls.className = "solid-turns";
  controls.append(turn.label, tilt.label);
  const key = document.createElement("p");
  key.className = "small";
  host.append(canvas, controls, key);
  const fold = host.closest("details");
  let scene: Placed | null = null;
  let asked = 0;

  const draw = (): void => {
    asked = 0;
    if (!scene || (fold && !fold.open)) return;
    const turned = { turn: turn.input.valueAsNumber, tilt: tilt.input.valueAsNumber };
    paint(canvas, scene, turned, inks());
  };
  const again = (): void => {
    asked ||= requestAnimationFrame(draw);
  };
  for (const each of [turn, tilt]) each.input.addEventListener("input", again);
  fold?.addEventListener("toggle", again);
  new ResizeObserver(again).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
  turnByHand(canvas, turn.input, tilt.input, again);
  return {
    show({ wires, outcome }) {
      scene = outcome.refused ? null : placed(wires, outcome, head);
      canvas.hidden = !scene;
      if (!scene) return;
      canvas.setAttribute("aria-label", scene.said);
      key.textContent = scene.key;
      again();
    },
  };
}

interface Slider {
  label: HTMLLabelElement;
  input: HTMLInputElement;
}

function slider(word: string, low: number, high: number, value: number): Slider {
  const label = document.createElement("label");
  const input = document.createElement("input");
  Object.assign(input, { type: "range", min: low, max: high, step: STEP, value });
  label.append(`${word} `, input);
  return { label, input };
}

/** A drag on the picture moves its sliders, so that there is one place where it is kept. */
function turnByHand(
  canvas: HTMLCanvasElement,
  turn: HTMLInputElement,
  tilt: HTMLInputElement,
  again: () => void,
): void {
  let from: { x: number; y: number; turn: number; tilt: number } | null = null;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    const { clientX: x, clientY: y } = event;
    from = { x, y, turn: turn.valueAsNumber, tilt: tilt.valueAsNumber };
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!from) return;
    const turned = from.turn - A_PIXEL * (event.clientX - from.x);
    // Finer than a step of the keys, so that it follows the hand.
    turn.step = tilt.step = "1";
    turn.valueAsNumber = ((turned % 360) + 360) % 360;
    tilt.valueAsNumber = from.tilt + A_PIXEL * (event.clientY - from.y);
    again();
  });
  for (const end of ["pointerup", "pointercancel"] as const) {
    canvas.addEventListener(end, () => {
      from = null;
      turn.step = tilt.step = String(STEP);
    });
  }
}

/** Colours of the page as it stands, dark or light. */
function inks(): Inks {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(name).trim();
  return { ink: of("--ink"), soft: of("--soft"), paper: of("--paper"), current: of("--warn") };
}
