// One still: the row in large, the course of the run, past runs, and what each channel is worth.

import { el } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { live, now, onLive } from './live.js';
import { digits, onUnits, say, system } from './units.js';
import { lasting, ms, when } from './time.js';
import * as act from './act.js';
import { get } from './fetch.js';
import { Row } from './row.js';
import { Channels } from './channels.js';
import { Course, around, guidesOf } from './course.js';
import { perWords, basisWords } from './runwords.js';
import { verdictMark } from './glyphs.js';

const name = decodeURIComponent(location.pathname.split('/')[2] ?? '');
const at = `/api/stills/${encodeURIComponent(name)}`;
const byId = (id) => document.getElementById(id);

document.title = `${name} – luted`;
frame('still', name);

const row = new Row(act, 'h1', byId('lead'));
const course = new Course(name, at);
const channels = new Channels(byId('channels'), name);

// ---- past runs ----

async function runs() {
  course.runs = (await get(`${at}/runs?limit=30`)).runs;
  const box = byId('runs');
  if (!course.runs.length) return box.replaceChildren(el('p', { class: 'empty' }, 'No run has ended yet.'));
  const heads = ['Run', 'Began', 'Verdict', ['Lasted'], ['Recovered'], ['Energy'], [system() === 'us' ? 'kWh per gal' : 'kWh per L'], ['To target'], ['Leak'], ['Dry after'], 'What was found'];
  box.replaceChildren(el('table', {},
    el('thead', {}, el('tr', {}, heads.map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))),
    el('tbody', {}, course.runs.map(runLine))));
}

function runLine(run) {
  const start = ms(run.start);
  const n = (words, title) => el('td', { class: 'n', title }, words);
  const amount = (v, d) => (v === undefined ? '–' : say(v, d));
  const v = run.vacuum ?? {};
  const found = [run.why, ...(run.faults ?? []).map((f) => site.words.faults[f] ?? f)].filter(Boolean);
  return el('tr', {},
    el('th', { scope: 'row' }, el('button', { type: 'button', onclick: () => { course.choose('run', around(run)); byId('chart').scrollIntoView({ block: 'center' }); } }, `${run.run}`, el('span', { class: 'unseen' }, ' show its trend'))),
    el('td', {}, when(start, now())), el('td', {}, verdictMark(run.verdict)), n(lasting((ms(run.end) - start) / 1000)),
    n(amount(run.recovered_l, 'volume'), run.recovered_basis), n(amount(run.energy_kwh, 'energy'), run.energy_basis), n(perWords(run), basisWords(run)),
    n(v.time_to_target_s === undefined ? '–' : lasting(v.time_to_target_s)),
    n(v.leak_mbar_l_s === undefined ? '–' : `${digits(v.leak_mbar_l_s)} mbar·L/s`),
    n(run.dry_at ? lasting((ms(run.dry_at) - start) / 1000) : '–', run.dry_basis),
    el('td', { class: 'why-cell' }, found.length ? found.map((f) => f.replace(/\.$/, '')).join('. ') : '–'));
}

// ---- channels ----

async function detail() {
  const d = await get(at);
  course.guides = guidesOf(d);
  course.paint();
  channels.show(d.channels);
}

// What the devices sent is asked for while somebody looks at it.
const RAW = 5000;
let inSight = false;
new IntersectionObserver(([e]) => { inSight = e.isIntersecting; }).observe(byId('channels'));
setInterval(async () => {
  if (!inSight || document.hidden || !live.connected) return;
  const d = await get(at).catch(() => null);
  if (d) channels.raw(d.channels);
}, RAW);

// ---- together ----

let lastRuns = '';
let wasLive = true;

onLive(() => {
  const still = live.stills.get(name);
  if (!still) return;
  row.update(still);
  channels.readings();
  if (!live.connected) { wasLive = false; return; }
  const key = `${still.run} ${still.runs}`;
  if (key !== lastRuns) {
    lastRuns = key;
    runs().catch(() => { lastRuns = ''; }).then(() => (course.trend ? course.past || course.refresh() : course.begin()));
  }
  course.live(still, !wasLive);
  wasLive = true;
});

onUnits(() => {
  const still = live.stills.get(name);
  if (still) row.update(still);
  lastRuns = '';
  detail();
  course.paint();
});

detail().catch((problem) => byId('channels').replaceChildren(el('p', { class: 'empty' }, problem.message)));
