/**
 * Directions as seen from above: bearings where the study says how the antenna stands, north up, or
 * else azimuths from its front, the front up. `models/site/compass.py` has the same.
 */

import type { Head } from "../contract";

const POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split(" ");

export interface Compass {
  /** Angle in the picture, against the clock from the right, of an azimuth [deg]. */
  turn(azimuth: number): number;
  /** Azimuth of an angle in the picture, from 0 to below 360 [deg]. */
  azimuth(turn: number): number;
  /** Short name of a direction, and the same for a sentence. */
  name(azimuth: number): string;
  words(azimuth: number): string;
  /** Azimuths of the four directions that have their names around the ring. */
  marks: readonly number[];
}

function whole(degrees: number): number {
  return ((degrees % 360) + 360) % 360;
}

export function compassOf(head: Head): Compass {
  const { facing } = head;
  const up = 90 - (facing ?? 0);
  const bearing = (azimuth: number): number => Math.round(whole((facing ?? 0) - azimuth)) % 360;
  const name = (azimuth: number): string =>
    facing === null
      ? `${Math.round(whole(azimuth))}°`
      : POINTS[Math.round(bearing(azimuth) / 22.5) % POINTS.length]!;
  return {
    turn: (azimuth) => up + azimuth,
    azimuth: (turn) => whole(turn - up),
    name,
    words: (azimuth) => {
      if (facing === null) return `azimuth ${name(azimuth)}`;
      return `${name(azimuth)}, bearing ${bearing(azimuth)}°`;
    },
    marks: [0, 90, 180, 270].map((turn) => (facing ?? 0) - turn),
  };
}
