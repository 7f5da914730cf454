// Alarms by what is asked of a person: take note, know, or nothing for now.

import { el, text } from './dom.js';
import { site } from './site.js';
import { frame } from './frame.js';
import { live, now, onEntry, onLive } from './live.js';
import { onUnits } from './units.js';
import { ms, when } from './time.js';
import * as act from './act.js';
import { priorityGlyph } from './glyphs.js';
import { actionWords, Matters, matters, matterTitle } from './matters.js';
import { drawRates, firstOut, onRates, refreshRates } from './alarmrates.js';
import './outofservice.js';

const groups = [
  { title: 'To acknowledge', none: 'Nothing waits for you.', takes: (m) => m.needs_acknowledgement },
  { title: 'Standing, acknowledged', takes: (m) => !m.needs_acknowledgement && !m.quiet },
  { title: 'Shelved or out of service', takes: (m) => m.quiet },
].map((g) => {
  const list = new Matters(act, true);
  const empty = g.none ? el('p', { class: 'empty' }, g.none) : null;
  return { ...g, list, empty, node: el('section', { class: 'group', 'aria-label': g.title }, el('h2', {}, g.title), empty, list.node) };
});

document.getElementById('groups').append(...groups.map((g) => g.node));

function draw() {
  if (!live.names.length) return;
  if (!listed) list();
  const all = live.names.flatMap((n) => matters(live.stills.get(n) ?? {})).map((m) => ({ ...m, tag: firstOut(m, m.since) ? 'first of a burst' : undefined }));
  for (const g of groups) {
    const mine = all.filter(g.takes);
    g.list.update(mine);
    g.node.hidden = !mine.length && !g.none;
    if (g.empty) g.empty.hidden = mine.length > 0;
  }
  const open = all.filter((m) => !m.quiet).length;
  const wait = all.filter((m) => m.needs_acknowledgement).length;
  const n = (k, one, many) => `${k} ${k === 1 ? one : many}`;
  text(document.getElementById('headline'), !live.connected ? 'No connection: this is how it was.'
    : open ? `${n(open, 'alarm stands', 'alarms stand')}, ${!wait ? 'acknowledged' : wait < open ? `${wait} not acknowledged` : 'not acknowledged'}.` : 'No alarm stands.');
}

// ---- what happened lately ----

let recent = [];
let listed = false; // with the server's clock, which says what is today

async function load() {
  const answer = await fetch('/api/journal?kind=alarm&order=newest&limit=40', { cache: 'no-store' });
  if (!answer.ok) return;
  recent = (await answer.json()).entries;
  list();
}

function list() {
  listed = live.connected;
  const box = document.getElementById('recent');
  if (!recent.length) return box.replaceChildren(el('p', { class: 'empty' }, 'Nothing yet.'));
  box.replaceChildren(el('table', {},
    el('thead', {}, el('tr', {}, ['When', 'Still', 'Alarm', 'What', 'Now', 'Who and why'].map((h) => el('th', { scope: 'col' }, h)))),
    el('tbody', {}, recent.map(({ at, still, body: b }) => el('tr', {},
      el('td', {}, when(ms(at), now())),
      el('td', {}, el('a', { href: `/still/${encodeURIComponent(still)}` }, still)),
      el('td', {}, el('span', { class: 'verdict' }, priorityGlyph(b.priority, true), matterTitle(b)), b.action === 'raise' && firstOut({ ...b, still }, ms(at)) ? [' ', el('span', { class: 'tag' }, 'first of a burst')] : null),
      el('td', {}, actionWords[b.action] ?? b.action), el('td', {}, site.words.states[b.state] ?? b.state),
      el('td', {}, ['raise', 'clear'].includes(b.action) ? '' : [b.by, b.reason].filter(Boolean).join(': ')))))));
}

onEntry((entry) => {
  if (entry.kind !== 'alarm' || recent.some((e) => e.seq === entry.seq)) return;
  recent = [entry, ...recent].slice(0, 40);
  list();
  refreshRates();
});

frame('alarms');
onLive(draw);
onUnits(draw);
onUnits(drawRates);
onRates(() => { draw(); list(); });
load();
refreshRates();
