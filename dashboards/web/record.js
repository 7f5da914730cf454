// A batch record or a month as a page: the same sheet that is printed, with buttons to enter, correct and note.
// Nothing is changed on the page itself: it is loaded again with what luted has kept.

import { el } from './dom.js';
import { frame } from './frame.js';
import { ask, nameField, send } from './act.js';
import { onUnits, system, unitOf } from './units.js';

const sheet = document.getElementById('main');
const { still, run, kind } = sheet.dataset;

frame(kind === 'month' ? 'records' : 'record', still);

// The sheet is written in one set of units; another choice asks for it anew.
function units() {
  if (system() === sheet.dataset.display) return;
  const to = new URL(location.href);
  to.searchParams.set('display', system());
  location.replace(to);
}
onUnits(units);
units();

for (const b of sheet.querySelectorAll('button[data-act]')) {
  b.hidden = false;
  b.addEventListener('click', () => ({ amend: () => amend(b.closest('tr')), note, print: () => window.print() })[b.dataset.act]());
}

const at = `/api/stills/${encodeURIComponent(still ?? '')}/runs/${run}`;

// again loads the page anew, at the place where something was changed.
function again(place) {
  const to = new URL(location.href);
  to.hash = place;
  if (to.href === location.href) return location.reload();
  history.replaceState(null, '', to);
  location.reload();
}

// amountUnits are the units in which people here write an amount, theirs first.
function amountUnits(field) {
  const dims = field === 'amount' ? ['mass', 'volume'] : ['volume'];
  const other = system() === 'us' ? { mass: ['kg'], volume: ['L'] } : { mass: ['lb'], volume: ['gal'] };
  return [...dims.map((d) => unitOf(d).symbol), ...dims.flatMap((d) => other[d])];
}

async function amend(row) {
  const { field, words, kind: how, seq, text: before } = row.dataset;
  const why = 'why' in row.dataset;
  const amount = how !== 'words';
  const value = el('input', { maxlength: 100, autocomplete: 'off', inputmode: amount ? 'decimal' : null });
  const unit = amount ? el('select', {}, amountUnits(how).map((u) => el('option', {}, u))) : null;
  const reason = why ? el('input', { required: true, maxlength: 300, autocomplete: 'off' }) : null;
  const name = nameField();
  const lines = [before ? `It says: ${before}.` : 'Nothing stands there yet.',
    why ? 'A correction is a new entry: what stood there before, you, the time and your reason stay readable. Empty takes the value back.' : 'It is journaled with your name and the time.'];
  let changed = false;
  await ask(`${why ? 'Correct' : 'Enter'}: ${words}, run ${run}`, lines,
    [el('label', {}, words, value), unit && el('label', {}, 'Unit', unit), reason && el('label', {}, 'Why', reason), name.label].filter(Boolean), why ? 'Correct' : 'Enter',
    async () => {
      name.keep();
      const number = value.value.trim().replace(',', '.');
      await send(`${at}/record`, { field, value: number && unit ? `${number} ${unit.value}` : value.value.trim(), after: Number(seq), by: name.input.value.trim(), why: reason?.value.trim() ?? '' });
      changed = true;
    });
  if (changed) again(`field-${field}`);
}

async function note() {
  const words = el('textarea', { required: true, maxlength: 2000, rows: 4 });
  const name = nameField();
  let added = false;
  await ask(`Note on run ${run}`, ['Notes are only ever added. It is kept with your name and the time.'], [el('label', {}, 'Note', words), name.label], 'Add',
    async () => {
      name.keep();
      await send(`${at}/notes`, { text: words.value.trim(), by: name.input.value.trim() });
      added = true;
    });
  if (added) again('notes');
}

// After a change the keyboard goes on where it was.
const back = location.hash.startsWith('#field-') || location.hash === '#notes';
if (back) {
  const place = location.hash === '#notes' ? sheet.querySelector('[data-act=note]') : document.querySelector(`${CSS.escape(location.hash.slice(1)).replace(/^/, '#')} button`);
  place?.focus();
}
