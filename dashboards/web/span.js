// The stretch of time that is shown: a range that ends now, a run, or any other. Times are ms.

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

export const RANGES = [['run', 'This run'], ['1min', '1 min', MINUTE], ['10min', '10 min', 10 * MINUTE], ['1h', '1 h', HOUR], ['8h', '8 h', 8 * HOUR], ['24h', '24 h', DAY],
  ['7d', '7 days', 7 * DAY], ['30d', '30 days', 30 * DAY], ['1y', '1 year', 366 * DAY]];

const LEAST = 20_000;
const MOST = 730 * DAY; // what luted gives at once

// moved gives the stretch after a pan by a share of itself.
export function moved(w, by, now) {
  const d = Math.min(by * (w.to - w.from), now + 0.5 * (w.to - w.from) - w.to);
  return { from: w.from + d, to: w.to + d };
}

// zoomed gives the stretch that is factor times as long, with the moment at share where it was.
export function zoomed(w, factor, share, now) {
  const length = Math.max(LEAST, Math.min(MOST, (w.to - w.from) * factor));
  const at = w.from + share * (w.to - w.from);
  const from = at - share * length;
  const ahead = Math.max(0, from + length - now - 0.5 * length);
  return { from: from - ahead, to: from + length - ahead };
}

// written and read put a stretch into an address, as ISO 8601 writes intervals, and take it out.
export const written = (w) => [w.from, w.to].map((t) => new Date(Math.round(t / 1000) * 1000).toISOString().replace('.000', '')).join('/');

export function read(words) {
  const [from, to] = words.split('/').map((s) => Date.parse(s));
  return to - from >= LEAST / 2 && to - from <= MOST ? { from, to } : null;
}
