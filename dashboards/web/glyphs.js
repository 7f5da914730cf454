// What a phase, a priority and a verdict look like. Each has a shape of its own, and stands beside its word;
// colour only underlines.

import { el, svg } from './dom.js';

const stroke = { fill: 'none', stroke: 'currentColor', 'stroke-width': 2, 'stroke-linecap': 'round', 'stroke-linejoin': 'round' };
const line = (d, more) => svg('path', { d, ...stroke, ...more });

// The pot in section: jacket, charge, lid. What happens in it is drawn inside.
const pot = () => [line('M8 13v17a5 5 0 0 0 5 5h14a5 5 0 0 0 5-5V13'), line('M5 13h30')];
const inside = {
  'idle': () => [],
  'pump-down': () => [line('M20 10V2M20 2l-4 4M20 2l4 4'), line('M13 26h14')],
  'heat-up': () => [line('M13 24h14'), line('M14 39v-1M20 39v-1M26 39v-1'), line('M20 20v-3M15 20v-2M25 20v-2')],
  'distilling': () => [line('M13 26q3.5-3 7 0t7 0'), line('M20 13V6h15v6'), svg('path', { d: 'M35 15q4 5 0 7q-4-2 0-7z', fill: 'currentColor' })],
  'dry-out': () => [svg('path', { d: 'M12 31h16', ...stroke, 'stroke-dasharray': '1 4' }), line('M20 13V6h15v6')],
  'cool-down': () => [line('M13 29h14'), line('M20 17v7M20 24l-3-3M20 24l3-3')],
};

export function phaseGlyph(phase) {
  return svg('svg', { viewBox: '0 0 40 40', 'aria-hidden': 'true' }, pot(), (inside[phase] ?? inside.idle)());
}

// priorityGlyph: high is a diamond, medium a triangle, low a circle; hollow once somebody knows.
export function priorityGlyph(priority, known) {
  const shape = {
    high: 'M12 1.5 22.5 12 12 22.5 1.5 12z',
    medium: 'M12 2 23 21.5H1z',
    low: 'M12 2.5a9.5 9.5 0 1 0 .01 0z',
  }[priority] ?? 'M3 3h18v18H3z';
  const ink = `var(--${priority})`;
  return svg('svg', { viewBox: '0 0 24 24', 'aria-hidden': 'true' },
    svg('path', { d: shape, fill: known ? 'none' : ink, stroke: ink, 'stroke-width': 2, 'stroke-linejoin': 'round' }),
    priority === 'low' ? null : svg('path', { d: priority === 'high' ? 'M12 6.5v6.5M12 17v.2' : 'M12 9v5.5M12 18v.2', fill: 'none', stroke: known ? ink : 'var(--on-alarm)', 'stroke-width': 2.4, 'stroke-linecap': 'round' }),
    priority === 'low' ? svg('path', { d: 'M12 10.5V17M12 7v.2', fill: 'none', stroke: known ? ink : 'var(--on-alarm)', 'stroke-width': 2.4, 'stroke-linecap': 'round' }) : null);
}

export function verdictMark(verdict) {
  const d = { good: 'M4 12.5 10 18 20 6', suspect: 'M8 8.5a4 4 0 1 1 5.5 3.8q-1.5.7-1.5 2.7M12 19.3v.2', failed: 'M5 5l14 14M19 5 5 19' }[verdict] ?? 'M5 12h14';
  return el('span', { class: `verdict ${verdict}` },
    svg('svg', { viewBox: '0 0 24 24', 'aria-hidden': 'true' }, line(d, { 'stroke-width': 2.6 })), verdict);
}
