// The shop on a wall: large enough to be read across the room, nothing to operate. What needs a person stays
// in sight; the rest takes turns when there is not room for all.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { live, now, onLive, stale } from './live.js';
import { inUnits, say } from './units.js';
import { clock, day, lasting, ms } from './time.js';
import { headline } from './headline.js';
import { byNeed } from './need.js';
import { phaseGlyph, priorityGlyph } from './glyphs.js';
import { matters, matterTitle, urgency, urgencyWord } from './matters.js';
import { figures, phaseWords } from './numbers.js';
import { Strip } from './strip.js';

const TALL = 8.9; // a tile is so many times as tall, and at least so many times as wide, as its letters
const WIDE = 24.5;
const TURN = 12_000; // how long a page stands: time to read ten stills twice (common practice, no source)

export function wall() {
  document.body.classList.add('wall');
  document.title = 'Wall – luted';
  const list = document.getElementById('stills');
  const time = el('p', { class: 'wall-clock', role: 'timer', 'aria-label': 'Time at the site' });
  const page = el('p', { class: 'wall-page' });
  const hold = el('button', { type: 'button', onclick: () => { state.held = !state.held; draw(); } });
  const leave = el('a', { class: 'button', href: '/' }, 'Leave the wall display');
  document.getElementById('wall').replaceWith(time);
  const foot = el('div', { class: 'wall-foot' }, page, hold, leave);
  document.querySelector('main').append(foot);
  const state = { held: false, first: 0, turned: performance.now(), tiles: [] };

  // room finds the columns that let all stills be largest, or else as many as can still be read, and
  // returns how many there is room for.
  function room(n) {
    const height = innerHeight - list.getBoundingClientRect().top - foot.offsetHeight - 2 * rem();
    const least = Math.min(innerHeight / 40, innerWidth / 26);
    let best = { em: 0, places: 0 };
    for (const columns of [1, 2, 3]) {
      const width = list.clientWidth / columns;
      const most = Math.max(1, Math.floor(height / (least * TALL)));
      const rows = Math.min(most, Math.ceil(n / columns));
      const em = Math.min(height / rows / TALL, width / WIDE);
      const places = Math.min(n, columns * rows);
      if (columns > 1 && em < least) continue;
      if (places > best.places || (places === best.places && em > best.em)) best = { em, places, columns, rows };
    }
    list.style.setProperty('--columns', best.columns);
    list.style.setProperty('--rows', best.rows);
    list.style.setProperty('--em', `${best.em.toFixed(1)}px`);
    list.style.setProperty('--height', `${Math.floor(height)}px`);
    return best.places;
  }

  function draw() {
    const t = now();
    text(time, `${day(t)} ${clock(t)}`);
    const stills = byNeed(live.names.map((n) => live.stills.get(n)).filter(Boolean));
    if (!stills.length) return;
    text(document.getElementById('headline'), headline(stills));
    const places = room(stills.length);
    const pinned = stills.filter((s) => urgency(s) || stale(s)).slice(0, Math.max(1, Math.floor(places / 2)));
    const rest = stills.filter((s) => !pinned.includes(s));
    const free = places - pinned.length;
    const pages = Math.max(1, Math.ceil(rest.length / Math.max(1, free)));
    if (!state.held && performance.now() - state.turned > TURN) {
      state.turned = performance.now();
      state.first = (state.first + 1) % pages;
    }
    state.first %= pages;
    const shown = [...pinned, ...rest.slice(state.first * free, (state.first + 1) * free)];
    text(page, pages > 1 ? `${stills.length} stills, page ${state.first + 1} of ${pages}` : '');
    text(hold, state.held ? 'Turn pages' : 'Hold this page');
    hold.hidden = pages < 2;
    shown.forEach((s, i) => { (state.tiles[i] ??= new Tile()).update(s); });
    const nodes = state.tiles.slice(0, shown.length).map((x) => x.node);
    if (list.children.length !== nodes.length) list.replaceChildren(...nodes);
  }

  onLive(draw);
  addEventListener('resize', draw);
  addEventListener('keydown', (e) => {
    if (e.key === 'Escape') location.href = '/';
    if ((e.key === 'ArrowRight' || e.key === 'ArrowLeft') && !e.ctrlKey) {
      state.first = Math.max(0, state.first + (e.key === 'ArrowRight' ? 1 : -1));
      state.turned = performance.now();
      draw();
    }
  });
  keepAwake();
}

const rem = () => parseFloat(getComputedStyle(document.documentElement).fontSize);

// keepAwake asks the screen not to go dark, where the browser lets a page ask.
function keepAwake() {
  const ask = () => { if (!document.hidden) navigator.wakeLock?.request('screen').catch(() => {}); };
  ask();
  document.addEventListener('visibilitychange', ask);
}

class Tile {
  constructor() {
    this.glyph = el('span', { class: 'glyph' });
    this.name = el('h2');
    this.phase = el('p', { class: 'phase' });
    this.togo = el('p', { class: 'togo' });
    this.strip = new Strip();
    this.sign = el('span', { class: 'sign' });
    this.says = el('span');
    this.words = el('p', { class: 'says' }, this.sign, this.says);
    this.cells = [0, 1, 2, 3].map(() => ({ label: el('dt'), num: el('span'), unit: el('small') }));
    this.numbers = el('dl', {}, this.cells.map((c) => el('div', {}, c.label, el('dd', {}, c.num, c.unit))));
    this.article = el('article', {}, el('div', { class: 'who' }, this.glyph, this.name, this.phase, this.togo), this.strip.node, this.numbers, this.words);
    this.node = el('li', {}, this.article);
  }

  update(still) {
    const old = stale(still) || !live.connected;
    const worst = matters(still).find((m) => !m.quiet);
    text(this.name, still.name);
    attr(this.name, 'id', `tile-${still.name}`);
    attr(this.article, 'aria-labelledby', `tile-${still.name}`);
    text(this.phase, phaseWords(still));
    if (this.glyph.dataset.phase !== still.phase) {
      this.glyph.dataset.phase = still.phase;
      this.glyph.replaceChildren(phaseGlyph(still.phase));
    }
    text(this.togo, toGo(still));
    this.strip.update(still);
    figures(still).forEach((f, i) => {
      text(this.cells[i].label, f.label);
      text(this.cells[i].num, f.none ?? f.number);
      text(this.cells[i].unit, f.none ? '' : ` ${f.unit}`);
    });
    const sign = worst ? `${worst.priority} ${worst.needs_acknowledgement}` : '';
    if (this.sign.dataset.key !== sign) {
      this.sign.dataset.key = sign;
      this.sign.replaceChildren(...(worst ? [priorityGlyph(worst.priority, !worst.needs_acknowledgement)] : []));
    }
    text(this.says, old ? `Old readings: ${still.at ? `${lasting((now() - ms(still.at)) / 1000)} old` : 'none yet'}.`
      : worst ? wrong(worst)
        : inUnits(still, 'sentence') ?? '');
    attr(this.article, 'class', ['tile', urgencyWord(urgency(still)), worst?.needs_acknowledgement ? 'fresh' : '', old ? 'stale' : ''].filter(Boolean).join(' '));
  }
}

// wrong says what is the matter, whether somebody knows, and where to look first.
function wrong(m) {
  const first = m.likely?.[0];
  const known = m.state ? `, ${site.words.states[m.state] ?? m.state}` : '';
  return `${matterTitle(m)}${known}.${first ? ` Look first: ${site.words.causes[first.cause] ?? first.cause}.` : ''}`;
}

function toGo(still) {
  const t = now();
  if (still.dry_at && still.phase === 'dry-out') return `dry for ${lasting((t - ms(still.dry_at)) / 1000)}: can be stopped`;
  if (still.remaining_s > 0) return `${lasting(still.remaining_s)} to go`;
  if (still.run > 0 && still.run_start) return `${lasting((t - ms(still.run_start)) / 1000)} in`;
  if (still.last_run) return `last run ${still.last_run.verdict}${still.last_run.recovered_l === undefined ? '' : `, ${say(still.last_run.recovered_l, 'volume')}`}`;
  return '';
}
