// What each channel is worth: its value, how good it is, how old, and what the device really said.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { live, now, age, stale } from './live.js';
import { say, show } from './units.js';
import { lasting, ms, seconds } from './time.js';

const HEADS = ['Channel', ['Value'], 'Quality', 'Last good', 'Limits', 'Read from', ['As read']];

export class Channels {
  constructor(box, name) {
    this.box = box;
    this.name = name;
    this.list = null;
    this.cells = new Map();
  }

  // show takes the channels as the API describes them.
  show(list) {
    this.list = list;
    this.cells.clear();
    this.box.replaceChildren(el('table', {},
      el('thead', {}, el('tr', {}, HEADS.map((h) => el('th', { scope: 'col', class: Array.isArray(h) ? 'n' : null }, h)))),
      el('tbody', {}, list.map((c) => {
        const cell = { value: el('td', { class: 'n num' }), quality: el('td'), good: el('td'), raw: el('td', { class: 'n raw' }) };
        this.cells.set(c.name, cell);
        return el('tr', {}, el('th', { scope: 'row' }, c.words, c.analysed ? null : el('small', {}, ' (logged only)')), cell.value, cell.quality, cell.good,
          el('td', {}, limits(c)), el('td', {}, el('small', {}, c.source ?? '')), cell.raw);
      }))));
    this.raw(list);
    this.readings();
  }

  // raw takes what the device sent last, which does not come with the stream.
  raw(list) {
    for (const c of list) {
      const cell = this.cells.get(c.name);
      if (cell) text(cell.raw, c.raw ? c.raw.map((w) => (c.raw_bit ? String(w) : `0x${w.toString(16).toUpperCase().padStart(4, '0')}`)).join(' ') + (c.raw.length === 1 && !c.raw_bit ? ` = ${c.raw[0]}` : '') : '–');
    }
  }

  readings() {
    const still = live.stills.get(this.name);
    if (!this.list || !still) return;
    for (const c of this.list) {
      const cell = this.cells.get(c.name);
      const r = still.values?.[c.name];
      const good = r?.value !== undefined;
      if (good) c.last_good = still.at;
      text(cell.value, good ? valueWords(r.value, c) : '–');
      text(cell.quality, r ? site.words.qualities[r.quality] ?? r.quality : 'not measured');
      attr(cell.quality, 'class', r && r.quality !== 'good' && r.quality !== 'missing' ? 'bad' : null);
      text(cell.good, !c.last_good ? 'not known' : good && !stale(still) ? `${lasting(age(still))} ago` : `${lasting((now() - ms(c.last_good)) / 1000)} ago, ${seconds(ms(c.last_good))}`);
    }
  }
}

function limits(c) {
  const parts = [];
  if (c.limit_low !== undefined) parts.push(`not below ${say(c.limit_low, c.dimension, c.unit)}`);
  if (c.limit_high !== undefined) parts.push(`not above ${say(c.limit_high, c.dimension, c.unit)}`);
  return parts.join(', ') || '–';
}

function valueWords(v, c) {
  if (c.dimension === 'switch') return v >= 0.5 ? 'yes' : 'no';
  const { number, unit } = show(v, c.dimension, c.unit);
  return unit ? `${number} ${unit}` : number;
}
