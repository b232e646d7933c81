/**
 * Boxes that the pictures are drawn in, in their own units: those of the still pictures, which
 * `pipeline/report/first_pictures.py` draws for paper and for readers without scripts.
 */

export interface Box {
  wide: number;
  tall: number;
  left: number;
  top: number;
  right: number;
  bottom: number;
}

export const SIDE: Box = { wide: 360, tall: 400, left: 26, top: 30, right: 26, bottom: 34 };
export const ALONG: Box = { wide: 360, tall: 400, left: 104, top: 30, right: 14, bottom: 46 };
export const FAN = { wide: 300, tall: 178, x: 150, y: 152, radius: 130 };
export const RING = { wide: 240, tall: 226, x: 120, y: 113, radius: 88 };
export const FLAT: Box = { wide: 300, tall: 190, left: 40, top: 12, right: 12, bottom: 34 };

/** Current as colour and as width of the cable: so many steps, from the least to the most wide. */
export const STEPS = 10;
export const LEAST_WIDE = 1.5;
export const MOST_WIDE = 15;
