// Two runs or more laid over each other from their start, and their figures side by side. Each run keeps its
// dash and its name through all pictures.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { now, onLive } from './live.js';
import { convert, digits, onUnits, perVolume, say, system, unitOf } from './units.js';
import { lasting, ms, when } from './time.js';
import { get } from './fetch.js';
import { verdictMark } from './glyphs.js';
import { basisWords, perWords, recordPage } from './runwords.js';
import { DASHES, INKS, Plot, hourTicks, sample } from './plot.js';

const byId = (id) => document.getElementById(id);
const asked = new URLSearchParams(location.search).get('runs') ?? '';

frame('compare');

// What is laid over: the first of the names that a run has is taken.
const PICTURES = [
  { title: 'Oil temperature', names: ['jacket_temperature'], dimension: 'temperature', height: 210 },
  { title: 'Charge or vapour temperature', names: ['charge_temperature', 'vapor_temperature'], dimension: 'temperature', height: 190 },
  { title: 'Pressure in the still', names: ['pressure', 'still_pressure'], dimension: 'absolute pressure', height: 190, zero: true },
  { title: 'Heater power', names: ['heater_power'], dimension: 'power', height: 140, zero: true },
  { title: 'Distillate come over', names: ['distillate_volume'], dimension: 'volume', height: 170, zero: true },
  { title: 'Distillate come over', names: ['distillate_mass'], dimension: 'mass', height: 170, zero: true },
];

let data = null;
let shown = [];
let span = 0;

const nameOf = (r) => `${r.still} ${r.run}`;

async function load() {
  try {
    data = (await get(`/api/compare?runs=${encodeURIComponent(asked)}&points=400`)).runs;
  } catch (problem) {
    return text(byId('headline'), `The runs cannot be compared: ${problem.message}`);
  }
  text(byId('headline'), `${data.map((d) => nameOf(d.run)).join(', ').replace(/, ([^,]*)$/, ' and $1')} compared.`);
  document.title = `${data.map((d) => nameOf(d.run)).join(', ')} – luted`;
  byId('samples').replaceChildren(...data.map((d, i) => el('span', {}, sample(INKS[i], DASHES[i]), el('b', {}, nameOf(d.run)), `began ${when(ms(d.run.start), now())}`)));
  span = Math.max(...data.map((d) => ms(d.run.end) - ms(d.run.start)));
  const own = (p) => data.map((d) => p.names.map((n) => d.trend.series.find((s) => s.name === n && s.mean.some((v) => v !== null))).find(Boolean) ?? null);
  shown = PICTURES.map((p) => ({ ...p, series: own(p) })).filter((p) => p.series.some(Boolean));
  byId('over').hidden = !shown.length;
  byId('pictures').replaceChildren(...shown.flatMap((p) => {
    p.heading = el('h3');
    const box = el('div');
    p.plot = new Plot(box);
    box.addEventListener('pointermove', (e) => point(p.plot.x?.(e.clientX)));
    return [p.heading, box];
  }));
  draw();
}

const at = () => (Number(byId('moment').value) / 1000) * span;

function point(t) {
  if (t === undefined) return;
  byId('moment').value = String(Math.round((1000 * t) / span));
  draw();
}

// valueAt is the reading nearest before a moment, if it is near enough to count.
function valueAt(d, s, t) {
  const times = d.trend.times_s;
  let i = -1;
  while (i + 1 < times.length && times[i + 1] * 1000 <= t) i++;
  if (i < 0 || t - times[i] * 1000 > 1000 * d.trend.gap_s) return null;
  return s.mean[i];
}

let waiting = false;

function draw() {
  if (waiting || !data) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    const t = at();
    for (const p of shown) {
      const u = unitOf(p.dimension);
      text(p.heading, `${p.title}, ${u.symbol}`);
      const marks = data.map((d, i) => p.series[i] && {
        name: nameOf(d.run), ink: INKS[i], dash: DASHES[i],
        line: d.trend.times_s.flatMap((s, k) => {
          const gap = k > 0 && s - d.trend.times_s[k - 1] > d.trend.gap_s ? [[Math.max(0, s * 1000), null]] : [];
          const v = p.series[i].mean[k];
          return [...gap, [Math.max(0, s * 1000), v === null ? null : convert(v, u)]];
        }),
      }).filter(Boolean);
      p.plot.show({ says: `${p.title} of ${data.map((d) => nameOf(d.run)).join(', ')} from the start of each run; the table below has the values at any moment.`, height: p.height, x: { from: 0, to: span, ticks: hourTicks(span) }, y: { zero: p.zero }, marks, at: t });
    }
    const words = `${lasting(t / 1000)} from the start`;
    text(byId('said'), words);
    attr(byId('moment'), 'aria-valuetext', words);
    byId('values').replaceChildren(el('table', {}, el('thead', {}, el('tr', {}, el('th', { scope: 'col' }, words), data.map((d) => el('th', { scope: 'col', class: 'n' }, nameOf(d.run))))),
      el('tbody', {}, shown.map((p) => el('tr', {}, el('th', { scope: 'row' }, p.title), data.map((d, i) => {
        const v = p.series[i] ? valueAt(d, p.series[i], t) : null;
        return el('td', { class: 'n' }, v === null ? t > ms(d.run.end) - ms(d.run.start) ? 'over' : '–' : say(v, p.dimension));
      }))))));
    figures();
  });
}

byId('moment').addEventListener('input', draw);

// ---- figures ----

const or = (v, words) => (v === undefined ? '–' : words(v));
const phaseLength = (r, name) => { const p = (r.phases ?? []).filter((x) => x.name === name); return p.length ? lasting(p.reduce((s, x) => s + ms(x.end) - ms(x.start), 0) / 1000) : '–'; };

function rows() {
  const volume = system() === 'us' ? 'gal' : 'L';
  return [
    ['Verdict', (r) => verdictMark(r.verdict)],
    ['What was found', (r) => (r.faults ?? []).map((f) => site.words.faults[f] ?? f).join(', ') || '–', true],
    ['Solvent', (r) => r.solvent ?? '–'],
    ['Lasted', (r) => lasting((ms(r.end) - ms(r.start)) / 1000)],
    ...site.phase_order.map((p) => [`of it ${site.words.phases[p] ?? p}`, (r) => phaseLength(r, p)]),
    ['Time to the vacuum target', (r) => or(r.vacuum?.time_to_target_s, lasting)],
    ['End pressure of the pump-down', (r) => or(r.vacuum?.end_pressure_kpa, (v) => say(v, 'absolute pressure'))],
    ['Time constant of the pump-down', (r) => or(r.vacuum?.tau_s, (v) => `${digits(v, 0)} s`)],
    ['Leak', (r) => or(r.vacuum?.leak_mbar_l_s, (v) => `${digits(v)} mbar·L/s`)],
    ['Boiling plateau', (r) => or(r.boiling?.plateau_c, (v) => say(v, 'temperature'))],
    ['Dry after', (r) => or(r.dry_at, (v) => `${lasting((ms(v) - ms(r.start)) / 1000)}${r.dry_basis ? `, by ${r.dry_basis}` : ''}`), true],
    ['Heated on past dry', (r) => or(r.past_dry_s, lasting)],
    ['Recovered', (r) => or(r.recovered_l, (v) => `${say(v, 'volume')}${r.recovered_l_u === undefined ? '' : ` ± ${digits(convert(r.recovered_l_u, unitOf('volume')), 1)}`}, ${basisWords(r)}`), true],
    ['Energy', (r) => or(r.energy_kwh, (v) => `${say(v, 'energy')}${r.energy_kwh_u === undefined ? '' : ` ± ${digits(r.energy_kwh_u, 1)}`}, by ${r.energy_basis}`), true],
    [`Energy for each ${volume}`, (r) => or(r.kwh_per_gal, () => `${perWords(r)} kWh/${volume}`)],
    ['Least that physics allows', (r) => or(r.minimum_kwh_per_gal, (v) => `${digits(perVolume(v).value, 2)} kWh/${volume}`)],
    ['To be expected by the baseline', (r) => or(r.expected_kwh, (v) => say(v, 'energy'))],
  ];
}

function figures() {
  const box = byId('figures');
  const key = system();
  if (box.dataset.key === key) return;
  box.dataset.key = key;
  box.replaceChildren(el('table', {}, el('thead', {}, el('tr', {}, el('th', { scope: 'col' }, 'Figure'),
    data.map((d) => el('th', { scope: 'col' }, el('a', { href: recordPage(d.run) }, nameOf(d.run)))))),
  el('tbody', {}, rows().map(([words, of, wrap]) => el('tr', {}, el('th', { scope: 'row' }, words), data.map((d) => el('td', { class: wrap ? 'wrap' : null }, of(d.run))))))),
  el('p', { class: 'note' }, 'A standard uncertainty stands behind ±. A dash is what cannot be known from the channels of that still.'));
}

let begun = false;
onLive(() => { if (!begun) { begun = true; load(); } });
onUnits(() => { if (data) { draw(); } });
