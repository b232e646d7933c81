/** Round numbers for axes, and lines drawn over them. */

/** Ticks of an axis: round numbers between two ends, at most so many and some. */
export function ticks(low: number, high: number, most: number): number[] {
  const rough = (high - low) / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((each) => each * power >= rough) ?? 10);
  const found: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) {
    found.push(Number((k * step).toPrecision(12)));
  }
  return found;
}

export function most(values: ArrayLike<number>): number {
  let found = -Infinity;
  for (let i = 0; i < values.length; i++) found = Math.max(found, values[i]!);
  return found;
}

export function least(values: ArrayLike<number>): number {
  let found = Infinity;
  for (let i = 0; i < values.length; i++) found = Math.min(found, values[i]!);
  return found;
}

/** Value at a place between others that rise. */
export function between(places: ArrayLike<number>, values: ArrayLike<number>, at: number): number {
  const last = places.length - 1;
  if (at <= places[0]!) return values[0]!;
  for (let i = 1; i <= last; i++) {
    if (places[i]! >= at) {
      const share = (at - places[i - 1]!) / (places[i]! - places[i - 1]!);
      return values[i - 1]! + share * (values[i]! - values[i - 1]!);
    }
  }
  return values[last]!;
}
