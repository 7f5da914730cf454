// From a still's page to what is kept about its runs.

import { el, keep } from './dom.js';
import { live, onLive } from './live.js';

const still = decodeURIComponent(location.pathname.split('/')[2]);
const at = `/still/${encodeURIComponent(still)}`;
const node = document.getElementById('onward');

onLive(() => {
  const s = live.stills.get(still);
  if (!s) return;
  keep(node, `${s.run} ${s.runs}`, () => [
    el('a', { class: 'button', href: `${at}/checks` }, 'Start checks'),
    el('a', { class: 'button', href: `${at}/runs` }, 'All runs'),
    s.runs ? el('a', { class: 'button', href: `${at}/run/${s.runs}` }, s.run ? 'Record of this run' : `Record of run ${s.runs}`) : null,
  ].filter(Boolean));
});
