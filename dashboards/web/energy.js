// What was used and recovered: sums with their uncertainty, run by run against this still's own baseline and
// the least there is, the running sum of the difference, and all of it in money with every assumption said.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { live, now, onEntry, onLive } from './live.js';
import { convert, digits, onUnits, perVolume, say, system, unitOf } from './units.js';
import { ms, when } from './time.js';
import { get, query } from './fetch.js';
import { Plot, dateTicks, sample } from './plot.js';
import { basisWords, perCell, recordPage } from './runwords.js';

const byId = (id) => document.getElementById(id);
const DAY = 86_400_000;
const SPANS = [['30 days', 30], ['90 days', 90], ['A year', 366], ['Everything', 36_525]];
const form = byId('choose');
const params = new URLSearchParams(location.search);
let days = Number(params.get('days')) || 366;
let all = null;
let one = null;

frame('energy');

const buttons = SPANS.map(([words, n]) => el('button', { type: 'button', onclick: () => { days = n; load(); } }, words));
byId('spans').append(...buttons);
const per = new Plot(byId('per'));
const cusum = new Plot(byId('cusum'));

const volumeUnit = () => (system() === 'us' ? 'gal' : 'L');
const pm = (v, u, places) => (u === undefined ? digits(v, places) : `${digits(v, places)} ± ${digits(u, places)}`);
const perGal = (s) => pm(perVolume(s.kwh_per_gal).value, s.kwh_per_gal_u === undefined ? undefined : perVolume(s.kwh_per_gal_u).value, 2);
const energyWords = (kwh, u) => `${pm(kwh, u, kwh < 1000 ? 1 : 0)} kWh`;
const signed = (v, u, places = 1) => `${v > 0 ? '+' : v < 0 ? '−' : ''}${pm(Math.abs(v), u, places)}`;
const volumeWords = (l, u) => { const d = unitOf('volume'); const v = convert(l, d); return `${pm(v, u === undefined ? undefined : u / d.factor, v < 1000 ? 1 : 0)} ${d.symbol}`; };
const runsWords = (n) => (n === 1 ? '1 run' : `${n.toLocaleString('en-GB')} runs`);

let asking = 0;

async function load() {
  const mine = ++asking;
  buttons.forEach((b, i) => attr(b, 'aria-pressed', String(SPANS[i][1] === days)));
  const from = days > 9999 ? '1970-01-02T00:00:00Z' : new Date(now() - days * DAY).toISOString();
  try {
    const got = await get(`/api/energy${query({ from })}`);
    if (mine !== asking) return;
    all = got;
    fill('still', all.by_still.map((g) => g.key));
    const still = form.elements.still.value;
    const runs = still ? await get(`/api/energy${query({ from, still })}`) : null;
    if (mine !== asking) return;
    one = runs;
    fill('solvent', one ? one.by_solvent.map((g) => g.key) : []);
    history.replaceState(null, '', location.pathname + query({ still, days: days === 366 ? '' : String(days) }));
    draw();
  } catch (problem) {
    if (mine === asking) text(byId('headline'), `The energy account cannot be shown: ${problem.message}`);
  }
}

function fill(name, values) {
  const select = form.elements[name];
  const was = select.value || params.get(name);
  select.replaceChildren(...values.map((v) => el('option', { value: v }, v || 'not stated')));
  if (values.includes(was)) select.value = was;
  else if (name === 'still') select.value = (all.by_still.find((g) => g.kwh_per_gal !== undefined) ?? all.by_still[0])?.key ?? ''; // one that has something to show
  else if (name === 'solvent' && one) select.value = [...one.by_solvent].sort((a, b) => b.runs - a.runs)[0]?.key ?? '';
}

form.addEventListener('submit', (e) => e.preventDefault());
form.addEventListener('change', (e) => { if (e.target.name === 'still') load(); else draw(); });

// ---- sums ----

function draw() {
  if (!all) return;
  const t = all.total;
  const unit = volumeUnit();
  text(byId('headline'), t.kwh_per_gal === undefined
    ? (t.runs ? 'Energy for each volume is not known: no run has both measured.' : 'No run has ended in this time.')
    : `${perGal(t)} kWh for each ${system() === 'us' ? 'gallon' : 'litre'} recovered, over ${runsWords(t.per_gal_runs)}.`);
  text(byId('span'), `Runs that began from ${when(Math.max(ms(all.from), 0), now())} to now, all stills. Behind ± stands one standard uncertainty.`);
  byId('sums').replaceChildren(...sums(t, unit).map(([label, words, sub]) => el('div', {}, el('dt', {}, label), words ? el('dd', {}, words, el('small', {}, sub)) : el('dd', { class: 'none' }, 'not known', el('small', {}, sub)))));
  byRun();
  for (const [id, groups, name] of [['by-still', all.by_still, (g) => g.key], ['by-solvent', all.by_solvent, (g) => g.key || 'not stated'], ['by-month', [...all.by_month].reverse(), (g) => monthWords(g.start)]]) group(byId(id), groups, name);
  text(byId('by-note'), 'Actual less expected counts only runs that have a baseline; a plus is energy wasted. The least is what physics asks for: the heat to warm and boil what was recovered. The meter of one still errs alike in every run, so its uncertainties are added up as they are; those of different stills by their squares (GUM).');
  money(t);
}

const monthFormat = new Intl.DateTimeFormat('en-GB', { timeZone: site.time_zone, month: 'long', year: 'numeric' });
const monthWords = (start) => monthFormat.format(ms(start));
const basesWords = (b) => Object.entries(b ?? {}).map(([k, n]) => `${basisWords({ recovered_basis: k })} in ${runsWords(n)}`).join(', ');

function sums(t, unit) {
  const least = t.minimum_kwh_per_gal;
  return [
    ['Energy', t.kwh !== undefined && energyWords(t.kwh, t.kwh_u), `${runsWords(t.energy_runs)} of ${t.runs}`],
    ['Recovered', t.l !== undefined && volumeWords(t.l, t.l_u), `${runsWords(t.volume_runs)} of ${t.runs}`],
    [`Energy for each ${unit}`, t.kwh_per_gal !== undefined && `${perGal(t)} kWh/${unit}`, basesWords(t.bases)],
    ['Least that physics allows', least !== undefined && `${digits(perVolume(least).value, 2)} kWh/${unit}`, least && t.kwh_per_gal ? `used is ${digits(t.kwh_per_gal / least, 1)} times that` : 'needs the solvent and the pressure it boils at'],
    ['Actual less expected', t.difference_kwh !== undefined && `${signed(t.difference_kwh, t.difference_kwh_u)} kWh`, t.compared_runs ? `${runsWords(t.compared_runs)} against their baselines` : 'no run has a baseline yet'],
    ['Saving', t.money?.saving && moneyWords(t.money, 'saving'), t.money?.saving ? `${runsWords(t.money.saving.runs)}; what it assumes is said below` : all.prices ? 'a price that it needs is not stated' : 'no prices are stated'],
  ];
}

const amount = (v, u, currency) => `${(Math.abs(v) >= 1000 ? [v, u].map((x) => (x === undefined ? x : Math.round(x).toLocaleString('en-GB'))) : [v, u].map((x) => (x === undefined ? x : digits(x, 2)))).filter((x) => x !== undefined).join(' ± ')} ${currency}`;
const moneyWords = (m, key) => (m?.[key] ? amount(m[key].value, m[key].u, m.currency) : '–');

function group(box, groups, name) {
  const unit = volumeUnit();
  const heads = ['', ['Runs'], ['Energy'], ['Recovered'], [`kWh per ${unit}`], [`Least, kWh per ${unit}`], ['Actual less expected'], ['Saving']];
  box.replaceChildren(groups.length ? el('table', {}, el('thead', {}, el('tr', {}, heads.map((h, i) => (i ? el('th', { scope: 'col', class: 'n' }, h) : el('td', {}))))),
    el('tbody', {}, groups.map((g) => el('tr', {}, el('th', { scope: 'row' }, name(g)), ...[
      String(g.runs), g.kwh === undefined ? '–' : energyWords(g.kwh, g.kwh_u), g.l === undefined ? '–' : volumeWords(g.l, g.l_u), g.kwh_per_gal === undefined ? '–' : perGal(g),
      g.minimum_kwh_per_gal === undefined ? '–' : digits(perVolume(g.minimum_kwh_per_gal).value, 2), g.difference_kwh === undefined ? '–' : `${signed(g.difference_kwh, g.difference_kwh_u)} kWh`, moneyWords(g.money, 'saving'),
    ].map((w) => el('td', { class: 'n' }, w)))))) : el('p', { class: 'empty' }, 'No run in this time.'));
}

// ---- run by run ----

function byRun() {
  const solvent = form.elements.solvent.value;
  const runs = (one?.runs ?? []).filter((r) => (r.solvent ?? '') === solvent);
  const unit = volumeUnit();
  const known = runs.filter((r) => r.kwh_per_gal !== undefined);
  const pv = (x) => perVolume(x).value;
  const x = (r) => ms(r.start);
  const of = `${form.elements.still.value}, ${solvent || 'solvent not stated'}`;
  const span = runs.length ? { from: x(runs[0]), to: Math.max(x(runs.at(-1)), x(runs[0]) + DAY) } : { from: 0, to: DAY };
  const axis = { ...span, ticks: dateTicks(span.from, span.to) };
  text(byId('per-title'), `Energy for each ${system() === 'us' ? 'gallon' : 'litre'} recovered, kWh/${unit}: ${of}`);
  const expected = known.map((r) => [x(r), r.expected_kwh === undefined ? null : pv((r.expected_kwh / r.recovered_l) * site.units.us.volume.factor)]);
  const least = known.map((r) => [x(r), r.minimum_kwh_per_gal === undefined ? null : pv(r.minimum_kwh_per_gal)]);
  const has = (line) => line.some((p) => p[1] !== null);
  byId('per').hidden = !known.length;
  if (known.length) per.show({
    says: `Energy for each ${unit} of ${known.length} runs, the latest ${digits(pv(known.at(-1).kwh_per_gal), 2)} kWh; the table below has every run.`, height: 240, x: axis, y: { zero: true }, marks: [
      has(least) && { line: least, ink: '--guide', dash: '2 3', width: 1.8, name: 'least' }, has(expected) && { line: expected, ink: '--vapor', dash: '10 3', name: 'expected' },
      { spans: known.filter((r) => r.kwh_per_gal_u !== undefined).map((r) => [x(r), pv(r.kwh_per_gal - 2 * r.kwh_per_gal_u), pv(r.kwh_per_gal + 2 * r.kwh_per_gal_u)]), ink: '--oil', faint: true },
      { dots: known.filter((r) => r.recovered_basis !== 'heat').map((r) => [x(r), pv(r.kwh_per_gal)]), size: 2.6 }, { dots: known.filter((r) => r.recovered_basis === 'heat').map((r) => [x(r), pv(r.kwh_per_gal)]), hollow: true, size: 3 },
    ].filter(Boolean),
  });
  byId('per-key').replaceChildren(...(known.length ? [el('span', {}, '● a run, the volume measured; ○ estimated from heat; the bar through it two standard uncertainties each way'),
    has(expected) ? el('span', {}, sample('--vapor', '10 3'), 'to be expected by the baseline') : null, has(least) ? el('span', {}, sample('--guide', '2 3'), 'least that physics allows') : null]
    : [el('span', {}, 'No run of these in this time has both its energy and its volume: neither measured nor entered.')]).filter(Boolean));
  const sum = runs.filter((r) => r.cusum_kwh !== undefined);
  text(byId('cusum-title'), `Actual less expected, summed up, kWh: ${of}`);
  const edge = (k) => ({ line: sum.map((r) => [x(r), r.cusum_kwh + k * (r.cusum_kwh_u ?? 0)]), ink: '--guide', width: 1.2, dash: '3 3' });
  byId('cusum').hidden = !sum.length;
  if (sum.length) cusum.show({ says: `The sum of actual less expected energy stands at ${signed(sum.at(-1).cusum_kwh)} kWh after ${runsWords(sum.length)}.`, height: 190, x: axis, y: {}, marks: [{ level: 0, dash: '1 0' }, edge(2), edge(-2), { line: sum.map((r) => [x(r), r.cusum_kwh]) }] });
  text(byId('cusum-note'), sum.length
    ? `A line that rises is energy wasted, one that falls is energy saved, a level one is as before; a bend dates the change. Now ${signed(sum.at(-1).cusum_kwh, sum.at(-1).cusum_kwh_u)} kWh. The dashed lines are two standard uncertainties each way: the scatter of single runs and the doubt about the baseline; what the meter always reads wrong is in both and cancels. It begins anew with the time chosen.`
    : 'No run in this time has a baseline to be compared with.');
  text(byId('baseline'), baselineWords(one?.baselines.find((b) => (b.solvent ?? '') === solvent)));
  table(runs);
}

function baselineWords(b) {
  if (!b) return '';
  if (b.runs < b.least) return `Baseline: ${b.runs} of the ${b.least} good runs that it needs.`;
  const physics = 'What these runs do not differ in enough to tell, physics tells within bounds, with the doubt that this leaves.';
  if (b.base_kwh === undefined) return `Baseline: the first ${b.runs} good runs. ${physics} More runs make a line of their own.`;
  const v = unitOf('volume');
  const parts = [`${pm(b.base_kwh, b.base_kwh_u, 1)} kWh`];
  if (b.kwh_per_l !== undefined) parts.push(`${pm(b.kwh_per_l * v.factor, b.kwh_per_l_u * v.factor, 2)} kWh for each ${v.symbol} recovered`);
  if (b.kwh_per_k !== undefined) parts.push(`${signed(b.kwh_per_k * unitOf('temperature').factor, b.kwh_per_k_u * unitOf('temperature').factor, 3)} kWh for each ${unitOf('temperature').symbol} of the oil at the start`);
  return `Baseline: ${parts.join(' + ')}, fitted by least squares to the first ${b.runs} good runs, as ISO 50006 practice has it; one run scatters by ${digits(b.sd_kwh, 1)} kWh about it${b.r2 === undefined ? '' : `, and it explains ${digits(100 * b.r2, 0)} % of what differs`}. ${b.runs < b.most ? `It grows to ${b.most} runs and then stays as it is.` : 'It stays as it is until what was learned is reset.'} It takes in the volume, how warm the oil was at the start and where it boiled. ${physics}`;
}

function table(runs) {
  const still = form.elements.still.value;
  const unit = volumeUnit();
  const n = (w) => el('td', { class: 'n' }, w);
  byId('runs').replaceChildren(el('table', {}, el('thead', {}, el('tr', {}, ['Run', 'Began', ['Energy'], ['Recovered'], [`kWh per ${unit}`], ['Expected'], ['Difference'], ['Summed up']].map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))),
    el('tbody', {}, [...runs].reverse().slice(0, 500).map((r) => el('tr', {}, el('th', { scope: 'row' }, el('a', { href: recordPage({ still, run: r.run }) }, String(r.run))), el('td', {}, when(ms(r.start), now())),
      n(r.energy_kwh === undefined ? '–' : energyWords(r.energy_kwh, r.energy_kwh_u)), n(r.recovered_l === undefined ? '–' : volumeWords(r.recovered_l, r.recovered_l_u)), perCell(r),
      n(r.expected_kwh === undefined ? '–' : energyWords(r.expected_kwh, r.expected_kwh_u)), n(r.cusum_kwh === undefined ? '–' : `${signed(r.energy_kwh - r.expected_kwh)} kWh`), n(r.cusum_kwh === undefined ? '–' : `${signed(r.cusum_kwh, r.cusum_kwh_u)} kWh`))))));
}

// ---- money ----

function money(t) {
  const box = byId('money');
  const p = all.prices;
  if (!p) {
    return box.replaceChildren(el('p', {}, 'No prices are stated, so nothing is put into money. Write what is paid into luted.yaml, each line as far as it is known:'),
      el('pre', { class: 'yaml', tabindex: '0', 'aria-label': 'Lines for luted.yaml' }, 'prices:\n  electricity: 0.14 USD/kWh\n  solvent: 9.50 USD/gal      # buying fresh solvent\n  waste: 4.10 USD/gal        # having waste solvent taken away\n  liner: 6.50 USD            # the bag that each run uses up'));
  }
  const m = t.money;
  const line = (words, key, sign) => (m?.[key] ? el('tr', {}, el('th', { scope: 'row' }, words), el('td', { class: 'n' }, `${sign}${moneyWords(m, key)}`), el('td', { class: 'n' }, runsWords(m[key].runs))) : null);
  const rows = [line('Fresh solvent that need not be bought', 'purchase', ''), line('Waste that need not be taken away', 'disposal', ''), line('Paid for energy', 'energy', '− '), line('Paid for liners', 'liner', '− '), line('Saving', 'saving', '= ')].filter(Boolean);
  const unit = (u) => [u.per_l !== undefined && [u.per_l * unitOf('volume').factor, unitOf('volume').symbol], u.per_kg !== undefined && [u.per_kg * unitOf('mass').factor, unitOf('mass').symbol]].find(Boolean);
  const price = (words, u) => (u ? `${words} ${digits(u[0], 2)} ${p.currency}/${u[1]}` : null);
  const stated = [price('electricity', p.per_kwh !== undefined && [p.per_kwh, 'kWh']), ...(p.solvents ?? []).map((s) => price(`fresh ${s.name}`, unit(s))), price('fresh solvent', p.fresh && unit(p.fresh)), price('waste', p.waste && unit(p.waste)), p.liner === undefined ? null : `liner ${digits(p.liner, 2)} ${p.currency} a run`].filter(Boolean);
  const missing = [p.per_kwh === undefined && 'electricity: 0.14 USD/kWh', !p.fresh && !p.solvents && 'solvent: 9.50 USD/gal', !p.waste && 'waste: 4.10 USD/gal', p.liner === undefined && 'liner: 6.50 USD'].filter(Boolean);
  const saved = m && t.difference_kwh !== undefined && p.per_kwh !== undefined ? `Against the baseline, ${t.difference_kwh > 0 ? 'wasted' : 'saved'}: ${amount(Math.abs(t.difference_kwh) * p.per_kwh, t.difference_kwh_u === undefined ? undefined : t.difference_kwh_u * p.per_kwh, p.currency)} of electricity.` : '';
  box.replaceChildren(...[
    rows.length ? el('div', { class: 'scroll', tabindex: '0', role: 'group', 'aria-label': 'Money' }, el('table', {}, el('thead', {}, el('tr', {}, el('td', {}), el('th', { scope: 'col', class: 'n' }, 'Amount'), el('th', { scope: 'col', class: 'n' }, 'Runs'))), el('tbody', {}, rows))) : el('p', { class: 'empty' }, 'No figure and price go together in this time.'),
    saved ? el('p', {}, saved) : null,
    el('h3', {}, 'Prices and what is assumed'),
    el('ul', { class: 'assumed' }, el('li', {}, `All runs at the prices that luted.yaml states now: ${stated.join('; ')}. Prices are taken as exact.`), all.assumes.map((a) => el('li', {}, `${a.charAt(0).toUpperCase()}${a.slice(1)}.`))),
    el('p', { class: 'note' }, 'Change a price under prices: in luted.yaml; it holds from the next start.', missing.length ? ' Not stated yet:' : ''),
    missing.length ? el('pre', { class: 'yaml', tabindex: '0', 'aria-label': 'Lines for luted.yaml' }, `prices:\n${missing.map((l) => `  ${l.replace('USD', p.currency)}`).join('\n')}`) : null,
  ].filter(Boolean));
}

let begun = false;
onLive(() => { if (!begun && live.connected) { begun = true; load(); } });
onEntry((e) => { if (e.kind === 'event' && e.body.event === 'run') load(); });
onUnits(draw);
