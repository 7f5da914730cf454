// A run as a strip, its phases to scale: the present one with what is to come, else the last one.

import { el, text, attr, keep } from './dom.js';
import { site } from './site.js';
import { clock, lasting, ms, when } from './time.js';
import { asOf, live, now, stale } from './live.js';
import { priorityGlyph } from './glyphs.js';
import { priorityOf } from './matters.js';

export const phaseWord = (p) => site.words.phases[p] ?? p;

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
    const t = asOf(still);
    const spans = (still.phases ?? []).map((p) => ({ name: p.name, from: ms(p.start), to: p.end ? ms(p.end) : t }));
    if (!spans.length) spans.push({ name: still.phase, from: ms(still.run_start), to: t });
    const rest = still.remaining_s;
    if (rest > 0) spans.push({ name: 'to-go', from: t, to: t + rest * 1000 });
    this.draw(`${still.run}`, spans, (still.faults ?? []).filter((f) => ms(f.since) >= spans[0].from - 60_000).map((f) => ({ at: ms(f.since), priority: priorityOf(still, f) })));
    text(this.left, `${when(ms(still.run_start), t)} start of run ${still.run}`);
    text(this.right, rest > 0 ? `about ${clock(t + rest * 1000)} dry` : `${live.connected && !stale(still) ? 'now' : 'until'} ${clock(t)}`);
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
