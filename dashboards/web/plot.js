// A plain picture: lines, dots, bars and levels over one scale each way, drawn anew when its box changes.
// Lines carry their names at their ends, and differ in dash as well as in tint. Everything that it shows is
// also in a table or in words beside it; the picture itself has one sentence for those who do not see it.

import { svg } from './dom.js';
import { digits } from './units.js';
import { day, offset } from './time.js';
import { decimals, round, timeStep, timeTicks } from './axis.js';

const LEFT = 52;
const TOP = 10;
const AXIS = 22;
const DAY = 86_400_000;

// dashes tell lines apart without colour, as many as can be told apart.
export const DASHES = [null, '10 3', '4 3', '12 3 2 3', '2 3', '8 3 2 3 2 3'];
export const INKS = ['--oil', '--charge', '--vapor', '--condensate', '--guide', '--soft'];

export class Plot {
  constructor(box) {
    this.box = box;
    box.classList.add('plot');
    this.spec = null;
    new ResizeObserver(() => this.draw()).observe(box);
  }

  // show takes: says, the sentence; height; x: {from, to, ticks(width)}; y: {zero, places}; marks; at: an x to
  // point at. A mark is one of {line, dash, ink, width, name}, {dots, hollow, ink}, {spans: [x, low, high]},
  // {bars: [from, to, y]}, {level, name, dash}. y values are in display units; null breaks a line.
  show(spec) {
    this.spec = spec;
    this.draw();
  }

  draw() {
    const s = this.spec;
    const width = this.box.clientWidth;
    if (!s || width < 50) return;
    const names = s.marks.filter((m) => m.name && m.line);
    const right = names.length ? Math.min(110, 14 + 7.2 * Math.max(...names.map((m) => m.name.length))) : 10;
    const bottom = s.height - AXIS;
    const { low, high, ticks } = scale(s, bottom);
    const x = (v) => LEFT + ((v - s.x.from) / (s.x.to - s.x.from || 1)) * (width - LEFT - right);
    const y = (v) => bottom - ((v - low) / (high - low)) * (bottom - TOP);
    const out = [svg('title', {}, s.says)];
    for (const t of ticks) {
      const at = Math.round(y(t)) + 0.5;
      out.push(svg('path', { d: `M${LEFT} ${at}H${width - right}`, stroke: 'var(--hair)' }), svg('text', { x: LEFT - 7, y: at + 4, 'text-anchor': 'end' }, digits(t, decimals(ticks))));
    }
    out.push(...xAxis(s.x, x, width - right, bottom, width));
    const inner = s.marks.flatMap((m) => mark(m, x, y, low, width - right));
    out.push(...inner, ...ends(names, x, y, width - right, bottom));
    if (s.at !== undefined && s.at !== null) out.push(svg('path', { d: `M${x(s.at).toFixed(1)} ${TOP - 6}V${bottom}`, stroke: 'var(--ink)', 'stroke-dasharray': '1 2' }));
    this.box.replaceChildren(svg('svg', { role: 'img', 'aria-label': s.says, viewBox: `0 0 ${width} ${s.height}`, height: s.height }, out));
    this.x = (clientX) => {
      const share = (clientX - this.box.getBoundingClientRect().left - LEFT) / (width - LEFT - right);
      return s.x.from + Math.max(0, Math.min(1, share)) * (s.x.to - s.x.from);
    };
  }
}

function scale(s, bottom) {
  let low = Infinity;
  let high = -Infinity;
  const see = (v) => { if (v !== null && Number.isFinite(v)) { low = Math.min(low, v); high = Math.max(high, v); } };
  for (const m of s.marks) {
    for (const p of m.line ?? m.dots ?? []) see(p[1]);
    for (const p of m.spans ?? []) { see(p[1]); see(p[2]); }
    for (const p of m.bars ?? []) see(p[2]);
    if (m.level !== undefined) see(m.level);
  }
  if (s.y.zero) { low = Math.min(low, 0); high = Math.max(high, 0); }
  if (!Number.isFinite(low)) { low = 0; high = 1; }
  if (!(high > low)) { high = low + (Math.abs(low) || 1) * 0.1; }
  const step = s.y.whole ? Math.max(1, round((high - low) / Math.max(2, Math.floor(bottom / 40)))) : round((high - low) / Math.max(2, Math.floor(bottom / 40)));
  low = Math.floor(low / step + 1e-9) * step;
  high = Math.ceil(high / step - 1e-9) * step;
  const ticks = [];
  for (let k = 0; low + k * step <= high + step / 1e6; k++) ticks.push(low + k * step);
  return { low, high, ticks };
}

function xAxis(axis, x, edge, bottom, width) {
  const out = [];
  let free = LEFT - 20;
  for (const t of axis.ticks(edge - LEFT)) {
    const at = Math.round(x(t.at)) + 0.5;
    out.push(svg('path', { d: `M${at} ${TOP - 6}V${bottom + 4}`, stroke: 'var(--hair)' }));
    const half = t.words.length * 3.3;
    if (at - half < free || at + half > width) continue;
    out.push(svg('text', { x: at, y: bottom + 17, 'text-anchor': 'middle' }, t.words));
    free = at + half + 8;
  }
  return out;
}

function mark(m, x, y, low, edge) {
  const ink = `var(${m.ink ?? '--oil'})`;
  const n = (v) => v.toFixed(1);
  if (m.line) {
    let d = '';
    let pen = false;
    for (const [px, py] of m.line) {
      if (py === null || !Number.isFinite(py)) { pen = false; continue; }
      d += `${pen ? 'L' : 'M'}${n(x(px))} ${n(y(py))}`;
      pen = true;
    }
    return [svg('path', { d, fill: 'none', stroke: ink, 'stroke-width': m.width ?? 2, 'stroke-dasharray': m.dash, 'stroke-linejoin': 'round' })];
  }
  if (m.spans) return [svg('path', { d: m.spans.map(([px, a, b]) => `M${n(x(px))} ${n(y(a))}V${n(y(b))}`).join(''), stroke: ink, 'stroke-width': m.width ?? 1.2, opacity: m.faint ? 0.6 : null })];
  if (m.dots) {
    const r = m.size ?? 3;
    const shape = { box: (a, b) => `M${a - r} ${b - r}h${2 * r}v${2 * r}h${-2 * r}z`, tri: (a, b) => `M${a} ${b - r - 1}l${r + 1} ${2 * r}h${-2 * r - 2}z`, cross: (a, b) => `M${a - r} ${b - r}l${2 * r} ${2 * r}m0 ${-2 * r}l${-2 * r} ${2 * r}` }[m.shape]
      ?? ((a, b) => `M${a - r} ${b}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`);
    return [svg('path', { d: m.dots.filter((p) => Number.isFinite(p[1])).map(([px, py]) => shape(Number(n(x(px))), Number(n(y(py))))).join(''), fill: m.hollow || m.shape === 'cross' ? 'var(--sheet)' : ink, stroke: ink, 'stroke-width': 1.5 })];
  }
  if (m.bars) return [svg('path', { d: m.bars.map(([a, b, v]) => `M${n(x(a) + 0.5)} ${n(y(Math.max(low, 0)))}V${n(y(v))}H${n(Math.max(x(a) + 1.5, x(b) - 0.5))}V${n(y(Math.max(low, 0)))}z`).join(''), fill: ink })];
  if (m.level !== undefined) {
    const at = Math.round(y(m.level)) + 0.5;
    return [svg('path', { d: `M${LEFT} ${at}H${edge}`, stroke: 'var(--soft)', 'stroke-width': 1.5, 'stroke-dasharray': m.dash ?? '8 4' }),
      m.name ? svg('text', { x: edge - 4, y: at < TOP + 14 ? at + 14 : at - 5, 'text-anchor': 'end' }, m.name) : svg('g')];
  }
  return [];
}

// ends writes the names of the lines where they end, one below the other where they would meet.
function ends(names, x, y, edge, bottom) {
  const at = names.map((m) => ({ m, p: m.line.findLast((q) => q[1] !== null && Number.isFinite(q[1])) })).filter((e) => e.p).map((e) => ({ ...e, px: x(e.p[0]), py: y(e.p[1]) })).sort((a, b) => a.py - b.py);
  let free = TOP - 4;
  for (const e of at) { e.y = Math.max(free, Math.min(e.py, bottom)); free = e.y + 14; }
  for (let i = at.length - 1, most = bottom + 4; i >= 0; i--) { at[i].y = Math.min(at[i].y, most); most = at[i].y - 14; }
  return at.flatMap((e) => [
    svg('path', { d: `M${e.px.toFixed(1)} ${e.py.toFixed(1)}L${edge + 8} ${e.y.toFixed(1)}`, stroke: 'var(--soft)', 'stroke-width': 1, fill: 'none', 'stroke-dasharray': '1 3' }),
    svg('text', { class: 'end', x: edge + 11, y: e.y + 4 }, e.m.name)]);
}

// sample is a piece of a line for a key to the picture.
export const sample = (ink, dash) => svg('svg', { viewBox: '0 0 40 12', 'aria-hidden': 'true' }, svg('path', { d: 'M0 6h40', stroke: `var(${ink})`, 'stroke-width': 2.4, 'stroke-dasharray': dash }));

// hourTicks count from a start, in ms.
export const hourTicks = (span) => (width) => {
  const step = timeStep(span / Math.max(2, width / 80));
  const out = [];
  for (let t = 0; t <= span; t += step) out.push({ at: t, words: step % 3_600_000 ? `${Math.floor(t / 3_600_000)}:${String(Math.round((t % 3_600_000) / 60_000)).padStart(2, '0')} h` : `${t / 3_600_000} h` });
  return out;
};

// dateTicks lie on the days of the site's calendar.
export const dateTicks = (from, to) => (width) => {
  const least = (to - from) / Math.max(2, width / 90);
  const short = (t) => day(t).replace(/^\S+ /, '');
  if (least <= 7 * DAY) return timeTicks(from, to, Math.max(DAY, timeStep(least))).map((t) => ({ at: t, words: short(t) }));
  const every = [1, 2, 3, 6, 12].find((m) => m * 30 * DAY >= least) ?? 12;
  const out = [];
  const begin = new Date(from);
  for (let i = 0; out.length < 200; i++) {
    const wall = Date.UTC(begin.getUTCFullYear(), i * every, 1);
    const t = wall - offset(wall);
    if (t > to) break;
    const d = new Date(wall);
    if (t >= from) out.push({ at: t, words: `${d.toLocaleString('en-GB', { month: 'short', timeZone: 'UTC' })} ${d.getUTCFullYear()}` });
  }
  return out;
};
