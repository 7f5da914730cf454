// What a person can do about an alarm. Everything is journaled with a name, so the first action asks for
// one; this browser remembers it.

import { el } from './dom.js';
import { matterTitle } from './matters.js';
import { forget, recall, remember } from './memo.js';
import { site } from './site.js';
import { lasting } from './time.js';

const KEY = 'luted.name';
export { KEY as NAME };

// actor shows in whose name this browser acts, and lets somebody else take over.
export function actor() {
  const name = el('b');
  const node = el('span', {}, 'You act as ', name, ' ', el('button', { type: 'button', onclick: () => { forget(KEY); document.dispatchEvent(new Event(KEY)); } }, 'Not you?'));
  const show = () => {
    name.textContent = recall(KEY) ?? '';
    node.hidden = !name.textContent;
  };
  show();
  document.addEventListener(KEY, show);
  addEventListener('storage', show);
  return node;
}

const post = (path, m, more) => send(`/api/alarms/${path}`, { still: m.still, fault: m.fault, channel: m.channel ?? '', by: recall(KEY), ...more });

// send posts what a person did and gives back what luted says to it; a refusal is an error in its words.
export async function send(path, body) {
  const answer = await fetch(path, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });
  const said = await answer.json().catch(() => null);
  if (!answer.ok) throw new Error(said?.detail ?? `luted answered ${answer.status}`);
  return said;
}

// ask opens a dialog and resolves when its form has been carried out or closed. run throws what is wrong.
export function ask(title, lines, fields, verb, run) {
  return new Promise((done) => {
    const wrong = el('p', { class: 'wrong', role: 'alert' });
    const submit = el('button', { type: 'submit', class: 'strong' }, verb);
    const form = el('form', { method: 'dialog' }, el('h2', {}, title), lines.map((l) => el('p', {}, l)), fields, wrong,
      el('div', { class: 'acts' }, el('button', { type: 'button', onclick: () => box.close() }, 'Cancel'), submit));
    const box = el('dialog', { 'aria-label': title, onclose: () => { box.remove(); done(); } }, form);
    form.addEventListener('submit', async (e) => {
      e.preventDefault();
      submit.disabled = true;
      try {
        await run();
        box.close();
      } catch (problem) {
        wrong.textContent = problem.message;
        submit.disabled = false;
      }
    });
    document.body.append(box);
    box.showModal();
    (fields[0]?.querySelector('input, select, textarea') ?? submit).focus();
  });
}

export function nameField() {
  const input = el('input', { required: true, maxlength: 64, autocomplete: 'name', value: recall(KEY) ?? '' });
  return { input, label: el('label', {}, 'Your name or initials', input), keep: () => { remember(KEY, input.value.trim()); document.dispatchEvent(new Event(KEY)); } };
}

// simple carries out an action that needs a name only, and asks for it once.
async function simple(verb, path, m, sure) {
  const title = `${verb}: ${m.still}, ${matterTitle(m)}`;
  if (recall(KEY) && !sure) {
    try {
      return await post(path, m);
    } catch (problem) {
      return ask(title, [problem.message], [], 'Try again', () => post(path, m));
    }
  }
  const name = nameField();
  return ask(title, sure ?? ['It is journaled with your name.'], [name.label], verb, () => { name.keep(); return post(path, m); });
}

export const acknowledge = (m) => simple('Acknowledge', 'acknowledge', m);
export const unshelve = (m) => simple('Unshelve', 'unshelve', m);
export const reset = (m) => simple('Reset', 'reset', m, ['Reset only when you know where it came from.']);

// withReason asks for a reason as well as a name.
function withReason(verb, path, m, lines, why) {
  const name = nameField();
  const reason = el('input', { required: true, maxlength: 300, autocomplete: 'off' });
  return ask(`${verb}: ${m.still}, ${matterTitle(m)}`, lines, [el('label', {}, why, reason), name.label], verb,
    () => { name.keep(); return post(path, m, { reason: reason.value.trim() }); });
}

export const returnToService = (m) => withReason('Return to service', 'return-to-service', m, ['It is shown and told again from now on.'], 'What was done');
export const removeFromService = (m) => withReason('Take out of service', 'remove-from-service', m,
  ['It stays hidden until somebody returns it, however long that is. For a limited time, shelve it instead.', 'Whatever it watches over must be watched otherwise meanwhile.'], 'Why');

export function shelve(m) {
  const name = nameField();
  const times = [15, 60, 240, 480, 1440].filter((min) => min * 60 <= site.max_shelf_s);
  const minutes = el('select', {}, times.map((min) => el('option', { value: min }, lasting(min * 60))));
  const reason = el('input', { required: true, maxlength: 300, autocomplete: 'off' });
  return ask(`Shelve: ${m.still}, ${matterTitle(m)}`, ['A shelved alarm is hidden for a time. What caused it goes on.'],
    [el('label', {}, 'For how long', minutes), el('label', {}, 'Why', reason), name.label], 'Shelve',
    () => { name.keep(); return post('shelve', m, { minutes: Number(minutes.value), reason: reason.value.trim() }); });
}

// done notes that somebody has done an upkeep.
export function done(it) {
  const name = nameField();
  return ask(`Done: ${it.still}, ${it.name}`, ['The counter begins anew, and it is journaled with your name. It cannot be taken back.'], [name.label], 'Done', async () => {
    name.keep();
    const answer = await fetch('/api/upkeep/done', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ still: it.still, upkeep: it.name, by: recall(KEY) }) });
    if (!answer.ok) throw new Error((await answer.json().catch(() => null))?.detail ?? `luted answered ${answer.status}`);
  });
}
