// Which stills are shown: by words, by phase, by need. The choice stands in the address, so it can be sent
// on and is there after a reload.

import { el } from './dom.js';
import { site } from './site.js';
import { stale } from './live.js';
import { urgency } from './matters.js';

const find = document.getElementById('find');
const phase = document.getElementById('phase');
const needy = document.getElementById('needy');

export function filter(changed) {
  const query = new URLSearchParams(location.search);
  phase.append(...['idle', ...site.phase_order].map((p) => el('option', { value: p }, site.words.phases[p] ?? p)));
  find.value = query.get('find') ?? '';
  phase.value = query.get('phase') ?? '';
  needy.checked = query.has('needy');
  const form = document.getElementById('tools');
  form.addEventListener('input', () => { keep(); changed(); });
  form.addEventListener('submit', (e) => e.preventDefault());
  document.addEventListener('keydown', (e) => {
    if (e.key !== '/' || e.ctrlKey || e.metaKey || e.altKey || e.target.closest('input, select, textarea, dialog') || form.hidden) return;
    e.preventDefault();
    find.focus();
    find.select();
  });
}

function keep() {
  const query = new URLSearchParams();
  if (find.value.trim()) query.set('find', find.value.trim());
  if (phase.value) query.set('phase', phase.value);
  if (needy.checked) query.set('needy', '');
  history.replaceState(null, '', `${location.pathname}${query.size ? `?${query}` : ''}`);
}

// wanted: every word must be in the name, the solvent or the phase.
export function wanted(still) {
  if (needy.checked && !urgency(still) && !stale(still)) return false;
  if (phase.value && still.phase !== phase.value) return false;
  const where = `${still.name} ${still.solvent ?? ''} ${still.phase}`.toLowerCase();
  return find.value.toLowerCase().split(/\s+/).every((word) => where.includes(word));
}
