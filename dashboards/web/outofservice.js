// Taking an alarm out of service before it comes, and what the states of alarms mean.

import { el, text } from './dom.js';
import { site } from './site.js';
import { live, onLive } from './live.js';
import { removeFromService } from './act.js';

const byId = (id) => document.getElementById(id);
const still = el('select', { name: 'still' });
const fault = el('select', { name: 'fault' }, Object.entries(site.words.faults).filter(([f]) => !/^(signal-|limit-|upkeep)/.test(f)).map(([f, words]) => el('option', { value: f }, words)));

byId('before').append(el('label', {}, 'Still', still), el('label', {}, 'Alarm', fault), el('button', {}, 'Out of service…'));
byId('before').addEventListener('submit', (e) => {
  e.preventDefault();
  const m = { still: still.value, fault: fault.value };
  const known = () => (live.stills.get(m.still)?.alarms ?? []).some((a) => a.fault === m.fault && a.state === 'out of service');
  removeFromService(m).then(() => setTimeout(() => { if (known()) text(byId('before-done'), `${m.still}: ${site.words.faults[m.fault]} is out of service. It stands above, where it is returned.`); }, 1200));
});

onLive(() => {
  if (still.options.length !== live.names.length) still.replaceChildren(...live.names.map((n) => el('option', { value: n }, n)));
});

const meanings = {
  'normal': 'nothing to say',
  'unacknowledged': 'the condition is present and nobody has taken note yet',
  'acknowledged': 'the condition is present and somebody knows',
  'returned to normal, unacknowledged': 'it came and went, and nobody has taken note',
  'latched, unacknowledged': 'it has gone, but it is one that somebody must look into all the same; nobody has taken note',
  'latched, acknowledged': 'somebody knows; it waits to be reset once the cause is known',
  'shelved': 'hidden by a person for a time, for a reason; it comes back by itself',
  'suppressed by design': 'hidden by logic while it has no meaning',
  'out of service': 'hidden by a person until somebody returns it',
};
byId('states').append(...Object.entries(meanings).flatMap(([state, words]) => [el('dt', {}, site.words.states[state] ?? state), el('dd', {}, words)]));
