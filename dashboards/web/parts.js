// The parts that the pages share: what a phase, a priority, a run and a fault look like. Each has a shape
// of its own and its word beside it; colour only underlines.

import { el, svg, text, attr, keep } from './dom.js';
import { site } from './site.js';
import { say, show, system, perVolume, digits } from './units.js';
import { clock, lasting, ms, when } from './time.js';
import { now, age, stale } from './live.js';

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

const phaseWord = (p) => site.words.phases[p] ?? p;
const cap = (s) => s.charAt(0).toUpperCase() + s.slice(1);
const sentence = (s) => (/[.!?]$/.test(s) ? cap(s) : `${cap(s)}.`);

// ---- the run as a strip, to scale ----

export class Strip {
  constructor() {
    this.list = el('ol', { class: 'segments' });
    this.marks = el('div', { class: 'marks', 'aria-hidden': 'true' });
    this.left = el('span');
    this.right = el('span');
    this.node = el('div', { class: 'strip' }, this.list, this.marks, el('div', { class: 'ends' }, this.left, this.right));
  }

  update(still) {
    const running = still.run > 0 && still.run_start;
    const past = !running && still.last_run;
    attr(this.node, 'class', past ? 'strip past' : 'strip');
    if (running) this.running(still);
    else if (past) this.past(still.last_run);
    else {
      this.draw('none', []);
      text(this.left, 'No run seen yet');
      text(this.right, '');
    }
  }

  running(still) {
    const t = now();
    const spans = (still.phases ?? []).map((p) => ({ name: p.name, from: ms(p.start), to: p.end ? ms(p.end) : t }));
    if (!spans.length) spans.push({ name: still.phase, from: ms(still.run_start), to: t });
    const rest = still.remaining_s;
    if (rest > 0) spans.push({ name: 'to-go', from: t, to: t + rest * 1000 });
    this.draw(`${still.run}`, spans, (still.faults ?? []).map((f) => ({ at: ms(f.since), priority: priorityOf(still, f) })));
    text(this.left, `${when(ms(still.run_start), t)} start of run ${still.run}`);
    text(this.right, rest > 0 ? `about ${clock(t + rest * 1000)} dry` : `now ${clock(t)}`);
  }

  past(run) {
    this.draw(`past ${run.run}`, (run.phases ?? []).map((p) => ({ name: p.name, from: ms(p.start), to: ms(p.end) })));
    text(this.left, `Last run, ${run.run}: ${when(ms(run.start), now())}`);
    text(this.right, `${clock(ms(run.end))} end`);
  }

  draw(id, spans, faults = []) {
    keep(this.list, `${id}|${spans.map((s) => s.name).join()}`, () => spans.map((s) =>
      el('li', { class: `seg-${s.name}` }, el('span', {}, s.name === 'to-go' ? 'to go' : phaseWord(s.name)))));
    spans.forEach((s, i) => {
      const li = this.list.children[i];
      const span = Math.max(0, s.to - s.from) / 1000;
      li.style.flexGrow = String(Math.max(span, 0.001));
      attr(li, 'title', `${s.name === 'to-go' ? 'to go, about' : phaseWord(s.name)} ${lasting(span)}`);
    });
    const from = spans[0]?.from;
    const to = spans.at(-1)?.to;
    keep(this.marks, faults.map((f) => `${f.at}${f.priority}`).join(), () => faults.map((f) => priorityGlyph(f.priority, true)));
    faults.forEach((f, i) => { this.marks.children[i].style.left = `${Math.min(100, Math.max(0, (100 * (f.at - from)) / (to - from || 1)))}%`; });
  }
}

// ---- the four numbers ----

const basis = { volume: 'measured', mass: 'by weight', flow: 'by flow', entered: 'entered by hand', heat: 'estimated from heat' };

// figures are the key numbers: what each is, the number or why there is none, and up to two lines below it.
// An idle still has no target and no set point that matter.
function figures(still) {
  const v = still.values ?? {};
  const running = still.run > 0;
  const reading = (names) => names.map((n) => [n, v[n]]).find(([, r]) => r) ?? [null, null];
  const [tempName, temp] = reading(['jacket_temperature', 'charge_temperature', 'vapor_temperature']);
  const tempWords = { jacket_temperature: 'Oil', charge_temperature: 'Charge', vapor_temperature: 'Vapour' }[tempName] ?? 'Oil';
  const recovered = still.recovered_l === undefined ? [] : [basis[still.recovered_basis] ?? still.recovered_basis, still.charge_l ? `of ${say(still.charge_l, 'volume')}` : ''];
  const power = v.heater_power?.value;
  return [
    { label: tempWords, ...value(temp, 'temperature'), sub: running && still.set_point_c ? [`set ${say(still.set_point_c, 'temperature')}`] : [] },
    pressure(still, v, running),
    { label: 'Recovered', ...known(still.recovered_l, 'volume'), sub: recovered },
    { label: 'Energy', ...known(still.energy_kwh, 'energy'), sub: power === undefined || (!running && power < 0.05) ? [] : [`now ${say(power, 'power')}`] },
  ];
}

function pressure(still, v, running) {
  const gauge = v.still_vacuum;
  const target = running ? still.target_kpa : undefined;
  if (!gauge) {
    return {
      label: 'Pressure', ...value(v.still_pressure, 'absolute pressure'),
      sub: target === undefined ? [] : [`target ${say(target, 'absolute pressure')}`],
    };
  }
  const out = { label: 'Vacuum', ...value(gauge, 'vacuum'), sub: [] };
  if (still.pressure_kpa !== undefined && running) {
    if (target !== undefined && gauge.value !== undefined) out.sub.push(`target ${say(gauge.value + still.pressure_kpa - target, 'vacuum')}`);
    out.sub.push(`= ${say(still.pressure_kpa, 'absolute pressure')}`);
  }
  return out;
}

function value(r, dimension) {
  if (!r) return { none: 'not fitted' };
  return r.value === undefined ? { none: site.words.qualities[r.quality] ?? r.quality } : show(r.value, dimension);
}

const known = (x, dimension) => (x === undefined ? { none: '–' } : show(x, dimension));

export class Numbers {
  constructor() {
    this.cells = [0, 1, 2, 3].map(() => {
      const c = { label: el('dt'), num: el('dd', { class: 'num' }), number: el('span'), unit: el('small'), sub: [el('dd', { class: 'sub' }), el('dd', { class: 'sub' })] };
      c.num.append(c.number, c.unit);
      return c;
    });
    this.node = el('dl', { class: 'numbers' }, this.cells.map((c) => el('div', {}, c.label, c.num, c.sub)));
  }

  update(still) {
    figures(still).forEach((f, i) => {
      const c = this.cells[i];
      text(c.label, f.label);
      text(c.number, f.none ?? f.number);
      text(c.unit, f.none ? '' : f.unit);
      attr(c.num, 'class', f.none ? 'num none' : 'num');
      c.sub.forEach((line, k) => text(line, f.sub[k] ?? ''));
    });
  }
}

// ---- what of, and how long ----

export function durations(still) {
  const t = now();
  const out = [];
  if (still.solvent) out.push(still.solvent + (still.charge_l ? `, ${say(still.charge_l, 'volume')} charge` : ''));
  if (still.phase_since) out.push(`${phaseWord(still.phase)} for ${lasting((t - ms(still.phase_since)) / 1000)}`);
  if (still.run > 0 && still.run_start) out.push(`run ${still.run} for ${lasting((t - ms(still.run_start)) / 1000)}`);
  if (still.remaining_s > 0) out.push(`about ${lasting(still.remaining_s)} to go${still.remaining_basis ? `, by ${still.remaining_basis}` : ''}`);
  return out;
}

export const phaseWords = (still) => cap(phaseWord(still.phase));

// doubts says what keeps the row from being taken at its word: readings too old for the present, or a
// present that is not being written down.
export function doubts(still) {
  const out = [];
  if (still.at === null) out.push('No reading yet.');
  else if (stale(still)) out.push(`Old readings: ${lasting(age(still))} old, from ${when(ms(still.at), now())}.`);
  if (still.not_stored) out.push('Not being stored: the archive cannot be written.');
  return out.join(' ');
}

// runWords sums up a finished run in one line.
export function runWords(run) {
  const out = [`Last run ${run.run}: ${run.verdict}`];
  if (run.recovered_l !== undefined) out.push(`${say(run.recovered_l, 'volume')} recovered`);
  if (run.kwh_per_gal !== undefined) {
    const p = perVolume(run.kwh_per_gal);
    out.push(`${digits(p.value, 2)} kWh/${p.unit}`);
  }
  return out.join(', ');
}

// ---- what needs a person ----

const rank = { high: 3, medium: 2, low: 1 };
const hidden = ['shelved', 'suppressed by design', 'out of service'];

function priorityOf(still, fault) {
  const a = (still.alarms ?? []).find((x) => x.fault === fault.fault && (x.channel ?? '') === (fault.channel ?? ''));
  return a?.priority ?? 'low';
}

// matters joins standing faults and alarms: what is wrong now, and what came and went unseen.
export function matters(still) {
  const out = [];
  const seen = new Set();
  for (const a of still.alarms ?? []) {
    const fault = (still.faults ?? []).find((f) => f.fault === a.fault && (f.channel ?? '') === (a.channel ?? ''));
    seen.add(`${a.fault} ${a.channel ?? ''}`);
    out.push({
      ...a, still: still.name, quiet: hidden.includes(a.state), since: ms(a.raised),
      text: fault?.text ?? a.text, likely: fault?.likely ?? a.likely ?? [],
    });
  }
  for (const f of still.faults ?? []) {
    if (seen.has(`${f.fault} ${f.channel ?? ''}`)) continue;
    out.push({ ...f, still: still.name, priority: 'low', state: '', active: true, since: ms(f.since), likely: f.likely ?? [] });
  }
  const weight = (m) => (m.quiet ? 0 : 10) + (m.needs_acknowledgement ? 4 : 0) + (rank[m.priority] ?? 0);
  return out.sort((a, b) => weight(b) - weight(a) || a.since - b.since);
}

// urgency of a still: 0 nothing, up to 3 for a high alarm; quiet ones do not count. waiting: only what
// nobody has acknowledged.
export function urgency(still, waiting) {
  let most = 0;
  for (const m of matters(still)) if (!m.quiet && (!waiting || m.needs_acknowledgement)) most = Math.max(most, rank[m.priority] ?? 1);
  return most;
}

export const urgencyWord = (n) => ['', 'low', 'medium', 'high'][n];

const vacuum = /^(vacuum-|seal-wear|air-supply)/;
const heat = /^(heat|over-temp|condenser|boiling|not-dry|past-dry|gas)/;

function cautionFor(m) {
  if (m.fault === 'gas-level-high') return 'Keep sparks and flames away and ventilate. Follow the site’s emergency procedure; luted does not switch anything off.';
  if (vacuum.test(m.fault)) return 'Do not open or retighten the lid of a hot still. Stop, cool and vent it as the maker’s manual says, then look.';
  if (heat.test(m.fault)) return 'Let it cool and isolate the supply before any work on heater, oil or condenser. The maker’s manual decides.';
  return '';
}

export const matterTitle = (m) => (site.words.faults[m.fault] ?? m.fault) + (m.channel ? `: ${m.channel.replaceAll('_', ' ')}` : '');

// actionWords say what has happened to an alarm.
export const actionWords = {
  'raise': 'raised', 'clear': 'condition gone', 'acknowledge': 'acknowledged', 'shelve': 'shelved', 'unshelve': 'back from the shelf',
  'shelf time over': 'back from the shelf, time over', 'remove from service': 'taken out of service', 'return to service': 'back in service',
  'reset': 'reset', 'suppress by design': 'suppressed by design', 'end suppression': 'no longer suppressed',
};

// matterKey changes when a matter has to be drawn anew.
const matterKey = (m) => [m.still, m.fault, m.channel, m.state, m.priority, m.text, m.until, m.by, m.reason, m.active, JSON.stringify(m.likely), system()].join('|');

export class Matters {
  // act holds what can be done; withStill names the still in the title, for lists over several.
  constructor(act, withStill) {
    this.act = act;
    this.withStill = withStill;
    this.node = el('div', { class: 'matters' });
    this.times = [];
  }

  update(list) {
    keep(this.node, list.map(matterKey).join('\n'), () => {
      const focus = this.node.contains(document.activeElement) ? document.activeElement.dataset.act : null;
      this.times = [];
      if (focus) queueMicrotask(() => this.node.querySelector(`[data-act="${CSS.escape(focus)}"]`)?.focus());
      return list.map((m) => this.one(m));
    });
    for (const { node, m } of this.times) text(node, sinceWords(m));
  }

  one(m) {
    const since = el('span', { class: 'since' });
    this.times.push({ node: since, m });
    const state = m.state ? site.words.states[m.state] ?? m.state : '';
    const title = this.withStill
      ? [el('a', { href: `/still/${encodeURIComponent(m.still)}` }, m.still), ': ', matterTitle(m)]
      : [matterTitle(m)];
    const words = [m.quiet ? null : el('span', { class: 'prio' }, `${m.priority} priority`), el('span', { class: m.needs_acknowledgement ? 'state' : 'since' }, state), since];
    return el('section', { class: `matter ${m.quiet ? 'quiet' : m.priority} ${m.needs_acknowledgement ? 'fresh' : 'known'}`, 'data-fault': m.fault },
      el('div', { class: 'bar' }, el('h3', {}, priorityGlyph(m.priority, !m.needs_acknowledgement), el('span', {}, ...title)), words, this.buttons(m)),
      m.text ? el('p', { class: 'text' }, m.text) : null,
      m.quiet ? null : causes(m),
      !m.quiet && m.active && cautionFor(m) ? el('p', { class: 'caution' }, el('b', {}, 'Caution. '), cautionFor(m)) : null);
  }

  buttons(m) {
    const button = (word, name, run) => el('button', { type: 'button', 'data-act': `${name} ${m.still} ${m.fault} ${m.channel ?? ''}`, onclick: () => run(m), class: name === 'acknowledge' ? 'strong' : '' },
      word, el('span', { class: 'unseen' }, ` ${m.still}: ${matterTitle(m)}`));
    const out = [];
    if (m.needs_acknowledgement) out.push(button('Acknowledge', 'acknowledge', this.act.acknowledge));
    if (m.state === 'latched, acknowledged') out.push(button('Reset', 'reset', this.act.reset));
    if (m.state === 'shelved') out.push(button('Unshelve', 'unshelve', this.act.unshelve));
    if (m.state === 'out of service') out.push(button('Return to service', 'return', this.act.returnToService));
    if (m.state && !m.quiet) out.push(button('Shelve…', 'shelve', this.act.shelve));
    return out.length ? el('div', { class: 'acts' }, out) : null;
  }
}

function sinceWords(m) {
  const t = now();
  const out = [`since ${when(m.since, t)}, ${lasting((t - m.since) / 1000)}`];
  if (m.state === 'shelved' && m.until) out[0] = `until ${when(ms(m.until), t)}`;
  if (m.by) out.push(m.reason ? `${m.by}: ${m.reason}` : `by ${m.by}`);
  return out.join(' · ');
}

function causes(m) {
  if (!m.likely.length) return null;
  return [
    el('p', { class: 'label' }, 'Likely causes'),
    el('ul', { class: 'causes' }, m.likely.map((c) => {
      const percent = Math.round(100 * c.weight);
      const bar = el('i');
      bar.style.width = `${percent}%`;
      return el('li', {},
        el('span', { class: 'weight' }, `${percent} %`),
        el('span', { class: 'gauge', 'aria-hidden': 'true' }, bar),
        el('span', { class: 'why' }, el('b', {}, site.words.causes[c.cause] ?? c.cause), c.because ? `. ${sentence(c.because)}` : ''));
    })),
  ];
}
