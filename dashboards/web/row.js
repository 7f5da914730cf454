// One still as a row: who, doing what, how long, how much, what is going on, what is wrong.

import { el, text, attr } from './dom.js';
import { stale } from './live.js';
import { inUnits } from './units.js';
import { phaseGlyph } from './glyphs.js';
import { Strip } from './strip.js';
import { Numbers, doubts, durations, phaseWords, runWords } from './numbers.js';
import { Matters, matters, urgency, urgencyWord } from './matters.js';

export class Row {
  // heading is h2 in a list; on the still's own page it is h1, has no link to itself, and fills node.
  constructor(act, heading, node) {
    this.link = node ? null : el('a');
    this.name = el(heading, {}, this.link);
    this.glyph = el('span', { class: 'glyph' });
    this.phase = el('p', { class: 'phase' });
    this.times = el('p', { class: 'times' });
    this.solvent = el('span');
    this.strip = new Strip();
    this.numbers = new Numbers();
    this.says = el('p', { class: 'says' });
    this.last = el('p', { class: 'times' });
    this.checks = el('a'); // in a list only: the still's own page has its buttons
    this.begin = el('p', { class: 'begin', hidden: '' }, this.checks);
    this.old = el('p', { class: 'old-tag' });
    this.matters = new Matters(act, false, heading === 'h1' ? 'h2' : 'h3');
    const parts = [
      el('div', { class: 'who' }, this.glyph, this.name, this.phase, this.times),
      el('div', { class: 'course' }, this.strip.node, this.says, this.last, this.link ? this.begin : null, this.old),
      this.numbers.node, this.matters.node];
    this.node = node ?? el('article', { class: 'still' });
    this.node.replaceChildren(...parts);
  }

  update(still) {
    const id = `still-${still.name}`;
    const name = this.link ?? this.name;
    attr(this.name, 'id', id);
    attr(this.node, 'aria-labelledby', id);
    text(name, still.name);
    if (this.link) attr(this.link, 'href', `/still/${encodeURIComponent(still.name)}`);
    if (this.glyph.dataset.phase !== still.phase) {
      this.glyph.dataset.phase = still.phase;
      this.glyph.replaceChildren(phaseGlyph(still.phase));
    }
    text(this.phase, phaseWords(still));
    this.lines(durations(still));
    this.strip.update(still);
    this.numbers.update(still);
    const list = matters(still);
    this.matters.update(list);
    const said = list.some((m) => !m.quiet && m.text === still.sentence);
    text(this.says, said ? '' : inUnits(still, 'sentence') ?? '');
    this.says.hidden = said || !still.sentence;
    text(this.last, still.run === 0 && still.last_run ? runWords(still.last_run) : '');
    this.last.hidden = !this.last.textContent;
    if (this.link) {
      attr(this.checks, 'href', `/still/${encodeURIComponent(still.name)}/checks`);
      text(this.checks, `Start checks of ${still.name}`);
      this.begin.hidden = !still.checks_open;
    }
    text(this.old, doubts(still));
    this.old.hidden = !this.old.textContent;
    const level = urgencyWord(urgency(still));
    attr(this.node, 'class', ['still', level, stale(still) ? 'stale' : ''].filter(Boolean).join(' '));
  }

  lines(words) {
    words.forEach((w, i) => {
      if (!this.times.children[i]) this.times.append(el('span'));
      text(this.times.children[i], w);
    });
    while (this.times.children.length > words.length) this.times.lastChild.remove();
  }
}
