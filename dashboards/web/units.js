// Numbers for people. JSON carries inside units; the table from /api/site says how they are read here.

import { recall, remember } from './memo.js';
import { site } from './site.js';

const KEY = 'luted.units';
const watchers = new Set();

// system is the choice of this person, or else of the site.
export function system() {
  const own = recall(KEY);
  return own === 'us' || own === 'metric' ? own : site.display;
}

export function choose(which) {
  remember(KEY, which);
  for (const f of watchers) f();
}

export const onUnits = (f) => watchers.add(f);

const plain = (unit) => ({ symbol: unit ?? '', factor: 1, offset: 0, places: null });

// unitOf is the display unit of a dimension; a channel of the site's own keeps its unit.
export const unitOf = (dimension, own) => site.units[system()][dimension] ?? plain(own);

export const convert = (inside, unit) => (inside - unit.offset) / unit.factor;

// digits writes a number with the decimals of its unit, or with three figures where there are none.
export function digits(value, places) {
  if (!Number.isFinite(value)) return '–';
  const p = places ?? Math.max(0, Math.min(4, 2 - Math.floor(Math.log10(Math.abs(value) || 1))));
  const s = value.toFixed(p);
  return Number(s) === 0 ? s.replace('-', '') : s;
}

// inUnits is a text of something in the units of this person; the site's own where there is no other.
export const inUnits = (what, key) => what[`${key}_${system()}`] ?? what[key];

// show gives a number and its unit apart, so that the unit can be set small.
export function show(inside, dimension, own) {
  const u = unitOf(dimension, own);
  return { number: digits(convert(inside, u), u.places), unit: u.symbol };
}

export function say(inside, dimension, own) {
  const { number, unit } = show(inside, dimension, own);
  return unit ? `${number} ${unit}` : number;
}

// per turns an amount for a gallon into an amount for the volume people here use.
export function perVolume(perGallon) {
  const gallon = site.units.us.volume.factor;
  return system() === 'us' ? { value: perGallon, unit: 'gal' } : { value: perGallon / gallon, unit: 'L' };
}
