// The shop in one or two sentences.

import { live, stale } from './live.js';
import { urgency } from './matters.js';

export function headline(stills) {
  if (!live.connected) return 'No connection: this is how it was.';
  const names = (some) => some.slice(0, 3).map((s) => s.name).join(', ') + (some.length > 3 ? ` and ${some.length - 3} more` : '');
  const need = stills.filter((s) => urgency(s, true));
  const known = stills.filter((s) => !urgency(s, true) && urgency(s));
  const old = stills.filter(stale);
  const dry = stills.filter((s) => s.phase === 'dry-out' && s.dry_at && !urgency(s));
  const running = stills.filter((s) => s.run > 0).length;
  const idle = stills.length - running;
  const out = [];
  if (need.length) out.push(`${names(need)} ${need.length === 1 ? 'needs' : 'need'} a person`);
  if (old.length) out.push(`no fresh readings from ${names(old)}`);
  if (dry.length) out.push(`${need.length || old.length ? 'dry, can be stopped: ' : ''}${names(dry)}${need.length || old.length ? '' : `${dry.length === 1 ? ' is' : ' are'} dry and can be stopped`}`);
  if (!out.length) out.push(known.length ? 'nothing new' : 'nothing needs you');
  if (known.length) out.push(`known: ${names(known)}`);
  out.push([running ? `${running} running` : '', idle ? `${idle} idle` : ''].filter(Boolean).join(', '));
  const begin = (s, i) => (i === 0 && (need.length || (dry.length && !old.length)) ? s : s.charAt(0).toUpperCase() + s.slice(1));
  return out.map((s, i) => `${begin(s, i)}.`).join(' ');
}
