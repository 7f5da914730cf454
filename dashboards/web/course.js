// The course of a still on its page: which stretch is shown, fetched and kept up to date; the last good run
// laid under it; and what of it can be taken along.

import { el, text, attr } from './dom.js';
import { live, now, stale } from './live.js';
import { recall, remember } from './memo.js';
import { lasting, ms, when } from './time.js';
import { get } from './fetch.js';
import { Chart } from './chart.js';
import { RANGES, moved, read, written, zoomed } from './span.js';
import { savePicture } from './picture.js';

const byId = (id) => document.getElementById(id);
const UNDER = 'luted.under';

export class Course {
  constructor(name, at) {
    this.name = name;
    this.at = at;
    this.range = 'run';
    this.past = null; // a stretch of its own; follow: how far its end is ahead of now, for one that goes on
    this.trend = null;
    this.under = null;
    this.runs = [];
    this.guides = {};
    this.fetched = 0;
    this.seen = '';
    this.chart = new Chart(byId('chart'), {
      moment: (pointed, time, words) => text(byId('moment'), pointed === null ? this.hint(time) : words),
      pan: (share) => this.go(moved(this.window(), share, now())),
      zoom: (factor, share) => this.go(zoomed(this.window(), factor, share, now())),
      home: () => this.choose(this.range),
    });
    this.controls();
  }

  get still() { return live.stills.get(this.name); }

  hint(time) {
    const old = this.past || (this.still && stale(this.still));
    return `${old ? 'Last' : 'Latest'} values shown, ${when(time, now())}. Point at the trend to read earlier ones; drag it, or zoom with the buttons, two fingers, or the wheel (after a click, or with Ctrl). Keys: arrows, + and −, 0 for all.`;
  }

  // ---- what is shown ----

  controls() {
    const button = (words, run, more) => el('button', { type: 'button', onclick: run, ...more }, words);
    this.buttons = new Map(RANGES.map(([id, words]) => [id, button(words, () => this.choose(id))]));
    this.later = button('Later', () => this.go(moved(this.window(), 0.5, now())));
    byId('ranges').append(...this.buttons.values());
    byId('moves').append(button('Earlier', () => this.go(moved(this.window(), -0.5, now()))), this.later,
      button('+', () => this.go(zoomed(this.window(), 0.5, 0.5, now())), { 'aria-label': 'Zoom in' }),
      button('−', () => this.go(zoomed(this.window(), 2, 0.5, now())), { 'aria-label': 'Zoom out' }));
    this.lay = el('input', { type: 'checkbox', checked: recall(UNDER) !== 'no' });
    this.lay.addEventListener('change', () => { remember(UNDER, this.lay.checked ? 'yes' : 'no'); this.refresh(); });
    this.layWords = el('span');
    byId('under').append(this.lay, ' ', this.layWords);
    for (const kind of ['png', 'svg']) byId(kind).addEventListener('click', () => savePicture(this.chart, kind, { name: this.name, words: this.words(), from: this.window().from }));
  }

  choose(range, past) {
    clearTimeout(this.soon); // a stretch still on its way would take the address back
    this.range = range;
    this.past = past ?? null;
    this.chart.when = null;
    this.address(past?.run ? `#run-${past.run}` : past ? `#${written(past)}` : `#${range}`);
    this.refresh();
  }

  address(hash) {
    if (hash !== location.hash) history.replaceState(null, '', hash);
  }

  // go shows another stretch at once with what is there, and fetches the rest when the hand rests.
  go(w) {
    const t = now();
    this.past = { ...w, follow: w.to >= t - 1000 ? w.to - t : undefined };
    this.paint();
    clearTimeout(this.soon);
    this.soon = setTimeout(() => { this.address(`#${written(w)}`); this.refresh(); }, 150);
  }

  // window is the stretch of time that the picture spans, in ms.
  window() {
    const t = now();
    const p = this.past;
    if (p) return p.follow === undefined ? { from: p.from, to: p.to, live: false } : { from: t + p.follow - (p.to - p.from), to: t + p.follow, live: true };
    const length = RANGES.find(([id]) => id === this.range)?.[2];
    if (length) return { from: t - length, to: t, live: true };
    const still = this.still;
    if (still?.run > 0 && still.run_start) {
      const from = ms(still.run_start) - 30_000;
      return { from, to: Math.max(t + 0.04 * (t - from), t + (still.remaining_s ?? 0) * 1000, from + 10 * 60_000), live: true };
    }
    if (still?.last_run) return { ...around(still.last_run), live: false };
    return { from: t - 8 * 3_600_000, to: t, live: true };
  }

  // ---- fetching ----

  async refresh() {
    for (const [id, b] of this.buttons) attr(b, 'aria-pressed', String(!this.past && id === this.range));
    text(this.buttons.get('run'), this.still?.run > 0 ? 'This run' : 'Last run');
    const w = this.window();
    this.later.disabled = w.to >= now();
    attr(byId('csv'), 'href', `${this.at}/recording.csv?${query(w.from, Math.min(w.to, now()))}`);
    if (this.busy) { this.again = true; return; }
    this.busy = true;
    try {
      const points = Math.max(200, Math.min(1600, Math.round(byId('chart').clientWidth * 0.9)));
      const end = Math.min(w.to, now());
      const course = get(`${this.at}/trend?${query(Math.min(w.from, end - 1000), end)}&points=${points}`);
      const [trend] = await Promise.all([course, this.beneath(w, points).catch(() => { this.under = null; })]);
      this.trend = trend;
      this.fetched = performance.now();
      this.seen = trend.now;
      this.paint();
    } catch (problem) {
      text(byId('shown'), `The trend cannot be shown: ${problem.message}`);
    }
    this.busy = false;
    if (this.again) { this.again = false; this.refresh(); }
  }

  // beneath fetches the last good run before the one that is shown, moved so that both begin together.
  async beneath(w, points) {
    const shown = this.shownRun(w);
    const good = shown && this.runs.find((r) => r.verdict === 'good' && r.run !== shown.run && ms(r.start) < shown.start);
    text(this.layWords, good ? `Last good run (${good.run}) under it` : shown ? 'No good run before it to lay under it' : 'A good run is laid under a run that is shown');
    this.lay.disabled = !good;
    if (!good || !this.lay.checked) { this.under = null; return; }
    const shift = shown.start - ms(good.start);
    const from = Math.max(w.from - shift, ms(good.start));
    const to = Math.min(w.to - shift, ms(good.end));
    if (!(to > from)) { this.under = null; return; }
    const trend = await get(`${this.at}/trend?${query(from, to)}&points=${points}`);
    this.under = { trend, shift, run: good.run };
  }

  // shownRun is the run that the stretch lies in, if it lies in one.
  shownRun(w) {
    const still = this.still;
    const t = Math.min(w.to, now());
    if (still?.run > 0 && still.run_start && t > ms(still.run_start) && w.from > ms(still.run_start) - 0.25 * (w.to - w.from)) return { run: still.run, start: ms(still.run_start) };
    const r = this.runs.find((x) => (this.past?.run ? x.run === this.past.run : ms(x.start) < t && ms(x.end) > w.from && w.from > ms(x.start) - 0.25 * (w.to - w.from) && w.to < ms(x.end) + 0.25 * (w.to - w.from)));
    return r ? { run: r.run, start: ms(r.start) } : null;
  }

  // ---- showing ----

  paint() {
    if (!this.trend) return;
    const still = this.still;
    const w = this.window();
    const priorities = new Map((still?.alarms ?? []).map((a) => [a.fault + (a.channel ?? ''), a.priority]));
    this.chart.show(this.trend, w, {
      now: Math.min(now(), w.to),
      forecast: w.live ? still?.forecast : undefined,
      floor: w.live && still?.phase === 'pump-down' ? still?.vapor_floor_kpa : undefined,
      guides: this.guides,
      under: this.under,
      priority: (f) => priorities.get(f.fault + (f.channel ?? '')),
    });
    text(byId('shown'), this.words());
  }

  words() {
    const w = this.window();
    const t = this.trend;
    const grain = t?.bucket_s ? `each point gathers ${lasting(t.bucket_s)}: line the mean, band the least and greatest` : 'every reading as it is';
    const which = this.past?.run ? `Run ${this.past.run}: ` : '';
    return `${which}${when(w.from, now())} to ${w.live ? 'now' : when(w.to, now())}, ${grain}.`;
  }

  // append adds the newest reading to the picture, so that it moves between two fetches.
  append(still) {
    const t = this.trend;
    if (!t || !still.at || !this.window().live || still.at === this.seen) return;
    this.seen = still.at;
    const at = (ms(still.at) - ms(t.from)) / 1000;
    if (t.times_s.length && at <= t.times_s.at(-1)) return;
    t.times_s.push(at);
    const boils = still.run > 0 && still.phase !== 'cool-down' ? still.saturation_c : undefined;
    for (const s of t.series) {
      const v = { pressure: still.pressure_kpa, saturation_temperature: boils }[s.name] ?? still.values?.[s.name]?.value ?? null;
      s.mean.push(v);
      s.min?.push(v);
      s.max?.push(v);
    }
  }

  // behind tells that readings were passed over: the stream shows one a second, a still may be read faster.
  behind(still) {
    const last = this.trend.times_s.at(-1);
    return still.at && last !== undefined && (ms(still.at) - ms(this.trend.from)) / 1000 - last > this.trend.gap_s;
  }

  // live takes a moment of the stream; back: the line has just come back, and what was missed is fetched.
  live(still, back) {
    const since = performance.now() - this.fetched;
    const every = Math.max(20, this.trend?.bucket_s ?? 0) * 1000;
    if (back || (this.trend && this.window().live && !document.hidden && (since > every || (since > 2000 && this.behind(still))))) this.refresh();
    else { this.append(still); if (this.window().live) this.paint(); }
  }

  // begin opens what the address names: a range, a past run, or a stretch of time.
  async begin() {
    const words = decodeURIComponent(location.hash.slice(1));
    const [, id] = /^run-(\d+)$/.exec(words) ?? [];
    if (id) {
      const run = this.runs.find((r) => String(r.run) === id) ?? (await get(`${this.at}/runs?limit=500`)).runs.find((r) => String(r.run) === id);
      if (run) return this.choose('run', around(run));
    }
    const stretch = words.includes('/') ? read(words) : null;
    if (stretch) return this.choose('run', stretch);
    this.choose(this.buttons.has(words) ? words : 'run');
  }
}

const query = (from, to) => `from=${new Date(from).toISOString()}&to=${new Date(to).toISOString()}`;

// around is a run with a little before and after it.
export function around(run) {
  const from = ms(run.start);
  const to = ms(run.end);
  const margin = 0.02 * (to - from);
  return { from: from - margin, to: to + margin, run: run.run };
}

// guidesOf are the levels that the configuration states, by dimension.
export function guidesOf(detail) {
  const eq = detail.equipment;
  const level = (value, words) => (value === undefined ? [] : [{ value, words }]);
  return {
    'temperature': [...level(detail.set_point_c, 'set point'), ...level(eq.oil_limit_c, 'oil limit')],
    'gauge pressure': level(eq.air_minimum_kpa, 'minimum'),
    'percent': level(eq.gas_limit_percent_lel, 'alarm'),
  };
}
