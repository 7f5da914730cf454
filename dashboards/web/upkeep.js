// What is to be looked after: counters, what is coming at the present pace, who did what and when, and how
// tight each still is, with the runs that are left until its vacuum will fall short.

import { el, text } from './dom.js';
import { frame } from './frame.js';
import { live, now, onEntry, onLive } from './live.js';
import { convert, digits, onUnits, say, unitOf } from './units.js';
import { lasting, ms, when, day } from './time.js';
import { get, query } from './fetch.js';
import { done } from './act.js';
import { priorityGlyph } from './glyphs.js';
import { Plot } from './plot.js';
import { recordPage } from './runwords.js';

const byId = (id) => document.getElementById(id);
const form = byId('choose');
const wanted = new URLSearchParams(location.search).get('still');
let data = null;

frame('upkeep');
const wear = new Plot(byId('wear'));
const leak = new Plot(byId('leak'));

async function load() {
  try {
    data = await get('/api/upkeep');
  } catch (problem) {
    return text(byId('headline'), `Upkeep cannot be shown: ${problem.message}`);
  }
  const select = form.elements.still;
  const was = select.value || wanted || data.stills.find((s) => s.wear.grows)?.still || '';
  select.replaceChildren(...data.stills.map((s) => el('option', { value: s.still }, s.still)));
  if (data.stills.some((s) => s.still === was)) select.value = was;
  draw();
}

form.addEventListener('submit', (e) => e.preventDefault());
form.addEventListener('change', () => { history.replaceState(null, '', location.pathname + query({ still: form.elements.still.value })); drawWear(); });

const WEEK = 7;
const table = (heads, rows) => el('table', { class: heads.at(-1) === '' ? 'stack' : null }, el('thead', {}, el('tr', {}, heads.map((h) => (h === '' ? el('td', {}) : el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h))))), el('tbody', {}, rows));
const stillLink = (name) => el('a', { href: `/still/${encodeURIComponent(name)}` }, name);

function draw() {
  if (!data) return;
  const items = data.stills.flatMap((s) => s.items.map((it) => ({ ...it, still: s.still })));
  const due = items.filter((it) => it.due);
  const soon = items.filter((it) => !it.due && it.coming && it.coming.in_days <= WEEK).sort((a, b) => a.coming.in_days - b.coming.in_days);
  const some = (n, words) => `${n} ${words}`;
  text(byId('headline'), !items.length ? 'No upkeep is configured.' : !due.length && !soon.length ? 'Nothing is due within a week.'
    : `${[due.length ? some(due.length, due.length === 1 ? 'upkeep is due' : 'upkeeps are due') : '', soon.length ? some(soon.length, due.length ? 'more within a week' : 'due within a week') : ''].filter(Boolean).join(', ')}.`);
  const near = [...due, ...soon];
  byId('week').replaceChildren(near.length ? table(['Still', 'What', 'When', 'Why', ''], near.map((it) => el('tr', {}, el('td', {}, stillLink(it.still)), el('th', { scope: 'row' }, it.name), el('td', {}, comingWords(it)), el('td', { class: 'wrap' }, it.due ?? reason(it)), el('td', {}, doneButton(it)))))
    : el('p', { class: 'empty' }, items.length ? 'Nothing.' : ''));
  text(byId('how'), `When something will be due is estimated from the runs and the hours at heat of the last ${data.pace_days} days (${data.stills.filter((s) => s.pace).map((s) => `${s.still}: ${digits(s.pace.runs_per_day * 7, 1)} runs and ${digits(s.pace.hours_per_day * 7, 0)} h at heat a week, over ${digits(s.pace.days, 0)} days`).join('; ') || 'no run in that time'}). Days go by themselves. What the maker’s manual asks for decides the figures.`);
  drawAll(items);
  drawWear();
  byId('history').replaceChildren(data.history.length ? table(['When', 'Still', 'What', 'By', ['After the one before']], data.history.slice(0, 200).map((h) => el('tr', {}, el('td', {}, longAgo(ms(h.at))), el('td', {}, stillLink(h.still)), el('td', {}, h.upkeep), el('td', {}, h.by), el('td', { class: 'n' }, h.after_s === undefined ? '–' : lasting(h.after_s)))))
    : el('p', { class: 'empty' }, 'Nothing was noted yet.'));
}

// longAgo says the year too where it is another one.
const longAgo = (t) => { const ago = now() - t; return ago > 300 * 86_400_000 ? `${day(t)} ${new Date(t).getUTCFullYear()}` : ago > 7 * 86_400_000 ? day(t) : when(t, now()); };

const bys = { hours: 'hours at heat', runs: 'runs', days: 'days' };
const reason = (it) => `by its ${bys[it.coming.by]}, at the present pace`;

function comingWords(it) {
  if (it.due) return el('span', { class: 'due' }, priorityGlyph('low', true), 'due');
  if (!it.coming) return 'not to be seen';
  const d = it.coming.in_days;
  if (d > 3650) return 'in more than ten years';
  return d < 1 ? 'within a day' : `in about ${digits(d, 0)} ${Math.round(d) === 1 ? 'day' : 'days'}, ${longAhead(ms(it.at))}`;
}

const longAhead = (t) => (t - now() > 300 * 86_400_000 ? `${day(t)} ${new Date(t).getUTCFullYear()}` : day(t));

const doneButton = (it) => el('button', { type: 'button', 'data-done': `${it.still} ${it.name}`, onclick: () => done(it).then(load) }, 'Done…', el('span', { class: 'unseen' }, ` ${it.still}: ${it.name}`));

function drawAll(items) {
  const focus = document.activeElement?.dataset.done;
  const count = (c, unit) => (c ? `${digits(c.gone, 0)} of ${digits(c.of, 0)} ${unit}` : null);
  const bar = (share) => { const i = el('i'); i.style.width = `${Math.min(100, 100 * share)}%`; return el('span', { class: 'fill', 'aria-hidden': 'true' }, i); };
  byId('all').replaceChildren(items.length ? table(['Still', 'What', 'Gone by', 'Of what it may', 'Last done', 'Will be due', ''], items.map((it) => el('tr', {}, el('td', {}, stillLink(it.still)), el('th', { scope: 'row', class: 'name' }, it.name),
    el('td', { class: 'wrap' }, [count(it.hours, 'h at heat'), count(it.runs, 'runs'), count(it.days, 'days')].filter(Boolean).join(', ')), el('td', {}, bar(it.share), el('small', {}, `${digits(100 * it.share, 0)} %`)),
    el('td', { class: 'wrap' }, it.by ? `${longAgo(ms(it.since))}, ${it.by}` : it.since ? `not noted, from ${longAgo(ms(it.since))}` : 'no run counted yet'), el('td', { class: 'wrap' }, comingWords(it)), el('td', {}, doneButton(it))))) : '');
  byId('write').replaceChildren(...(items.length ? [el('p', { class: 'note' }, 'What is counted is written under upkeep: of a still in luted.yaml, under any name.')]
    : [el('p', {}, 'Write under each still in luted.yaml what is to be looked after, as its manual asks:'), el('pre', { class: 'yaml', tabindex: '0', 'aria-label': 'Lines for luted.yaml' }, 'upkeep:\n  thermal oil: {hours: 2000 h, days: 730 d}\n  lid gasket: {runs: 150}\n  ejector silencer: {days: 180 d}\n  liner stock: {runs: 25}')]));
  if (focus) document.querySelector(`[data-done="${CSS.escape(focus)}"]`)?.focus();
}

// ---- wear ----

function wearWords(s) {
  const w = s.wear;
  const n = w.points.length;
  const p = (v) => say(v, 'absolute pressure');
  const change = (v) => { const u = unitOf('absolute pressure'); return `${digits(v / u.factor, 2)} ${u.symbol.replace(' abs', '')}`; };
  if (n < w.least) return `${n ? `Only ${n} ${n === 1 ? 'run shows' : 'runs show'}` : 'No run shows yet'} how tight ${s.still} is; ${w.least} are needed before anything is said.`;
  if (!w.grows) return `Over ${n} runs the end pressure of ${s.still} has not grown beyond what runs scatter.`;
  const left = w.runs_left === undefined ? '' : w.runs_left < 1 ? ` The target of ${p(w.target_kpa)} will be missed at any time now.`
    : ` At this pace the target of ${p(w.target_kpa)} will be missed in about ${Math.floor(w.runs_left)} runs (${Math.floor(w.runs_left_low)} to ${w.runs_left_high === undefined ? 'no end to be seen' : Math.ceil(w.runs_left_high)}, at 98 % confidence of the slope).`;
  return `The end pressure of ${s.still} has grown by ${change(w.grown_kpa)} over ${n} runs, ${change(w.per_run_kpa)} a run, to ${p(w.now_kpa)}.${left} Look at the lid gasket, the drain valve and the ejector, on a cold and vented still.`;
}

function drawWear() {
  const s = data.stills.find((x) => x.still === form.elements.still.value);
  if (!s) return;
  const w = s.wear;
  const u = unitOf('absolute pressure');
  const pts = w.points;
  text(byId('wear-says'), wearWords(s));
  text(byId('wear-heading'), `Pressure that the still comes to, ${u.symbol}, by run: ${s.still}`);
  const last = pts.at(-1)?.run ?? 1;
  const ahead = w.grows ? Math.min(40, Math.max(5, Math.ceil((w.runs_left ?? 5) * 1.3))) : 2;
  const from = (pts[0]?.run ?? 1) - 0.5;
  const to = last + ahead;
  const axis = { from, to, ticks: (width) => runTicks(from, to, width) };
  byId('wear').hidden = !pts.length;
  const at = (run) => convert(w.now_kpa + (run - last) * w.per_run_kpa, u);
  const marks = [{ spans: pts.filter((p) => p.sd).map((p) => [p.run, convert(p.end_kpa - 2 * p.sd, u), convert(p.end_kpa + 2 * p.sd, u)]), faint: true }, { dots: pts.map((p) => [p.run, convert(p.end_kpa, u)]) }];
  if (w.target_kpa !== undefined) marks.push({ level: convert(w.target_kpa, u), name: 'target' });
  if (w.grows) marks.push({ line: [[pts[0].run, at(pts[0].run)], [last, at(last)]], ink: '--vapor' }, { line: [[last, at(last)], [to, at(to)]], ink: '--vapor', dash: '4 3' });
  if (pts.length) wear.show({ says: wearWords(s), height: 220, x: axis, y: {}, marks });
  text(byId('leak-heading'), s.leaks.length ? `Leak that runs found, mbar·L/s: ${s.still}` : '');
  byId('leak').hidden = !s.leaks.length;
  if (s.leaks.length) leak.show({ says: `Leak by run: ${s.leaks.slice(-12).map((l) => `run ${l.run} ${digits(l.leak_mbar_l_s)}`).join(', ')} mbar·L/s.`, height: 140, x: axis, y: { zero: true }, marks: [{ dots: s.leaks.map((l) => [l.run, l.leak_mbar_l_s]), shape: 'tri' }] });
  byId('wear-note').replaceChildren('Each dot is a run that got far enough to show it; the bar is two standard deviations each way. ', w.grows ? el('span', {}, 'Drawn through: the median of all slopes; dashed: where it leads.') : '', s.leaks.length ? ' A leak is stated only where it is beyond doubt.' : ' No run found a leak beyond doubt.');
  const leaks = new Map(s.leaks.map((l) => [l.run, l.leak_mbar_l_s]));
  byId('table').hidden = !pts.length;
  byId('points').replaceChildren(table(['Run', ['End pressure'], ['Time constant'], ['Leak']], [...pts].reverse().map((p) => el('tr', {}, el('th', { scope: 'row' }, el('a', { href: recordPage({ still: s.still, run: p.run }) }, String(p.run))),
    el('td', { class: 'n' }, say(p.end_kpa, 'absolute pressure')), el('td', { class: 'n' }, `${digits(p.tau_s, 0)} s`), el('td', { class: 'n' }, leaks.has(p.run) ? `${digits(leaks.get(p.run))} mbar·L/s` : '–')))));
}

function runTicks(from, to, width) {
  const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((x) => (to - from) / x < width / 50) ?? 1000;
  const out = [];
  for (let r = Math.ceil(from / step) * step; r <= to; r += step) out.push({ at: r, words: String(r) });
  return out;
}

let begun = false;
onLive(() => { if (!begun && live.connected) { begun = true; load(); } });
onEntry((e) => { if (e.kind === 'act' || (e.kind === 'event' && e.body.event === 'run')) load(); });
onUnits(draw);
