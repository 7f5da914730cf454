// What needs a person: faults that stand and alarms in any state but normal, with what can be done.

import { el, text, keep } from './dom.js';
import { site } from './site.js';
import { inUnits, system } from './units.js';
import { lasting, ms, when } from './time.js';
import { now } from './live.js';
import { priorityGlyph } from './glyphs.js';

const sentence = (s) => s.charAt(0).toUpperCase() + s.slice(1) + (/[.!?]$/.test(s) ? '' : '.');
const rank = { high: 3, medium: 2, low: 1 };
const hidden = ['shelved', 'suppressed by design', 'out of service'];

export function priorityOf(still, fault) {
  const a = (still.alarms ?? []).find((x) => x.fault === fault.fault && (x.channel ?? '') === (fault.channel ?? ''));
  return a?.priority ?? 'low';
}

const known = new WeakMap();

// matters joins standing faults and alarms: what is wrong now, and what came and went unseen.
export function matters(still) {
  if (!known.has(still)) known.set(still, join(still));
  return known.get(still);
}

function join(still) {
  const out = [];
  const seen = new Set();
  for (const a of still.alarms ?? []) {
    const fault = (still.faults ?? []).find((f) => f.fault === a.fault && (f.channel ?? '') === (a.channel ?? ''));
    seen.add(`${a.fault} ${a.channel ?? ''}`);
    out.push({
      ...a, still: still.name, quiet: hidden.includes(a.state), since: ms(a.raised),
      said: fault ?? a, text: fault?.text ?? a.text, likely: fault?.likely ?? a.likely ?? [],
    });
  }
  for (const f of still.faults ?? []) {
    if (seen.has(`${f.fault} ${f.channel ?? ''}`)) continue;
    out.push({ ...f, said: f, still: still.name, priority: 'low', state: '', active: true, since: ms(f.since), likely: f.likely ?? [] });
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
const matterKey = (m) => [m.still, m.fault, m.channel, m.state, m.priority, m.text, m.until, m.by, m.reason, m.active, m.tag, JSON.stringify(m.likely), system()].join('|');

export class Matters {
  // act holds what can be done; withStill names the still in the title, for lists over several; heading is
  // the level that fits below the one before.
  constructor(act, withStill, heading = 'h3') {
    this.act = act;
    this.heading = heading;
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
      el('div', { class: 'bar' }, el(this.heading, { class: 'what' }, priorityGlyph(m.priority, !m.needs_acknowledgement), el('span', {}, ...title)), m.tag ? el('span', { class: 'tag' }, m.tag) : null, words, this.buttons(m)),
      m.text ? el('p', { class: 'text' }, inUnits(m.said ?? m, 'text')) : null,
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
    if (m.state && this.withStill && m.state !== 'out of service') out.push(button('Out of service…', 'remove', this.act.removeFromService));
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
        el('span', { class: 'why' }, el('b', {}, site.words.causes[c.cause] ?? c.cause), c.because ? `. ${sentence(inUnits(c, 'because'))}` : ''));
    })),
  ];
}
