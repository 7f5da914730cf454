// The course of a still: panels one below the other over the same stretch of time, each with its legend
// beside it, which gives the values at the moment pointed at. Lines differ in dash and weight as well as tint.

import { el, svg, text, attr, keep } from './dom.js';
import { site } from './site.js';
import { convert, digits, say, unitOf } from './units.js';
import { clock, day, offset, seconds, when } from './time.js';
import { decimals, round, timeStep, timeTicks } from './axis.js';
import { PANELS } from './panels.js';
import { priorityGlyph } from './glyphs.js';
import { hands } from './hands.js';

const LEFT = 52;
const RIGHT = 10;
const BAND = 28; // height of the strip of phases
// The last good run lies under the present one: thin, grey, dotted, only what is compared at a glance.
const UNDER = { names: ['jacket_temperature', 'pressure', 'distillate_volume', 'distillate_mass'], ink: '--rule', width: 1.6, dash: [1.5, 2.5] };
const AXIS = 20; // height of the times below the last panel

export class Chart {
  // to has moment(time pointed at or null, time of the values, words), and what hands ask for: pan(share),
  // zoom(factor, share), home().
  constructor(box, to) {
    this.box = box;
    this.to = to;
    this.data = null;
    this.when = null; // moment pointed at, ms; null: the latest
    this.at = null; // the index nearest to it
    this.pending = false;
    new ResizeObserver(() => this.redraw()).observe(box);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => this.redraw());
    hands(box, (x) => this.place(x), () => this.band.clientWidth - LEFT - RIGHT, {
      point: (share) => this.point(share), pan: to.pan, key: (e) => this.key(e),
      zoom: (factor, share) => to.zoom(factor, Math.max(0, Math.min(1, share))),
    });
  }

  // show takes a trend as the API gives it. Window is what the picture spans, in ms; extra holds forecast
  // and floor of the present moment, which are drawn only while the picture reaches to it.
  show(trend, window, extra) {
    this.data = trend;
    this.from = window.from;
    this.until = window.to;
    this.extra = extra ?? {};
    this.start = Date.parse(trend.from);
    this.byName = new Map(trend.series.map((s) => [s.name, s]));
    this.build();
    this.at = this.when === null || !trend.times_s.length ? null : this.nearest(this.when);
    this.redraw();
  }

  build() {
    const drawn = (name) => this.byName.get(name)?.mean.some((v) => v !== null);
    const shown = PANELS.filter((p) => p.dimension !== 'mass' || !drawn('distillate_volume')).map((p) => ({ ...p, lines: Object.entries(p.lines).filter(([name]) => drawn(name)) })).filter((p) => p.lines.length);
    keep(this.box, shown.map((p) => p.title + p.lines.map(([n]) => n)).join('|') || 'empty', () => {
      this.panels = shown.map((p) => {
        const canvas = el('canvas', { 'aria-hidden': 'true' });
        const legend = el('dl', { class: 'legend' });
        const title = el('b');
        return { ...p, canvas, legend, heading: title, node: el('figure', {}, canvas, el('figcaption', {}, title, legend)) };
      });
      this.band = el('canvas', { 'aria-hidden': 'true' });
      this.bandNote = el('dl', { class: 'legend' });
      if (!this.panels.length) return [el('p', { class: 'empty' }, 'No readings in this time.')];
      return [el('figure', {}, this.band, el('figcaption', {}, this.bandNote)), ...this.panels.map((p) => p.node)];
    });
  }

  redraw() {
    if (this.pending || !this.data) return;
    this.pending = true;
    requestAnimationFrame(() => {
      this.pending = false;
      if (!this.panels.length) return;
      const began = performance.now();
      this.draw();
      this.box.dataset.drawMs = (performance.now() - began).toFixed(1);
      this.box.dataset.drawnAt ??= performance.now().toFixed(1); // the first picture, for measuring
    });
  }

  // ---- moments ----

  // place is where on the picture a point of the screen lies: 0 at the left end of time, 1 at the right.
  place(clientX) {
    if (!this.panels?.length) return null;
    const r = this.band.getBoundingClientRect();
    const x = (clientX - r.left - LEFT) / (r.width - LEFT - RIGHT);
    return x < -0.02 || x > 1.02 ? null : x;
  }

  point(share) {
    if (!this.panels?.length || !this.data.times_s.length) return;
    this.choose(share === null ? null : this.nearest(this.from + share * (this.until - this.from)));
  }

  nearest(t) {
    const times = this.data.times_s;
    const want = (t - this.start) / 1000;
    let lo = 0;
    let hi = times.length - 1;
    while (lo < hi) {
      const mid = (lo + hi) >> 1;
      if (times[mid] < want) lo = mid + 1; else hi = mid;
    }
    return lo > 0 && want - times[lo - 1] < times[lo] - want ? lo - 1 : lo;
  }

  // key tells whether it took the key. At the edge of the picture an arrow moves the picture.
  key(e) {
    const n = this.data?.times_s.length ?? 0;
    const there = this.at === null ? 0.5 : (this.time(this.at) - this.from) / (this.until - this.from);
    const zoom = { '+': 0.5, '=': 0.5, '-': 2, '_': 2 }[e.key];
    if (zoom) this.to.zoom(zoom, Math.max(0, Math.min(1, there)));
    else if (e.key === '0') this.to.home();
    if (zoom || e.key === '0') return true;
    if (!n) return false;
    const at = this.at ?? n - 1;
    const step = Math.max(1, Math.round(n / (e.shiftKey ? 12 : 120)));
    const to = { ArrowLeft: at - step, ArrowDown: at - step, ArrowRight: at + step, ArrowUp: at + step, PageUp: at - 10 * step, PageDown: at + 10 * step, Home: 0, End: n - 1, Escape: null }[e.key];
    if (to === undefined) return false;
    if (to !== null && to < 0 && at === 0) this.to.pan(-0.25);
    else if (to !== null && to >= n && at === n - 1) this.to.pan(0.25);
    else this.choose(to === null ? null : Math.max(0, Math.min(n - 1, to)));
    return true;
  }

  choose(at) {
    if (at === this.at) return;
    this.at = at;
    this.when = at === null ? null : this.time(at);
    this.redraw();
  }

  time(i) { return this.start + this.data.times_s[i] * 1000; }

  // ---- drawing ----

  draw() {
    const style = getComputedStyle(document.documentElement);
    this.ink = (name) => style.getPropertyValue(name).trim();
    this.font = `12px ${this.ink('--figures')}`;
    const n = this.data.times_s.length;
    const i = this.at ?? n - 1;
    this.drawBand();
    this.panels.forEach((p, k) => this.drawPanel(p, k === this.panels.length - 1));
    this.legends(i);
    if (n) this.to.moment(this.at === null ? null : this.time(i), this.time(i), this.words(i));
    attr(this.box, 'aria-valuenow', String(n > 1 ? Math.round((1000 * i) / (n - 1)) : 0));
    attr(this.box, 'aria-valuetext', n ? this.words(i) : 'no readings');
  }

  canvas(node, height) {
    if (this.paper) return this.onPaper();
    const width = node.parentNode.clientWidth - (node.nextSibling && getComputedStyle(node.parentNode).gridTemplateColumns.includes(' ') ? node.nextSibling.offsetWidth + 16 : 0);
    const scale = devicePixelRatio || 1;
    if (node.width !== Math.round(width * scale) || node.height !== Math.round(height * scale)) {
      node.width = Math.round(width * scale);
      node.height = Math.round(height * scale);
      node.style.height = `${height}px`;
    }
    const c = node.getContext('2d');
    c.setTransform(scale, 0, 0, scale, 0, 0);
    c.clearRect(0, 0, width, height);
    return this.surface(c, width);
  }

  surface(c, width) {
    c.font = this.font;
    return { c, width, x: (t) => LEFT + ((t - this.from) / (this.until - this.from)) * (width - LEFT - RIGHT) };
  }

  // ---- on paper ----

  height() { return this.panels.reduce((h, p) => h + p.height + 6, BAND + AXIS + 6); }

  // drawOn draws the same picture on another surface, one panel below the other; legend is called for each
  // panel with its top.
  drawOn(c, width, legend) {
    this.paper = { c, width, y: 0 };
    try {
      c.save();
      this.drawBand();
      c.restore();
      this.paper.y += BAND + 6;
      this.panels.forEach((p, k) => {
        legend(p, this.paper.y);
        c.save();
        this.drawPanel(p, k === this.panels.length - 1);
        c.restore();
        this.paper.y += p.height + 6;
      });
    } finally {
      this.paper = null;
    }
  }

  onPaper() {
    this.paper.c.translate(0, this.paper.y);
    return this.surface(this.paper.c, this.paper.width);
  }

  drawBand() {
    const { c, width, x } = this.canvas(this.band, BAND);
    const y = 8;
    const h = BAND - y;
    c.strokeStyle = this.ink('--rule');
    c.lineWidth = 1;
    for (const p of this.data.phases) {
      const a = Math.max(LEFT, x(Date.parse(p.start)));
      const b = Math.min(width - RIGHT, x(p.end ? Date.parse(p.end) : this.extra.now ?? this.until));
      if (b <= a) continue;
      c.fillStyle = this.ink({ 'pump-down': '--p-pump', 'heat-up': '--p-heat', 'distilling': '--p-boil', 'dry-out': '--p-dry', 'cool-down': '--p-cool' }[p.name] ?? '--well');
      c.fillRect(a, y, b - a, h);
      c.strokeRect(a + 0.5, y + 0.5, b - a, h - 1);
      const word = site.words.phases[p.name] ?? p.name;
      if (c.measureText(word).width + 10 < b - a) {
        c.fillStyle = this.ink('--ink');
        c.fillText(word, a + 5, y + 14);
      }
    }
    for (const f of this.data.faults) {
      const at = x(Date.parse(f.raised));
      c.fillStyle = this.ink(`--${this.extra.priority?.(f) ?? 'medium'}`);
      const a = Math.max(LEFT, at);
      const b = Math.min(width - RIGHT, x(f.cleared ? Date.parse(f.cleared) : this.extra.now ?? this.until));
      if (b > a) c.fillRect(a, y - 3, b - a, 2);
      if (at < LEFT || at > width - RIGHT) continue;
      c.beginPath();
      c.moveTo(at, 10);
      c.lineTo(at - 6, 0);
      c.lineTo(at + 6, 0);
      c.closePath();
      c.fill();
    }
    if (this.extra.now && this.extra.now < this.until - 1000) {
      c.fillStyle = this.ink('--soft');
      const at = x(this.extra.now) + 5;
      if (at + c.measureText('now').width < width) c.fillText('now', at, y + 14); // else the line alone says it
      this.present(c, x, BAND);
    }
    this.crosshair(c, x, BAND);
  }

  drawPanel(p, last) {
    const height = p.height + (last ? AXIS : 0);
    const { c, width, x } = this.canvas(p.canvas, height);
    const u = unitOf(p.dimension);
    const [low, high, ticks] = this.scale(p, u);
    const bottom = p.height - 8;
    const y = (inside) => bottom - ((convert(inside, u) - low) / (high - low)) * (bottom - 8);
    p.y = y;
    this.shade(c, x, width, bottom);
    c.lineWidth = 1;
    c.textAlign = 'right';
    for (const t of ticks) {
      const at = Math.round(bottom - ((t - low) / (high - low)) * (bottom - 8)) + 0.5;
      c.strokeStyle = this.ink('--hair');
      c.beginPath();
      c.moveTo(LEFT, at);
      c.lineTo(width - RIGHT, at);
      c.stroke();
      c.fillStyle = this.ink('--soft');
      c.fillText(digits(t, decimals(ticks)), LEFT - 7, at + 4);
    }
    c.textAlign = 'left';
    this.times(c, x, width, bottom, last);
    c.save();
    c.beginPath();
    c.rect(LEFT, 0, width - LEFT - RIGHT, p.height);
    c.clip();
    this.faultLines(c, x, bottom);
    for (const g of this.guides(p)) this.level(c, y(g.value), width, g);
    if (p.pressure) this.forecast(c, x, y);
    for (const [name] of p.lines) this.beneath(c, name, x, y);
    for (const [name, line] of p.lines) this.line(c, this.byName.get(name), line, x, y);
    this.present(c, x, bottom);
    this.crosshair(c, x, p.height);
    if (this.at !== null) this.dots(c, p, x, y);
    c.restore();
  }

  // scale finds round ends and ticks, in the display unit.
  scale(p, u) {
    let low = Infinity;
    let high = -Infinity;
    const see = (v) => { if (v !== null && v !== undefined) { const d = convert(v, u); if (d < low) low = d; if (d > high) high = d; } };
    for (const [name] of p.lines) {
      const s = this.byName.get(name);
      (s.min ?? s.mean).forEach(see);
      (s.max ?? s.mean).forEach(see);
      this.underSeries(name)?.mean.forEach(see);
    }
    for (const g of this.guides(p)) see(g.value);
    const zero = convert(0, u);
    if (p.zero) low = low < zero - 0.05 * (high - zero) ? low : zero; // a little noise below nothing needs no room
    if (!(high > low)) { high = low + 1; }
    const step = round((high - low) / Math.max(2, Math.floor(p.height / 42)));
    low = Math.floor(low / step) * step;
    high = Math.ceil(high / step) * step;
    const ticks = [];
    for (let k = 0; low + k * step <= high + step / 1e6; k++) ticks.push(low + k * step);
    return [low, high, ticks];
  }

  // shade carries the phases down through the panels, every other one.
  shade(c, x, width, bottom) {
    c.fillStyle = this.ink('--well');
    for (const p of this.data.phases) {
      if (p.name !== 'heat-up' && p.name !== 'dry-out') continue;
      const a = Math.max(LEFT, x(Date.parse(p.start)));
      const b = Math.min(width - RIGHT, x(p.end ? Date.parse(p.end) : this.extra.now ?? this.until));
      if (b > a) c.fillRect(a, 0, b - a, bottom);
    }
  }

  times(c, x, width, bottom, labels) {
    const step = timeStep((this.until - this.from) / Math.max(2, (width - LEFT - RIGHT) / 90));
    c.strokeStyle = this.ink('--hair');
    c.fillStyle = this.ink('--soft');
    let free = LEFT - 20;
    for (const t of timeTicks(this.from, this.until, step)) {
      const at = Math.round(x(t)) + 0.5;
      c.beginPath();
      c.moveTo(at, 0);
      c.lineTo(at, bottom + 3);
      c.stroke();
      if (!labels) continue;
      const word = step >= 86_400_000 || (t + offset(t)) % 86_400_000 === 0 ? day(t) : step < 60_000 ? seconds(t) : clock(t);
      const half = c.measureText(word).width / 2;
      const left = Math.min(at - half, width - 2 * half);
      if (left > free) {
        c.fillText(word, left, bottom + 18);
        free = left + 2 * half + 8;
      }
    }
  }

  line(c, s, style, x, y) {
    const times = this.data.times_s;
    const gap = this.data.gap_s;
    const ink = this.ink(style.ink);
    if (s.min) {
      c.fillStyle = ink;
      c.globalAlpha = 0.22;
      this.stretches(s.mean, times, gap, (a, b) => {
        c.beginPath();
        for (let i = a; i <= b; i++) c.lineTo(x(this.time(i)), y(s.max[i]) - 0.4);
        for (let i = b; i >= a; i--) c.lineTo(x(this.time(i)), y(s.min[i]) + 0.4);
        c.fill();
      });
      c.globalAlpha = 1;
    }
    c.strokeStyle = ink;
    c.lineWidth = style.width;
    c.lineJoin = 'round';
    c.setLineDash(style.dash ?? []);
    this.stretches(s.mean, times, gap, (a, b) => {
      c.beginPath();
      for (let i = a; i <= b; i++) c.lineTo(x(this.time(i)), y(s.mean[i]));
      if (a === b) c.lineTo(x(this.time(a)) + 1.5, y(s.mean[a]));
      c.stroke();
    });
    c.setLineDash([]);
  }

  // beneath draws the same line of the last good run, moved so that both runs begin together.
  beneath(c, name, x, y) {
    const s = this.underSeries(name);
    if (!s) return;
    const { trend, shift } = this.extra.under;
    const start = Date.parse(trend.from) + shift;
    c.strokeStyle = this.ink(UNDER.ink);
    c.lineWidth = UNDER.width;
    c.setLineDash(UNDER.dash);
    this.stretches(s.mean, trend.times_s, trend.gap_s, (a, b) => {
      c.beginPath();
      for (let i = a; i <= b; i++) c.lineTo(x(start + trend.times_s[i] * 1000), y(s.mean[i]));
      c.stroke();
    });
    c.setLineDash([]);
  }

  underSeries(name) { return UNDER.names.includes(name) ? this.extra.under?.trend.series.find((s) => s.name === name) : undefined; }

  // underAt is the value of the last good run at the moment of index i.
  underAt(name, i) {
    const s = this.underSeries(name);
    if (!s) return undefined;
    const { trend, shift } = this.extra.under;
    const want = (this.time(i) - shift - Date.parse(trend.from)) / 1000;
    const k = trend.times_s.findIndex((t) => t >= want);
    return k < 0 || Math.abs(trend.times_s[k] - want) > Math.max(trend.gap_s, 60) ? null : s.mean[k];
  }

  // stretches calls draw for every unbroken piece: readings that are missing are never bridged.
  stretches(values, times, gap, draw) {
    let from = -1;
    for (let i = 0; i < values.length; i++) {
      if (values[i] === null) {
        if (from >= 0) draw(from, i - 1);
        from = -1;
      } else if (from < 0) from = i;
      else if (times[i] - times[i - 1] > gap) {
        draw(from, i - 1);
        from = i;
      }
    }
    if (from >= 0) draw(from, values.length - 1);
  }

  // guides are the levels that a panel is to be read against: targets, set points, limits.
  guides(p) {
    const out = [...(this.extra.guides?.[p.dimension] ?? [])];
    if (p.pressure && this.data.target_kpa !== undefined) out.push({ value: this.data.target_kpa, words: 'target' });
    if (p.pressure && this.extra.floor !== undefined && !this.byName.has('vapor_pressure')) out.push({ value: this.extra.floor, words: 'vapour floor', dash: [8, 3, 2, 3] });
    return out;
  }

  level(c, at, width, guide) {
    c.strokeStyle = this.ink('--soft');
    c.fillStyle = this.ink('--soft');
    c.lineWidth = 1.5;
    c.setLineDash(guide.dash ?? [8, 4]);
    c.beginPath();
    c.moveTo(LEFT, at);
    c.lineTo(width, at);
    c.stroke();
    c.setLineDash([]);
    c.textAlign = 'right';
    c.fillText(guide.words, width - RIGHT - 6, at < 22 ? at + 14 : at - 5);
    c.textAlign = 'left';
  }

  // forecast draws where the pump-down is heading, with the band of two standard deviations.
  forecast(c, x, y) {
    const f = this.extra.forecast;
    const s = this.byName.get('pressure');
    const n = this.data.times_s.length;
    if (!f || !s || !n || s.mean[n - 1] === null) return;
    const t0 = this.time(n - 1);
    const p0 = s.mean[n - 1];
    const course = (end) => (t) => end + (p0 - end) * Math.exp(-(t - t0) / 1000 / f.tau_s);
    const walk = (f1, back) => {
      for (let k = 0; k <= 60; k++) {
        const t = t0 + ((back ? 60 - k : k) / 60) * (this.until - t0);
        c.lineTo(x(t), y(Math.max(0, f1(t))));
      }
    };
    c.fillStyle = this.ink('--band');
    c.beginPath();
    walk(course(f.end_kpa + 2 * f.end_sd_kpa));
    walk(course(f.end_kpa - 2 * f.end_sd_kpa), true);
    c.fill();
    c.strokeStyle = this.ink('--oil');
    c.lineWidth = 1.5;
    c.setLineDash([3, 3]);
    c.beginPath();
    walk(course(f.end_kpa));
    c.stroke();
    c.setLineDash([]);
  }

  faultLines(c, x, bottom) {
    c.lineWidth = 1.5;
    c.setLineDash([4, 3]);
    for (const f of this.data.faults) {
      c.strokeStyle = this.ink(`--${this.extra.priority?.(f) ?? 'medium'}`);
      c.beginPath();
      c.moveTo(x(Date.parse(f.raised)), 0);
      c.lineTo(x(Date.parse(f.raised)), bottom);
      c.stroke();
    }
    c.setLineDash([]);
  }

  // present marks now where the picture reaches beyond it.
  present(c, x, bottom) {
    if (!this.extra.now || this.extra.now > this.until - 1000) return;
    c.strokeStyle = this.ink('--ink');
    c.lineWidth = 1;
    c.beginPath();
    c.moveTo(x(this.extra.now), 0);
    c.lineTo(x(this.extra.now), bottom);
    c.stroke();
  }

  crosshair(c, x, height) {
    if (this.at === null) return;
    const at = Math.round(x(this.time(this.at))) + 0.5;
    c.strokeStyle = this.ink('--ink');
    c.lineWidth = 1;
    c.beginPath();
    c.moveTo(at, 0);
    c.lineTo(at, height);
    c.stroke();
  }

  dots(c, p, x, y) {
    for (const [name, line] of p.lines) {
      const v = this.byName.get(name).mean[this.at];
      if (v === null) continue;
      c.fillStyle = this.ink('--sheet');
      c.strokeStyle = this.ink(line.ink);
      c.lineWidth = 2;
      c.beginPath();
      c.arc(x(this.time(this.at)), y(v), 4, 0, 7);
      c.fill();
      c.stroke();
    }
  }

  // ---- words ----

  legends(i) {
    for (const p of this.panels) {
      text(p.heading, `${p.title}, ${unitOf(p.dimension).symbol}`);
      const rows = p.lines.map(([name, line]) => {
        const s = this.byName.get(name);
        const v = s.mean[i] ?? null;
        const band = v !== null && s.min && s.max[i] > s.min[i] ? `, ${say(s.min[i], p.dimension)} to ${say(s.max[i], p.dimension)}` : '';
        return { sample: line, words: line.words ?? s.words, value: v !== null ? say(v, p.dimension) : s.derived ? '–' : 'no reading', title: band ? `mean${band}` : null };
      });
      if (p.pressure) rows.push(...this.pressureRows(i));
      rows.push(...this.guides(p).map((g) => ({ sample: { ink: '--soft', width: 1.5, dash: g.dash ?? [8, 4] }, words: g.words, value: say(g.value, p.dimension) })));
      for (const [name] of p.lines) {
        const v = this.underAt(name, i);
        if (v !== undefined) rows.push({ sample: UNDER, words: `run ${this.extra.under.run}, last good`, value: v === null ? '–' : say(v, p.dimension) });
      }
      p.rows = rows;
      keep(p.legend, rows.map((r) => r.words).join(), () => rows.map((r) => el('div', {}, el('dt', {}, r.sample ? sample(r.sample) : null, r.words), el('dd'))));
      rows.forEach((r, k) => {
        const dd = p.legend.children[k].lastChild;
        text(dd, r.value);
        attr(dd, 'title', r.title);
      });
    }
    const faults = this.data.faults;
    keep(this.bandNote, faults.map((f) => f.fault + f.raised).join() + faults.length, () => faults.slice(-3).map((f) =>
      el('div', {}, el('dt', {}, priorityGlyph(this.extra.priority?.(f) ?? 'medium', false), site.words.faults[f.fault] ?? f.fault), el('dd', {}, when(Date.parse(f.raised), this.until)))));
  }

  pressureRows(i) {
    const out = [];
    const vac = this.byName.get('still_vacuum')?.mean[i];
    if (vac !== undefined && vac !== null) out.push({ words: 'as vacuum', value: say(vac, 'vacuum') });
    const f = this.extra.forecast;
    if (f) out.push({ sample: { ink: '--oil', width: 1.5, dash: [3, 3] }, words: 'forecast', value: `${say(f.end_kpa, 'absolute pressure')} ± ${digits(f.end_sd_kpa / unitOf('absolute pressure').factor, 1)}` });
    return out;
  }

  words(i) {
    const out = [seconds(this.time(i))];
    const t = this.time(i);
    const phase = this.data.phases.find((p) => Date.parse(p.start) <= t && (!p.end || Date.parse(p.end) > t));
    if (phase) out.push(site.words.phases[phase.name] ?? phase.name);
    for (const p of this.panels) {
      for (const [name, line] of p.lines) {
        const v = this.byName.get(name).mean[i];
        if (v !== null && v !== undefined) out.push(`${line.words ?? this.byName.get(name).words} ${say(v, p.dimension)}`);
      }
    }
    return out.join(', ');
  }
}

const sample = (line) => svg('svg', { viewBox: '0 0 30 12', 'aria-hidden': 'true' }, svg('path', { d: 'M0 6h30', stroke: `var(${line.ink})`, 'stroke-width': line.width, 'stroke-dasharray': line.dash?.join(' ') }));
