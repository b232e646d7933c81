/** Match over the band, drawn while its fold is open: Smith chart and SWR. */

import type { OverBand } from "../contract";
import { FLAT } from "./boxes";
import { element, picture, put, shape, tell } from "./dom";
import { axes, curvePath, onAxis } from "./flat";
import { most, ticks } from "./scales";
import { smith } from "./smith";
import type { Seen, State } from "./state";
import { megahertz, ohms, swr } from "./words";

/** SWR beyond this interests nobody; below so much of it the axis does not end. */
const HIGHEST = 6;
const LEAST = 1.5;
const LOOKS = ["bare", "ideal", "set"] as const;

interface Drawing {
  board: SVGElement;
  draw(seen: Seen): void;
}

class SwrOver implements Drawing {
  readonly board = picture(FLAT.wide, FLAT.tall, "flat");
  private readonly ground = shape("g", {});
  private readonly lines = LOOKS.map((look) => shape("path", { class: look }));
  private readonly now = shape("path", { class: "needle" });
  private readonly drawing = shape("g", { role: "img" }, this.ground, this.now, ...this.lines);

  constructor() {
    this.board.append(this.drawing);
  }

  draw(seen: Seen): void {
    const bands = [seen.bare.band, seen.ideal.band, seen.outcome.band];
    const f = bands[2]!.frequency;
    const across = {
      ...{ low: f[0]! / 1e6, high: f[f.length - 1]! / 1e6 },
      ...{ from: FLAT.left, to: FLAT.wide - FLAT.right },
    };
    const worst = Math.max(...bands.map((each) => most(each.swr)));
    const high = Math.min(HIGHEST, Math.max(LEAST, 1.05 * worst));
    const upwards = { low: 1, high, from: FLAT.tall - FLAT.bottom, to: FLAT.top };
    const steps = ticks(across.low, across.high, 4);
    const counts = "frequency [MHz], SWR at the antenna";
    this.ground.replaceChildren(...axes(across, upwards, steps, counts));
    bands.forEach((each, k) => {
      const x = Array.from(each.frequency, (hertz) => hertz / 1e6);
      const path = curvePath({ look: LOOKS[k]!, x, y: each.swr }, across, upwards);
      put(this.lines[k]!, { d: path });
    });
    const x = onAxis(seen.setting.frequency / 1e6, across).toFixed(1);
    put(this.now, { d: `M${x} ${upwards.from}V${upwards.to}` });
    const [bare, ideal, own] = bands.map((each) => swr(most(each.swr)));
    const label = `SWR over the band: up to ${own}, without a choke ${bare}, ideal ${ideal}`;
    put(this.drawing, { "aria-label": label });
  }
}

function told(at: OverBand): string {
  const [z, there, radio] = [ohms([at.r[0]!, at.x[0]!]), swr(at.swr[0]!), swr(at.swrRadio[0]!)];
  return `${z} at the antenna, SWR ${there} there and ${radio} at the radio`;
}

/** Mounts both pictures; what is folded away is not drawn. */
export function bandView(host: HTMLElement, state: State): void {
  const drawings = [smith(state), new SwrOver()];
  const text = element("p", {});
  host.append(text, element("div", { class: "pair" }, ...drawings.map((each) => each.board)));
  const fold = host.closest("details");
  const draw = (seen: Seen): void => {
    if (fold && !fold.open) return;
    for (const each of drawings) each.draw(seen);
    const f = megahertz(seen.setting.frequency);
    tell(text, `At ${f}: ${told(seen.outcome.at)}; without a choke ${told(seen.bare.at)}.`);
  };
  state.subscribe(draw);
  fold?.addEventListener("toggle", () => draw(state.now()));
}
