// One still: the row in large, the course of the run, past runs, and what each channel is worth.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { live, now, onLive, age, stale } from './live.js';
import { digits, onUnits, perVolume, say, show, system } from './units.js';
import { lasting, ms, seconds, when } from './time.js';
import * as act from './act.js';
import { Row } from './row.js';
import { Chart } from './chart.js';
import { verdictMark } from './glyphs.js';

const name = decodeURIComponent(location.pathname.split('/')[2] ?? '');
const at = `/api/stills/${encodeURIComponent(name)}`;
const byId = (id) => document.getElementById(id);

document.title = `${name} – luted`;
frame('still', name);

const row = new Row(act, 'h1', byId('lead'));
const chart = new Chart(byId('chart'), (pointed, time, words) => {
  const old = live.stills.get(name) && stale(live.stills.get(name));
  text(byId('moment'), pointed === null
    ? `${old || view.past ? 'Last' : 'Latest'} values shown, ${when(time, now())}. Point at the trend, or use the arrow keys, to read earlier ones.`
    : words);
});

async function get(path) {
  const answer = await fetch(path, { cache: 'no-store' });
  if (!answer.ok) throw new Error((await answer.json().catch(() => null))?.detail ?? `luted answered ${answer.status}`);
  return answer.json();
}

// ---- the course ----

const HOUR = 3_600_000;
const RANGES = [['run', 'This run'], ['1h', '1 h', HOUR], ['8h', '8 h', 8 * HOUR], ['24h', '24 h', 24 * HOUR], ['7d', '7 days', 168 * HOUR], ['30d', '30 days', 720 * HOUR]];

// view is what is shown: a range that ends now, or a stretch of the past.
const view = { range: 'run', past: null, trend: null, fetched: 0, busy: false, seen: '' };

const buttons = new Map(RANGES.map(([id, words]) => [id, el('button', { type: 'button', onclick: () => choose(id) }, words)]));
const earlier = el('button', { type: 'button', onclick: () => shift(-0.5) }, 'Earlier');
const later = el('button', { type: 'button', onclick: () => shift(0.5) }, 'Later');
byId('ranges').append(...buttons.values(), earlier, later);

function choose(range, past) {
  view.range = range;
  view.past = past ?? null;
  chart.at = null;
  const hash = past?.run ? `#run-${past.run}` : past ? location.hash : `#${range}`;
  if (hash !== location.hash) history.replaceState(null, '', hash);
  refresh();
}

function shift(by) {
  const w = window();
  const span = w.to - w.from;
  const to = Math.min(w.to + by * span, now());
  if (to >= now() - span * 0.01 && by > 0) return choose(view.range);
  choose(view.range, { from: to - span, to });
}

// window is the stretch of time that the picture spans, in ms.
function window() {
  if (view.past) return { from: view.past.from, to: view.past.to, live: false };
  const still = live.stills.get(name);
  const t = now();
  const length = RANGES.find(([id]) => id === view.range)?.[2];
  if (length) return { from: t - length, to: t, live: true };
  if (still?.run > 0 && still.run_start) {
    const from = ms(still.run_start) - 30_000;
    return { from, to: Math.max(t + 0.04 * (t - from), t + (still.remaining_s ?? 0) * 1000, from + 10 * 60_000), live: true };
  }
  if (still?.last_run) return { ...around(still.last_run), live: false };
  return { from: t - 8 * HOUR, to: t, live: true };
}

function around(run) {
  const from = ms(run.start);
  const to = ms(run.end);
  const margin = 0.02 * (to - from);
  return { from: from - margin, to: to + margin, run: run.run };
}

async function refresh() {
  for (const [id, b] of buttons) attr(b, 'aria-pressed', String(!view.past && id === view.range));
  text(buttons.get('run'), live.stills.get(name)?.run > 0 ? 'This run' : 'Last run');
  later.disabled = !view.past;
  const w = window();
  const end = Math.min(w.to, now());
  const range = `from=${new Date(w.from).toISOString()}&to=${new Date(end).toISOString()}`;
  attr(byId('csv'), 'href', `${at}/recording.csv?${range}`);
  if (view.busy) { view.again = true; return; }
  view.busy = true;
  try {
    const points = Math.max(200, Math.min(1600, Math.round(byId('chart').clientWidth * 0.9)));
    view.trend = await get(`${at}/trend?${range}&points=${points}`);
    view.fetched = performance.now();
    view.seen = view.trend.now;
    paint();
  } catch (problem) {
    text(byId('shown'), `The trend cannot be shown: ${problem.message}`);
  }
  view.busy = false;
  if (view.again) { view.again = false; refresh(); }
}

function paint() {
  if (!view.trend) return;
  const still = live.stills.get(name);
  const w = window();
  const t = view.trend;
  const priorities = new Map((still?.alarms ?? []).map((a) => [a.fault + (a.channel ?? ''), a.priority]));
  chart.show(t, w, {
    now: Math.min(now(), w.to),
    forecast: w.live ? still?.forecast : undefined,
    floor: w.live && still?.phase === 'pump-down' ? still?.vapor_floor_kpa : undefined,
    guides,
    priority: (f) => priorities.get(f.fault + (f.channel ?? '')),
  });
  const grain = t.bucket_s ? `each point gathers ${lasting(t.bucket_s)}: line the mean, band the least and greatest` : 'every reading as it is';
  const which = view.past?.run ? `Run ${view.past.run}: ` : '';
  text(byId('shown'), `${which}${when(w.from, now())} to ${w.live ? 'now' : when(w.to, now())}, ${grain}.`);
}

// guides are the levels that the configuration states, by dimension.
let guides = {};

function setGuides(detail) {
  const eq = detail.equipment;
  const level = (value, words) => (value === undefined ? [] : [{ value, words }]);
  guides = {
    'temperature': [...level(detail.set_point_c, 'set point'), ...level(eq.oil_limit_c, 'oil limit')],
    'gauge pressure': level(eq.air_minimum_kpa, 'minimum'),
    'percent': level(eq.gas_limit_percent_lel, 'alarm'),
  };
}

// append adds the newest reading to the picture, so that it moves between two fetches.
function append(still) {
  const t = view.trend;
  if (!t || !still.at || !window().live || still.at === view.seen) return;
  view.seen = still.at;
  const at = (ms(still.at) - ms(t.from)) / 1000;
  if (t.times_s.length && at <= t.times_s.at(-1)) return;
  t.times_s.push(at);
  const boils = still.run > 0 && still.phase !== 'cool-down' ? still.saturation_c : undefined;
  for (const s of t.series) {
    const v = { pressure: still.pressure_kpa, saturation_temperature: boils }[s.name] ?? still.values?.[s.name]?.value ?? null;
    s.mean.push(v);
    s.min?.push(v);
    s.max?.push(v);
  }
}

// behind tells that readings were passed over: the stream shows one a second, a still may be read faster.
function behind(still) {
  const last = view.trend.times_s.at(-1);
  return still.at && last !== undefined && (ms(still.at) - ms(view.trend.from)) / 1000 - last > view.trend.gap_s;
}

// ---- past runs ----

async function runs() {
  const got = await get(`${at}/runs?limit=30`);
  const box = byId('runs');
  if (!got.runs.length) return box.replaceChildren(el('p', { class: 'empty' }, 'No run has ended yet.'));
  const heads = ['Run', 'Began', 'Lasted', 'Verdict', ['Recovered'], ['Energy'], [system() === 'us' ? 'kWh per gal' : 'kWh per L'], ['To target'], ['Leak'], ['Dry after'], 'What was found'];
  box.replaceChildren(el('table', {},
    el('thead', {}, el('tr', {}, heads.map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))),
    el('tbody', {}, got.runs.map(runLine))));
}

function runLine(run) {
  const start = ms(run.start);
  const n = (words, title) => el('td', { class: 'n', title }, words);
  const amount = (v, d) => (v === undefined ? '–' : say(v, d));
  const v = run.vacuum ?? {};
  const found = [run.why, ...(run.faults ?? []).map((f) => site.words.faults[f] ?? f)].filter(Boolean);
  return el('tr', {},
    el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => { choose('run', around(run)); byId('chart').scrollIntoView({ block: 'center' }); } }, `${run.run}`, el('span', { class: 'unseen' }, ' show its trend'))),
    el('td', {}, when(start, now())), n(lasting((ms(run.end) - start) / 1000)), el('td', {}, verdictMark(run.verdict)),
    n(amount(run.recovered_l, 'volume'), run.recovered_basis), n(amount(run.energy_kwh, 'energy'), run.energy_basis), n(perWords(run)),
    n(v.time_to_target_s === undefined ? '–' : lasting(v.time_to_target_s)),
    n(v.leak_mbar_l_s === undefined ? '–' : `${digits(v.leak_mbar_l_s, 2)} mbar·L/s`),
    n(run.dry_at ? lasting((ms(run.dry_at) - start) / 1000) : '–', run.dry_basis),
    el('td', { class: 'why-cell' }, found.length ? found.map((f) => f.replace(/\.$/, '')).join('. ') : '–'));
}

function perWords(run) {
  if (run.kwh_per_gal === undefined) return '–';
  const p = perVolume(run.kwh_per_gal).value;
  return run.kwh_per_gal_u === undefined ? digits(p, 2) : `${digits(p, 2)} ± ${digits(perVolume(run.kwh_per_gal_u).value, 2)}`;
}

// ---- channels ----

let channels = null;
const cells = new Map();

async function loadChannels() {
  const detail = await get(at);
  channels = detail.channels;
  setGuides(detail);
  paint();
  cells.clear();
  byId('channels').replaceChildren(el('table', {},
    el('thead', {}, el('tr', {}, ['Channel', ['Value'], 'Quality', 'Last good', 'Limits', 'Read from'].map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))),
    el('tbody', {}, channels.map((c) => {
      const cell = { value: el('td', { class: 'n num' }), quality: el('td'), good: el('td') };
      cells.set(c.name, cell);
      return el('tr', {}, el('th', { scope: 'row' }, c.words, c.analysed ? null : el('small', {}, ' (logged only)')), cell.value, cell.quality, cell.good, el('td', {}, limits(c)), el('td', {}, el('small', {}, c.source ?? '')));
    }))));
  readings();
}

function limits(c) {
  const parts = [];
  if (c.limit_low !== undefined) parts.push(`not below ${say(c.limit_low, c.dimension, c.unit)}`);
  if (c.limit_high !== undefined) parts.push(`not above ${say(c.limit_high, c.dimension, c.unit)}`);
  return parts.join(', ') || '–';
}

function readings() {
  const still = live.stills.get(name);
  if (!channels || !still) return;
  for (const c of channels) {
    const cell = cells.get(c.name);
    const r = still.values?.[c.name];
    const good = r?.value !== undefined;
    if (good) c.last_good = still.at;
    text(cell.value, good ? valueWords(r.value, c) : '–');
    text(cell.quality, r ? site.words.qualities[r.quality] ?? r.quality : 'not measured');
    attr(cell.quality, 'class', r && r.quality !== 'good' && r.quality !== 'missing' ? 'bad' : null);
    text(cell.good, !c.last_good ? 'not known' : good && !stale(still) ? `${lasting(age(still))} ago` : `${lasting((now() - ms(c.last_good)) / 1000)} ago, ${seconds(ms(c.last_good))}`);
  }
}

function valueWords(v, c) {
  if (c.dimension === 'switch') return v >= 0.5 ? 'yes' : 'no';
  const { number, unit } = show(v, c.dimension, c.unit);
  return unit ? `${number} ${unit}` : number;
}

// ---- together ----

let lastRuns = '';
let wasLive = true;

onLive(() => {
  const still = live.stills.get(name);
  if (!still) return;
  row.update(still);
  readings();
  if (!live.connected) { wasLive = false; return; }
  const key = `${still.run} ${still.runs}`;
  if (key !== lastRuns) {
    lastRuns = key;
    runs().catch(() => { lastRuns = ''; });
    if (!view.trend) begin();
    else if (!view.past) refresh();
  }
  const since = performance.now() - view.fetched;
  const every = Math.max(20, view.trend?.bucket_s ?? 0) * 1000;
  if (!wasLive || (view.trend && window().live && !document.hidden && (since > every || (since > 2000 && behind(still))))) refresh();
  else { append(still); if (window().live) paint(); }
  wasLive = true;
});

onUnits(() => {
  const still = live.stills.get(name);
  if (still) row.update(still);
  lastRuns = '';
  loadChannels();
  paint();
});

// begin opens what the address names: a range, or a past run.
async function begin() {
  const [, id] = /^#run-(\d+)$/.exec(location.hash) ?? [];
  if (id) {
    const got = await get(`${at}/runs?limit=500`);
    const run = got.runs.find((r) => String(r.run) === id);
    if (run) return choose('run', around(run));
  }
  const range = location.hash.slice(1);
  choose(buttons.has(range) ? range : 'run');
}

loadChannels().catch((problem) => byId('channels').replaceChildren(el('p', { class: 'empty' }, problem.message)));
