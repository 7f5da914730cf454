// Every finished run as one line: choose, sort, and mark those to be laid over each other. What is chosen
// stands in the address, so that it can be sent on.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { live, now, onEntry, onLive } from './live.js';
import { digits, onUnits, say, system } from './units.js';
import { lasting, midnight, ms, when } from './time.js';
import { get, query } from './fetch.js';
import { verdictMark } from './glyphs.js';
import { perCell, recordPage } from './runwords.js';

const PAGE = 50;
const MOST = 6; // runs that can be told apart when laid over each other
const byId = (id) => document.getElementById(id);
const [, , ofStill] = location.pathname.match(/^\/(still)\/([^/]+)\/runs$/) ?? [];
const still = ofStill && decodeURIComponent(ofStill);

if (still) {
  document.title = `Runs of ${still} – luted`;
  byId('still-label').remove();
}
frame('runs', still);

// columns: what the API sorts by, the words, and whether larger is looked for first.
const columns = [
  ...(still ? [] : [['still', 'Still']]), [null, 'Run'], ['start', 'Began', true], ['verdict', 'Verdict', true], ['duration', 'Lasted', true, 'n'], ['solvent', 'Solvent'],
  ['recovered', 'Recovered', true, 'n'], ['energy', 'Energy', true, 'n'], ['pergal', () => `kWh per ${system() === 'us' ? 'gal' : 'L'}`, true, 'n'],
  ['leak', 'Leak', true, 'n'], ['target', 'To target', true, 'n'], ['dry', 'Dry after', true, 'n'], ['faults', 'What was found', true],
];

const form = byId('choose');
const names = ['still', 'solvent', 'verdict', 'fault', 'from', 'to'].filter((n) => form.elements[n]);
const params = new URLSearchParams(location.search);
const state = { sort: params.get('sort') ?? '', order: params.get('order') ?? '', before: '', earlier: [], picked: [], page: null };

// ---- choosing ----

const chosen = () => Object.fromEntries(names.map((n) => [n, form.elements[n].value]));

function asked() {
  const c = chosen();
  return { ...c, from: c.from && new Date(midnight(c.from)).toISOString(), to: c.to && new Date(midnight(c.to, 1) - 1).toISOString(), sort: state.sort, order: state.order };
}

function options(name, values, words) {
  const select = form.elements[name];
  if (!select) return;
  const was = select.value || params.get(name) || '';
  const all = was && !values.includes(was) ? [...values, was] : values;
  select.replaceChildren(select.options[0], ...all.map((v) => el('option', { value: v }, words ? words(v) : v)));
  select.value = was;
}

form.addEventListener('submit', (e) => e.preventDefault());
form.addEventListener('change', () => { params.forEach((_, k) => params.delete(k)); first(); });
form.addEventListener('reset', () => setTimeout(() => { for (const n of names) { form.elements[n].value = ''; params.delete(n); } first(); }));

function first() {
  state.before = '';
  state.earlier = [];
  return load();
}

let asking = 0;

async function load() {
  const mine = ++asking;
  const a = asked();
  const at = still ? `/api/stills/${encodeURIComponent(still)}/runs` : '/api/runs';
  try {
    const page = await get(at + query({ ...a, before: state.before, limit: PAGE, choices: 'yes' }));
    if (mine !== asking) return;
    state.page = page;
    const c = page.choices;
    options('still', c.stills);
    options('solvent', c.solvents);
    options('verdict', c.verdicts);
    options('fault', ['any', 'none', ...c.faults], (f) => ({ any: 'something', none: 'nothing' })[f] ?? site.words.faults[f] ?? f);
    history.replaceState(null, '', location.pathname + query({ ...chosen(), sort: state.sort, order: state.order }));
    draw();
  } catch (problem) {
    if (mine === asking) text(byId('headline'), `The runs cannot be shown: ${problem.message}`);
  }
}

// ---- the table ----

const orderWords = { ascending: ', least first', descending: ', most first' };

function draw() {
  const { page } = state;
  if (!page) return;
  const c = chosen();
  const all = names.every((n) => !c[n]);
  const n = page.total.toLocaleString('en-GB');
  text(byId('headline'), page.total ? `${n} ${page.total === 1 ? 'run' : 'runs'}${still ? ` of ${still}` : ''}${all ? '' : ' like this'}.` : all ? 'No run has ended yet.' : 'No run is like this.');
  const at = state.earlier.length * PAGE;
  text(byId('place'), page.total ? `${at + 1} to ${at + page.runs.length} of ${n}` : '');
  byId('back').disabled = !state.earlier.length;
  byId('on').disabled = !page.before;
  byId('more').hidden = !page.before;
  const focus = document.activeElement?.dataset.sort;
  byId('runs').replaceChildren(page.runs.length ? el('table', {}, el('thead', {}, el('tr', {}, el('td', {}), columns.map(head))), el('tbody', {}, page.runs.map(line))) : '');
  if (focus) byId('runs').querySelector(`[data-sort="${focus}"]`)?.focus();
  pickedWords();
}

function head([key, words, most, kind]) {
  const w = typeof words === 'function' ? words() : words;
  if (!key) return el('th', { scope: 'col' }, w);
  const mine = state.sort === key || (!state.sort && key === 'start');
  const order = mine ? state.order || 'descending' : null;
  const go = () => {
    const usual = most ? 'descending' : 'ascending';
    state.order = !mine ? usual : order === 'descending' ? 'ascending' : 'descending';
    state.sort = key;
    first();
  };
  return el('th', { scope: 'col', 'aria-sort': order ?? 'none', class: kind }, el('button', { type: 'button', class: 'sort', 'data-sort': key, onclick: go },
    w, el('span', { class: 'way', 'aria-hidden': 'true' }, order === 'ascending' ? '▲' : order === 'descending' ? '▼' : ''), mine ? el('span', { class: 'unseen' }, orderWords[order]) : null));
}

function line(run) {
  const start = ms(run.start);
  const id = `${run.still}/${run.run}`;
  const n = (words, title) => el('td', { class: 'n', title }, words);
  const v = run.vacuum ?? {};
  const box = el('input', { type: 'checkbox', 'aria-label': `Compare ${run.still} run ${run.run}`, onchange: () => pick(id, box) });
  box.checked = state.picked.includes(id);
  const found = (run.faults ?? []).map((f) => site.words.faults[f] ?? f);
  const cells = [el('td', { class: 'tick' }, box)];
  if (!still) cells.push(el('td', {}, el('a', { href: `/still/${encodeURIComponent(run.still)}` }, run.still)));
  cells.push(el('th', { scope: 'row' }, el('a', { href: recordPage(run) }, `${run.run}`, el('span', { class: 'unseen' }, ` of ${run.still}: its record`))),
    el('td', {}, when(start, now())), el('td', {}, verdictMark(run.verdict)), n(lasting((ms(run.end) - start) / 1000)), el('td', { class: 'wrap' }, run.solvent ?? '–'),
    n(run.recovered_l === undefined ? '–' : say(run.recovered_l, 'volume'), run.recovered_basis && `by ${run.recovered_basis}`),
    n(run.energy_kwh === undefined ? '–' : say(run.energy_kwh, 'energy'), run.energy_basis && `by ${run.energy_basis}`), perCell(run),
    n(v.leak_mbar_l_s === undefined ? '–' : `${digits(v.leak_mbar_l_s)} mbar·L/s`), n(v.time_to_target_s === undefined ? '–' : lasting(v.time_to_target_s)),
    n(run.dry_at ? lasting((ms(run.dry_at) - start) / 1000) : '–', run.dry_basis && `by ${run.dry_basis}`), el('td', { class: 'why-cell' }, found.join(', ') || '–'));
  return el('tr', {}, cells);
}

// ---- laying over ----

function pick(id, box) {
  state.picked = state.picked.filter((p) => p !== id);
  if (box.checked) {
    if (state.picked.length >= MOST) box.checked = false;
    else state.picked.push(id);
  }
  pickedWords(box.checked === false && state.picked.length >= MOST);
}

function pickedWords(full) {
  const k = state.picked.length;
  const names = state.picked.map((p) => p.replace('/', ' ')).join(', ');
  const link = k >= 2 ? el('a', { class: 'button', id: 'compare', href: `/compare?runs=${state.picked.map(encodeURIComponent).join(',')}` }, `Lay ${k} runs over each other`) : null;
  byId('picked').replaceChildren(...[
    el('span', {}, !k ? 'Tick two runs or more to lay them over each other.' : k === 1 ? `Ticked: ${names}. Tick another one.` : `Ticked: ${names}.${full ? ` ${MOST} is the most.` : ''}`), link].filter(Boolean));
}

// ---- paging ----

for (const id of ['on', 'further']) byId(id).addEventListener('click', () => { state.earlier.push(state.before); state.before = String(state.page.before); turn('on'); });
byId('back').addEventListener('click', () => { state.before = state.earlier.pop() ?? ''; turn('back'); });

async function turn(button) {
  await load();
  byId('headline').scrollIntoView();
  if (byId(button).disabled || byId('more').hidden) byId('runs').focus();
}

// ---- together ----

for (const n of names) if (params.get(n) && form.elements[n].type === 'date') form.elements[n].value = params.get(n);
for (const n of names) if (params.get(n) && form.elements[n].type !== 'date') options(n, []);

onEntry((e) => { if (e.kind === 'event' && e.body.event === 'run' && !state.earlier.length) load(); });
let begun = false;
onLive(() => { if (!begun && live.connected) { begun = true; load(); } }); // with the server's clock, which says what is today
onUnits(draw);
