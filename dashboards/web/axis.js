// Round numbers and round times for the scales of a picture.

import { offset } from './time.js';

// round gives 1, 2 or 5 times a power of ten, not less than x.
export function round(x) {
  const power = 10 ** Math.floor(Math.log10(x));
  return [1, 2, 5, 10].find((m) => m * power >= x * 0.999) * power;
}

export const decimals = (ticks) => (ticks.length < 2 ? 0 : Math.max(0, -Math.floor(Math.log10(ticks[1] - ticks[0]) + 1e-9)));

const MIN = 60_000;
const HOUR = 60 * MIN;
const STEPS = [1000, 2000, 5000, 10_000, 30_000, MIN, 2 * MIN, 5 * MIN, 10 * MIN, 15 * MIN, 30 * MIN, HOUR, 2 * HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR, 24 * HOUR, 48 * HOUR, 168 * HOUR, 720 * HOUR];
export const timeStep = (least) => STEPS.find((s) => s >= least) ?? STEPS.at(-1);

// timeTicks lie on round times of the site's clock, also across the change to and from summer time.
export function timeTicks(from, to, step) {
  const out = [];
  const first = Math.ceil((from + offset(from)) / step) * step;
  for (let wall = first; out.length < 400; wall += step) {
    const guess = wall - offset(from);
    const t = wall - offset(wall - offset(guess));
    if (t > to) break;
    if (t >= from && t > (out.at(-1) ?? -Infinity)) out.push(t); // a time the clock skips lies on the one before
  }
  return out;
}
