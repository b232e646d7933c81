/** Match over the band, drawn while its fold is open: Smith chart and SWR. */

import type { OverBand } from "../contract";
import { FLAT } from "./boxes";
import { element, picture, put, shape, tell } from "./dom";
import { axes, curvePath } from "./flat";
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

function swrOver(): Drawing {
  const board = picture(FLAT.wide, FLAT.tall, "flat");
  const ground = shape("g", {});
  const lines = LOOKS.map((look) => shape("path", { class: look }));
  const now = shape("path", { class: "needle" });
  const drawing = shape("g", { role: "img" }, ground, now, ...lines);
  board.append(drawing);
  return {
    board,
    draw(seen) {
      const bands = [seen.bare.band, seen.ideal.band, seen.outcome.band];
      const f = bands[2]!.frequency;
      const across = {
        ...{ low: f[0]! / 1e6, high: f[f.length - 1]! / 1e6 },
        ...{ from: FLAT.left, to: FLAT.wide - FLAT.right },
      };
      const high = Math.min(HIGHEST, Math.max(LEAST, ...bands.map((each) => 1.05 * most(each.swr))));
      const upwards = { low: 1, high, from: FLAT.tall - FLAT.bottom, to: FLAT.top };
      const steps = ticks(across.low, across.high, 4);
      ground.replaceChildren(...axes(across, upwards, steps, "frequency [MHz], SWR at the antenna"));
      bands.forEach((each, k) => {
        const x = Array.from(each.frequency, (hertz) => hertz / 1e6);
        put(lines[k]!, { d: curvePath({ look: LOOKS[k]!, x, y: each.swr }, across, upwards) });
      });
      const share = (seen.setting.frequency / 1e6 - across.low) / (across.high - across.low);
      const x = across.from + share * (across.to - across.from);
      put(now, { d: `M${x.toFixed(1)} ${upwards.from}V${upwards.to}` });
      const said = bands.map((each) => swr(most(each.swr)));
      const label = `SWR over the band: up to ${said[2]}, without a choke ${said[0]}, ideal ${said[1]}`;
      put(drawing, { "aria-label": label });
    },
  };
}

function told(at: OverBand): string {
  const z = ohms([at.r[0]!, at.x[0]!]);
  return `${z} at the antenna, SWR ${swr(at.swr[0]!)} there and ${swr(at.swrRadio[0]!)} at the radio`;
}

/** Mounts both pictures; what is folded away is not drawn. */
export function bandView(host: HTMLElement, state: State): void {
  const drawings = [smith(state), swrOver()];
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
