// What stands where nothing is: what was asked for, and the nearest that there is.

import { el, text } from './dom.js';
import { frame } from './frame.js';
import { live, onLive } from './live.js';

const [, page, asked] = decodeURIComponent(location.pathname).split('/');
const still = page === 'still' && asked ? asked : '';

if (still) {
  document.title = `No still ${still} – luted`;
  text(document.getElementById('headline'), `There is no still “${still}” here.`);
  text(document.getElementById('why'), 'It may have been renamed or taken out of the configuration; its records stay in the archive.');
} else text(document.getElementById('why'), `Asked for was ${location.pathname}.`);

frame('missing');

// likeness counts the pairs of letters that two names share: enough to find a misspelt one.
function likeness(a, b) {
  const pairs = (s) => new Set([...s.toLowerCase()].map((c, i, all) => (all[i - 1] ?? ' ') + c));
  const have = pairs(b);
  return [...pairs(a)].filter((p) => have.has(p)).length;
}

let listed = '';

onLive(() => {
  const key = live.names.join();
  if (!key || key === listed) return;
  listed = key;
  const names = still ? [...live.names].sort((a, b) => likeness(still, b) - likeness(still, a)) : live.names;
  document.getElementById('near').hidden = false;
  document.getElementById('links').replaceChildren(...names.slice(0, 24).map((n) => el('li', {}, el('a', { href: `/still/${encodeURIComponent(n)}` }, n))));
});
