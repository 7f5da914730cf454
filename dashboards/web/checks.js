// The start checks of a still: large targets for a thumb, each tick journaled at once with a name. It
// records; it locks nothing.

import { el, text, keep } from './dom.js';
import { frame } from './frame.js';
import { live, now, onEntry, onLive } from './live.js';
import { get } from './fetch.js';
import { recall, remember } from './memo.js';
import { lasting, ms, when } from './time.js';
import { NAME, send } from './act.js';

const byId = (id) => document.getElementById(id);
const still = decodeURIComponent(location.pathname.split('/')[2]);
const at = `/api/stills/${encodeURIComponent(still)}/checks`;
const boxes = new Map();
let view = null;

document.title = `Start checks of ${still} – luted`;
frame('checks', still);

const name = byId('name');
name.value = recall(NAME) ?? '';
name.addEventListener('change', () => {
  remember(NAME, name.value.trim());
  document.dispatchEvent(new Event(NAME));
});
document.addEventListener(NAME, () => { name.value = recall(NAME) ?? ''; });
byId('form').addEventListener('submit', (e) => e.preventDefault());

function show(next) {
  view = next;
  byId('form').hidden = !view.checks.length;
  byId('notice').hidden = false;
  text(byId('headline'), `Start checks: ${still}, run ${view.run}`);
  text(byId('notice'), view.notice);
  text(byId('for'), view.begun ? `Run ${view.run} has just begun: ticks still count for it, until ${lasting(view.after_start_s)} after its start.`
    : `For the next run. A tick counts if the run begins within ${lasting(view.good_for_s)}.`);
  keep(byId('list'), JSON.stringify([view.run, view.checks.map((c) => c.check)]), () => {
    boxes.clear();
    return [el('legend', { class: 'unseen' }, `Start checks for run ${view.run}`), ...view.checks.map(box)];
  });
  for (const c of view.checks) {
    const b = boxes.get(c.check);
    b.input.checked = c.done;
    b.label.classList.toggle('done', c.done);
    text(b.who, who(c));
  }
  const done = view.checks.filter((c) => c.done).length;
  text(byId('state'), !view.checks.length ? 'This still has no list of start checks in the configuration.'
    : done === view.checks.length ? `All ${done} are ticked.` : `${done} of ${view.checks.length} ticked. What is not ticked stands in the record as not ticked.`);
  keep(byId('links'), String(view.run), () => [
    el('a', { class: 'button', href: `/still/${encodeURIComponent(still)}/run/${view.run}` }, `Record of run ${view.run}: lot, charge, liner`), ' ',
    el('a', { class: 'button', href: `/still/${encodeURIComponent(still)}` }, `Still ${still}`)]);
  byId('cautions').hidden = false;
  keep(byId('caution-list'), JSON.stringify([view.solvent, view.sheets, view.cautions]), () => [
    el('li', {}, el('b', {}, view.solvent ? `Configured solvent: ${view.solvent}. ` : 'The configuration names no solvent. '),
      view.sheets ? `Read its safety data sheet: ${view.sheets}.` : 'Read its safety data sheet.'),
    ...view.cautions.map((c) => el('li', {}, c))]);
}

function who(c) {
  const when_ = c.at ? `${when(ms(c.at), now())}` : '';
  if (c.done) return `ticked by ${c.by}, ${when_}`;
  return c.note ? `${c.note} (${c.by}, ${when_})` : 'not ticked';
}

let made = 0;

function box(c) {
  const id = `tick-${made++}`;
  const input = el('input', { type: 'checkbox', 'aria-describedby': id });
  const whoNode = el('span', { class: 'who', id });
  const label = el('label', {}, input, el('span', { class: 'what' }, c.check), whoNode);
  input.addEventListener('change', () => tick(c.check, input));
  boxes.set(c.check, { input, label, who: whoNode });
  return label;
}

// tick journals a tick. The box shows what luted has kept, not what was touched.
async function tick(check, input) {
  const done = input.checked;
  text(byId('wrong'), '');
  const by = name.value.trim();
  if (!by) {
    input.checked = !done;
    text(byId('wrong'), 'Write your name or initials first: each tick is kept with a name.');
    name.focus();
    return;
  }
  remember(NAME, by);
  document.dispatchEvent(new Event(NAME));
  try {
    show(await send(at, { run: view.run, check, done, by }));
  } catch (problem) {
    input.checked = !done;
    text(byId('wrong'), problem.message);
    load();
  }
}

const load = () => get(at).then(show).catch((problem) => text(byId('wrong'), problem.message));

// Others may tick too, and a run that begins changes what ticks are for.
let due = '';
onEntry((e) => { if (e.still === still && ['check', 'check-list'].includes(e.kind)) load(); });
onLive(() => {
  const s = live.stills.get(still);
  const key = s ? `${s.run} ${s.runs} ${view?.begun && s.run_start && (now() - ms(s.run_start)) / 1000 > view.after_start_s}` : '';
  if (key === due) return;
  due = key;
  load();
});
load();
