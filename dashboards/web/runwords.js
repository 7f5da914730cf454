// How the figures of a finished run are said.

import { el } from './dom.js';
import { digits, perVolume } from './units.js';

export const recordPage = (r) => `/still/${encodeURIComponent(r.still)}/run/${r.run}`;

// perCell is energy for each volume with its uncertainty, and below it what the volume was measured by.
export function perCell(run) {
  if (run.kwh_per_gal === undefined) return el('td', { class: 'n' }, '–');
  return el('td', { class: 'n' }, perWords(run), el('small', { class: 'below' }, basisWords(run)));
}

export function perWords(run) {
  const p = perVolume(run.kwh_per_gal).value;
  return run.kwh_per_gal_u === undefined ? digits(p, 2) : `${digits(p, 2)} ± ${digits(perVolume(run.kwh_per_gal_u).value, 2)}`;
}

const bases = { volume: 'volume measured', mass: 'weighed', flow: 'flow measured', entered: 'entered by hand', heat: 'estimated from heat' };
export const basisWords = (run) => bases[run.recovered_basis] ?? run.recovered_basis ?? '';
