// Times of day are the site's, whatever the machine that shows the page believes.

import { site } from './site.js';

const format = (options) => new Intl.DateTimeFormat('en-GB', { timeZone: site.time_zone, hourCycle: 'h23', ...options });
const clockFormat = format({ hour: '2-digit', minute: '2-digit' });
const secondFormat = format({ hour: '2-digit', minute: '2-digit', second: '2-digit' });
const dayFormat = format({ weekday: 'short', day: 'numeric', month: 'short' });
const fullFormat = format({ weekday: 'short', day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' });
const dateFormat = format({ year: 'numeric', month: '2-digit', day: '2-digit' });
const partsFormat = format({ year: 'numeric', month: 'numeric', day: 'numeric', hour: 'numeric', minute: 'numeric', second: 'numeric' });

export const clock = (ms) => clockFormat.format(ms);
export const seconds = (ms) => secondFormat.format(ms);
export const day = (ms) => dayFormat.format(ms).replace(',', '');
export const ms = (iso) => (iso ? Date.parse(iso) : null);

// when says a time as short as it is clear: the hour today, with the day otherwise.
export function when(at, now) {
  return dateFormat.format(at) === dateFormat.format(now) ? clock(at) : fullFormat.format(at).replace(',', '');
}

// lasting says a length of time in the two units that matter.
export function lasting(s) {
  s = Math.max(0, Math.round(s));
  if (s < 60) return `${s} s`;
  const m = Math.floor(s / 60);
  if (m < 10) return s % 60 ? `${m} min ${s % 60} s` : `${m} min`;
  if (m < 60) return `${m} min`;
  const h = Math.floor(m / 60);
  if (h < 48) return m % 60 ? `${h} h ${m % 60} min` : `${h} h`;
  const d = Math.floor(h / 24);
  return h % 24 ? `${d} d ${h % 24} h` : `${d} d`;
}

// offset is how far the site's clock is ahead of UTC at a moment, in ms. Not the same all year.
export function offset(at) {
  const p = {};
  for (const { type, value } of partsFormat.formatToParts(at)) p[type] = Number(value);
  return Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute, p.second) - Math.floor(at / 1000) * 1000;
}

// midnight is when a day of the site's calendar begins, in ms; days later if asked for.
export function midnight(date, days = 0) {
  const [y, m, d] = date.split('-').map(Number);
  const wall = Date.UTC(y, m - 1, d + days);
  const guess = wall - offset(wall);
  return wall - offset(guess);
}
