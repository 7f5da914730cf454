// The shop: every still as one row, what needs a person first.

import { el, text, attr } from './dom.js';
import { frame, entryWords } from './frame.js';
import { live, now, onEntry, onLive, stale } from './live.js';
import { onUnits } from './units.js';
import { ms, when } from './time.js';
import * as act from './act.js';
import { Row } from './row.js';
import { urgency } from './matters.js';

const list = document.getElementById('stills');
const rows = new Map();

frame('shop');
onLive(draw);
onUnits(draw);
onEntry(happened);
onLive(once);

// happened shows the newest thing that has words.
function happened(entry) {
  const words = entryWords(entry);
  if (words) text(document.getElementById('latest'), `${when(ms(entry.at), now())} ${words}`);
  return words;
}

// once the line stands, the page begins with the last thing that happened before it.
let asked = false;

async function once() {
  if (asked) return;
  asked = true;
  const answer = await fetch('/api/journal?order=newest&limit=20', { cache: 'no-store' }).catch(() => null);
  if (answer?.ok && !document.getElementById('latest').textContent) (await answer.json()).entries.some(happened);
}

const tools = document.getElementById('tools');
const find = document.getElementById('find');
const needy = document.getElementById('needy');
tools.addEventListener('input', draw);
tools.addEventListener('submit', (e) => e.preventDefault());

function draw() {
  if (!live.names.length) {
    if (live.connected) text(document.getElementById('headline'), 'No stills are configured.');
    return;
  }
  const stills = live.names.map((n) => live.stills.get(n)).filter(Boolean);
  for (const still of stills) {
    if (!rows.has(still.name)) rows.set(still.name, new Row(act, 'h2'));
    const row = rows.get(still.name);
    row.update(still);
    const item = row.node.parentNode ?? el('li', {}, row.node);
    attr(item, 'hidden', wanted(still) ? null : '');
  }
  order(stills);
  tools.hidden = stills.length < 8;
  text(document.getElementById('headline'), headline(stills));
}

function wanted(still) {
  if (needy.checked && !urgency(still) && !stale(still)) return false;
  const word = find.value.trim().toLowerCase();
  return !word || [still.name, still.solvent ?? '', still.phase].some((s) => s.toLowerCase().includes(word));
}

// order puts first what needs a person, and keeps the order of the configuration otherwise. Nothing moves
// while somebody is at work in the list.
function order(stills) {
  const rank = (s) => -(urgency(s, true) * 20 + (stale(s) ? 10 : 0) + urgency(s));
  const want = stills.map((s, i) => [rank(s), i, s.name]).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map((x) => rows.get(x[2]).node.parentNode);
  const same = want.length === list.children.length && want.every((n, i) => list.children[i] === n);
  if (!same && (!list.children.length || !list.contains(document.activeElement))) list.replaceChildren(...want);
}

function headline(stills) {
  if (!live.connected) return 'No connection: this is how it was.';
  const names = (some) => some.slice(0, 3).map((s) => s.name).join(', ') + (some.length > 3 ? ` and ${some.length - 3} more` : '');
  const need = stills.filter((s) => urgency(s, true));
  const known = stills.filter((s) => !urgency(s, true) && urgency(s));
  const old = stills.filter(stale);
  const running = stills.filter((s) => s.run > 0).length;
  const idle = stills.length - running;
  const out = [];
  if (need.length) out.push(`${names(need)} ${need.length === 1 ? 'needs' : 'need'} a person`);
  if (old.length) out.push(`no fresh readings from ${names(old)}`);
  if (!out.length) out.push(known.length ? 'nothing new' : 'nothing needs you');
  if (known.length) out.push(`known: ${names(known)}`);
  out.push([running ? `${running} running` : '', idle ? `${idle} idle` : ''].filter(Boolean).join(', '));
  const begin = (s, i) => (i === 0 && need.length ? s : s.charAt(0).toUpperCase() + s.slice(1));
  return out.map((s, i) => `${begin(s, i)}.`).join(' ');
}
