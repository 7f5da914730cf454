// How often people were asked for, by the measures of ISA-18.2 and IEC 62682: rates beside what is bearable,
// floods, what chatters, what stands for long, what comes most often, and which alarm of a burst was first.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { live, now } from './live.js';
import { digits } from './units.js';
import { day, lasting, ms, when } from './time.js';
import { get } from './fetch.js';
import { matterTitle } from './matters.js';
import { priorityGlyph } from './glyphs.js';
import { Plot, dateTicks } from './plot.js';

const byId = (id) => document.getElementById(id);
const DAY = 86_400_000;
const SPANS = [['24 h', 1], ['7 days', 7], ['30 days', 30], ['90 days', 90]];
const hearers = new Set();
let data = null;
let days = 30;

export const onRates = (f) => hearers.add(f);

// firstOut tells whether an alarm raised at a time was the first of a burst.
export function firstOut(m, raised) {
  return !!data?.bursts.some((b) => same(b.first, m) && Math.abs(ms(b.at) - raised) < 1000);
}

const same = (a, b) => a.still === b.still && a.fault === b.fault && (a.channel ?? '') === (b.channel ?? '');

const buttons = SPANS.map(([words, n]) => el('button', { type: 'button', onclick: () => { days = n; load(); } }, words));
byId('spans').append(...buttons);
const plot = new Plot(byId('days'));

let waiting = 0;

// refreshRates asks again soon, once for many alarms at once.
export function refreshRates() {
  clearTimeout(waiting);
  waiting = setTimeout(load, data ? 1500 : 0);
}

async function load() {
  buttons.forEach((b, i) => attr(b, 'aria-pressed', String(SPANS[i][1] === days)));
  try {
    data = await get(`/api/alarms/rates?from=${new Date((live.connected ? now() : ms(site.now)) - days * DAY).toISOString()}`);
  } catch (problem) {
    text(byId('span'), `The rates cannot be shown: ${problem.message}`);
    return;
  }
  drawRates();
  for (const f of hearers) f();
}

const percent = (share) => `${digits(100 * share, share < 0.1 && Math.abs(100 * share - Math.round(100 * share)) > 0.05 ? 1 : 0)} %`;
const times = (n) => (n === 1 ? 'once' : `${n} times`);
const title = (k) => [el('a', { href: `/still/${encodeURIComponent(k.still)}` }, k.still), ': ', matterTitle(k)];
const table = (heads, rows) => el('table', {}, el('thead', {}, el('tr', {}, heads.map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))), el('tbody', {}, rows));
const none = (words) => el('p', { class: 'note' }, words);

export function drawRates() {
  if (!data) return;
  const { limits: l } = data;
  const from = ms(data.from);
  const to = ms(data.to);
  const t = now();
  text(byId('span'), `${data.raised === 1 ? '1 alarm was' : `${data.raised} alarms were`} raised from ${when(from, t)} to now, all stills together. Those raised while hidden are not counted.`);
  const bars = data.days.map((d, i) => [Math.max(from, ms(d.start)), Math.min(to, data.days[i + 1] ? ms(data.days[i + 1].start) : ms(d.start) + DAY), d.raised]);
  plot.show({
    says: `Alarms raised on each day: ${data.days.map((d) => `${day(ms(d.start))} ${d.raised}`).slice(-31).join(', ')}.`, height: 130,
    x: { from, to, ticks: dateTicks(from, to) }, y: { zero: true, whole: true }, marks: [{ bars, ink: '--solid' }],
  });
  text(byId('days-note'), 'Alarms raised on each day of the site’s calendar.');
  const row = (words, here, fine, most, over) => el('tr', {}, el('th', { scope: 'row' }, words), el('td', { class: over ? 'n bad' : 'n' }, here, over ? el('span', { class: 'tag' }, 'more') : null), el('td', { class: 'n' }, fine), el('td', { class: 'n' }, most));
  const rate = (words, v, [fine, most]) => row(words, v > 0 && v < 0.095 ? 'less than 0.1' : digits(v, v > 0 && v < 10 ? 1 : 0), `${fine}`, `${most}`, v > most);
  const peak = (p) => (p.raised ? `${p.raised}, ${when(ms(p.at), t)}` : '0');
  const share = (words, v, most) => row(words, percent(v), '–', percent(most), v > most);
  byId('rates').replaceChildren(table(['Measure', ['Here'], ['Very likely acceptable'], ['At the most']], [
    rate('Each hour, on average', data.per_hour, l.per_hour), rate('Each day, on average', data.per_day, l.per_day), rate('In 10 minutes, on average', data.per_10_min, l.per_10_min),
    row('In the fullest 10 minutes', peak(data.most_in_10_min), '–', `${l.flood_begin}`, data.most_in_10_min.raised > l.flood_begin),
    row('In the fullest hour', peak(data.most_in_hour), '–', `${l.crowded_hour}`, data.most_in_hour.raised > l.crowded_hour),
    share(`Hours with more than ${l.crowded_hour}`, data.hours_over, l.most_crowded), share(`Ten minutes with more than ${l.flood_begin}`, data.ten_min_over, l.most_crowded), share('Time in a flood', data.flood_share, l.most_crowded),
    row('Chattering alarms', `${data.chattering.length}`, '0', '–', data.chattering.length > 0), row('Stale now', `${data.stale.length}`, '0', `fewer than ${l.stale}`, data.stale.length >= l.stale),
    ...data.priorities.map((p) => row(el('span', { class: 'verdict' }, priorityGlyph(p.priority, true), `${p.priority} priority`), `${p.raised}${data.raised ? `, ${percent(p.share)}` : ''}`, `about ${percent(p.usual)}`, '–')),
  ]), none('What is bearable is that of ISA-18.2 and IEC 62682 for one person who answers the alarms; over a few alarms the shares say little.'));
  byId('frequent').replaceChildren(data.frequent.length ? table(['Alarm', ['Raised'], ['Of all']], data.frequent.map((f) => el('tr', {}, el('td', {}, title(f)), el('td', { class: 'n' }, times(f.raised)), el('td', { class: 'n' }, percent(f.share))))) : '',
    none(data.frequent.length ? `The ten most frequent make up ${percent(data.top_10_share)}; in a large plant no more than ${percent(l.top_10_share)} would. Look at the first of the list: an alarm that comes often is a repair not made or a limit set wrong.` : 'None was raised.'));
  byId('chattering').replaceChildren(data.chattering.length ? table(['Alarm', ['Chattered'], ['Raised meanwhile'], 'Last'], data.chattering.map((c) => el('tr', {}, el('td', {}, title(c)), el('td', { class: 'n' }, times(c.times)), el('td', { class: 'n' }, times(c.raised)), el('td', {}, when(ms(c.last), t))))) : '',
    none(`${data.chattering.length ? '' : 'None. '}Raised ${l.chatter_count} times or more within ${lasting(l.chatter_s)}.`));
  byId('stale').replaceChildren(data.stale.length ? table(['Alarm', 'Since', ['Standing for']], data.stale.map((a) => el('tr', {}, el('td', {}, title(a)), el('td', {}, when(ms(a.raised), t)), el('td', { class: 'n' }, lasting((t - ms(a.raised)) / 1000))))) : '',
    none(`${data.stale.length ? '' : 'None. '}Each of them wants a plan: mend it, or take it out of service with a reason.`));
  byId('floods').replaceChildren(data.floods.length ? table(['Began', 'Ended', ['Raised'], 'First'], data.floods.map((f) => el('tr', {}, el('td', {}, when(ms(f.start), t)), el('td', {}, f.end ? when(ms(f.end), t) : 'it lasts'), el('td', { class: 'n' }, f.raised), el('td', {}, title(f.first))))) : '',
    none(`${data.floods.length ? '' : 'None. '}A flood begins with more than ${l.flood_begin} alarms within 10 min and ends when fewer than ${l.flood_end} are left within 10 min.`));
  byId('bursts').replaceChildren(data.bursts.length ? table(['When', 'First', 'After it'], data.bursts.slice(-20).reverse().map((b) => el('tr', {}, el('td', {}, when(ms(b.at), t)), el('td', {}, title(b.first)), el('td', { class: 'wrap' }, b.alarms.slice(1).map(matterTitle).join(', '))))) : '',
    none(`${data.bursts.length ? '' : 'None. '}Alarms of one still, each within ${lasting(l.burst_s)} of the one before: what came first may well have caused the others.`));
}
