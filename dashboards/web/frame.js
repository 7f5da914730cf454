// What every page has around it: the place, the way to the other pages, the choice of units, whether the
// line to luted is alive, and the standing notes.

import { el, svg, text, attr } from './dom.js';
import { site } from './site.js';
import { choose, system, onUnits } from './units.js';
import { clock, day, seconds, lasting } from './time.js';
import { live, now, onLive, onEntry, start } from './live.js';
import { priorityGlyph } from './glyphs.js';
import { actionWords, matters, matterTitle } from './matters.js';
import { actor } from './act.js';

const mark = () => svg('svg', { viewBox: '0 0 32 32', 'aria-hidden': 'true', fill: 'none', stroke: 'currentColor', 'stroke-width': 2.4, 'stroke-linecap': 'round' },
  svg('path', { d: 'M5 12V8.500a4.500 4.500 0 0 1 4.500-4.500h13a4.500 4.500 0 0 1 4.500 4.500V12M5 20v1a7 7 0 0 0 7 7h8a7 7 0 0 0 7-7v-1' }),
  svg('path', { d: 'M3 16q3.250-2.600 6.500 0t6.500 0 6.500 0 6.500 0', 'stroke-width': 2 }));

// frame builds it; name is this page's, still narrows the event stream to one still.
export function frame(name, still) {
  document.querySelector('.skip').after(...head(name));
  document.body.append(foot());
  const said = el('div', { class: 'unseen', role: 'status', 'aria-live': 'polite' });
  const shouted = el('div', { class: 'unseen', role: 'alert', 'aria-live': 'assertive' });
  document.body.append(said, shouted);
  onEntry((entry) => announce(entry, said, shouted));
  start(still);
}

function head(name) {
  const sim = site.simulated ? el('p', { class: 'sim', role: 'note' }, el('span', {}, site.simulated_notice)) : null;
  const lost = el('p', { class: 'lost', role: 'alert', hidden: true });
  const count = el('span', { class: 'count' });
  const here = (page) => (page === name ? { 'aria-current': 'page' } : {});
  const pulse = el('span', { class: 'pulse' });
  const time = el('span');
  const units = { us: el('button', { type: 'button', onclick: () => choose('us') }, '°F · inHg · gal'), metric: el('button', { type: 'button', onclick: () => choose('metric') }, '°C · kPa · L') };
  const pressed = () => { for (const [k, b] of Object.entries(units)) attr(b, 'aria-pressed', String(system() === k)); };
  pressed();
  onUnits(pressed);
  const title = document.title;
  onLive(() => {
    const n = now();
    text(time, `${day(n)} ${clock(n)}`);
    attr(time, 'title', `Time at the site, ${site.time_zone}`);
    showPulse(pulse);
    showLost(lost);
    showCount(count, title);
  });
  return [el('header', {}, sim, el('div', { class: 'top' },
    el('a', { class: 'mark', href: '/' }, mark(), 'luted'),
    el('span', { class: 'place' }, site.name),
    el('nav', { 'aria-label': 'Pages' }, el('a', { href: '/', ...here('shop') }, 'Shop'), el('a', { href: '/runs', ...here('runs') }, 'Runs'), el('a', { href: '/energy', ...here('energy') }, 'Energy'), el('a', { href: '/upkeep', ...here('upkeep') }, 'Upkeep'),
      el('a', { href: '/month', ...here('records') }, 'Records'), el('a', { href: '/alarms', ...here('alarms') }, 'Alarms', count)),
    el('div', { class: 'right' }, pulse, time, el('span', { class: 'switch', role: 'group', 'aria-label': 'Units' }, units.us, units.metric)))), lost];
}

const dots = { live: 'M12 4a8 8 0 1 0 .01 0z', lost: 'M5 5l14 14M19 5 5 19' };

function showPulse(node) {
  const state = live.connected ? 'live' : 'lost';
  if (node.dataset.state !== state) {
    node.dataset.state = state;
    node.replaceChildren(
      svg('svg', { viewBox: '0 0 24 24', 'aria-hidden': 'true' }, svg('path', { d: dots[state], fill: state === 'live' ? 'currentColor' : 'none', stroke: 'currentColor', 'stroke-width': 3.5 })),
      el('span', {}, state === 'live' ? 'Live' : 'No connection'));
  }
}

function showLost(node) {
  document.body.classList.toggle('offline', !live.connected);
  node.hidden = live.connected || !live.since;
  if (!node.hidden) text(node, `No connection to luted since ${seconds(live.since)}, ${lasting((now() - live.since) / 1000)} ago. Everything below is old; go and look at the still. Trying again by itself.`);
}

function showCount(node, title) {
  let open = 0;
  let top = '';
  for (const still of live.stills.values()) {
    for (const m of matters(still)) {
      if (m.quiet) continue;
      open++;
      if (!top || ['low', 'medium', 'high'].indexOf(m.priority) > ['low', 'medium', 'high'].indexOf(top)) top = m.priority;
    }
  }
  const key = `${open}${top}${live.paused}`;
  if (node.dataset.key === key) return;
  node.dataset.key = key;
  node.replaceChildren(...(open ? [priorityGlyph(top, true), el('span', {}, String(open)), el('span', { class: 'unseen' }, ` standing, highest ${top}`)] : []));
  document.title = live.paused ? `${title} (paused)` : open ? `(${open}) ${title}` : title;
}

// announce says what is new to those who do not see it: a new alarm at once, the rest when there is quiet.
function announce(entry, said, shouted) {
  const words = entryWords(entry);
  if (!words) return;
  const raised = entry.kind === 'alarm' && entry.body.action === 'raise';
  (raised ? shouted : said).textContent = words;
}

const phaseBegins = { 'pump-down': 'pulling vacuum', 'heat-up': 'heating up', 'distilling': 'distilling', 'dry-out': 'drying out', 'cool-down': 'cooling down', 'idle': 'idle' };

// entryWords says a journal entry in a few words; empty for what is said by another entry already.
export function entryWords(entry) {
  const b = entry.body;
  if (entry.kind === 'alarm') {
    const who = b.by && !['raise', 'clear'].includes(b.action) ? ` by ${b.by}` : '';
    const what = b.action === 'raise' ? `new alarm, ${b.priority} priority` : actionWords[b.action] ?? b.action;
    return `${entry.still}: ${matterTitle(b)}, ${what}${who}`;
  }
  if (entry.kind === 'event' && b.event === 'phase') return `${entry.still}: now ${phaseBegins[b.phase] ?? b.phase}`;
  if (entry.kind === 'event' && b.event === 'run') return `${entry.still}: run ${entry.run} ended, ${b.verdict}`;
  if (entry.kind === 'check') return `${entry.still}: ${b.done ? 'ticked' : 'tick taken back'} by ${b.by}: ${b.check}`;
  if (entry.kind === 'amend') return `${entry.still}: ${b.field} of run ${entry.run} ${b.new ? `is ${b.new}` : 'taken back'}, by ${b.by}`;
  if (entry.kind === 'note') return `${entry.still}: note by ${b.by}: ${b.text}`;
  return '';
}

function foot() {
  return el('footer', { class: 'foot' }, el('p', {}, site.notice), el('p', {}, actor()), el('p', {}, [`Times are those of the site (${site.time_zone}).`, site.version ? ` luted ${site.version}.` : '', ' ', el('a', { href: '/api/openapi.json' }, 'API')]));
}
