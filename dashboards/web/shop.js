// The shop: every still as one row, what needs a person first.

import { el, text, attr } from './dom.js';
import { frame, entryWords } from './frame.js';
import { live, now, onEntry, onLive, stale } from './live.js';
import { onUnits } from './units.js';
import { ms, when } from './time.js';
import * as act from './act.js';
import { Row } from './row.js';
import { filter, wanted } from './filter.js';
import { headline } from './headline.js';
import { byNeed } from './need.js';
import { urgency } from './matters.js';

const byId = (id) => document.getElementById(id);
const list = byId('stills');
const rows = new Map(); // by the name of the still: its row, and what it shows

frame('shop');
if (new URLSearchParams(location.search).has('wall')) (await import('./wall.js')).wall();
else {
  filter(draw);
  onLive(draw);
  onUnits(() => { for (const r of rows.values()) r.shown = null; draw(); });
  onLive(once);
  addEventListener('beforeprint', () => { for (const r of rows.values()) r.near = true; draw(); });
}
onEntry(happened);

// happened shows the newest thing that has words.
function happened(entry) {
  const words = entryWords(entry);
  if (words) text(byId('latest'), `${when(ms(entry.at), now())} ${words}`);
  return words;
}

// once the line stands, the page begins with the last thing that happened before it.
let asked = false;

async function once() {
  if (asked) return;
  asked = true;
  const answer = await fetch('/api/journal?order=newest&limit=20', { cache: 'no-store' }).catch(() => null);
  if (answer?.ok && !byId('latest').textContent) (await answer.json()).entries.some(happened);
}

// Rows near the window are drawn as they change; those far off a few at a time, unless something is wrong
// with them, so that a shop of hundreds costs no more than what can be seen of it.
const FAR = 10;
const watch = new IntersectionObserver((seen) => {
  for (const { target, isIntersecting } of seen) {
    const r = rows.get(target.dataset.still);
    r.near = isIntersecting;
    if (isIntersecting) refresh(r, live.stills.get(target.dataset.still));
  }
}, { rootMargin: '400px' });

function refresh(r, still) {
  if (!still) return;
  r.row.update(still);
  r.shown = still;
  r.level = level(still);
}

const level = (still) => `${urgency(still)} ${urgency(still, true)} ${still.phase} ${still.run} ${stale(still)} ${live.connected}`;

let turn = 0;

function draw() {
  if (!live.names.length) {
    if (live.connected) text(byId('headline'), 'No stills are configured.');
    return;
  }
  const stills = live.names.map((n) => live.stills.get(n)).filter(Boolean);
  let shown = 0;
  let far = 0;
  stills.forEach((still, i) => {
    const r = rowOf(still);
    const show = wanted(still);
    attr(r.item, 'hidden', show ? null : '');
    if (!show) return;
    shown++;
    const due = !r.near && r.shown !== still && i >= turn && far < FAR;
    if (due) far++;
    if (r.near || due || r.level !== level(still)) refresh(r, still);
    if (due && far === FAR) turn = i + 1;
  });
  if (far < FAR) turn = 0;
  order(stills);
  list.classList.toggle('many', stills.length > 20);
  byId('tools').hidden = stills.length < 8;
  text(byId('shown'), shown === stills.length ? '' : `${shown} of ${stills.length} shown`);
  text(byId('headline'), headline(stills));
}

function rowOf(still) {
  if (!rows.has(still.name)) {
    const row = new Row(act, 'h2');
    const r = { row, item: el('li', { 'data-still': still.name }, row.node), near: false, shown: null, level: '' };
    rows.set(still.name, r);
    watch.observe(r.item);
  }
  return rows.get(still.name);
}

// order puts first what needs a person, and keeps the order of the configuration otherwise. Nothing moves
// while somebody is at work in the list.
function order(stills) {
  const want = byNeed(stills).map((s) => rows.get(s.name).item);
  const same = want.length === list.children.length && want.every((n, i) => list.children[i] === n);
  if (!same && (!list.children.length || !list.contains(document.activeElement))) list.replaceChildren(...want);
}
