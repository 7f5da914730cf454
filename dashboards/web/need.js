// The order of the stills: what needs a person first, then as configured.

import { stale } from './live.js';
import { urgency } from './matters.js';

export function byNeed(stills) {
  const rank = (s) => -(urgency(s, true) * 20 + (stale(s) ? 10 : 0) + urgency(s));
  return stills.map((s, i) => [rank(s), i, s]).sort((a, b) => a[0] - b[0] || a[1] - b[1]).map((x) => x[2]);
}
