// What is shown, as a picture to take along: PNG or SVG, with its legends, its still and its time written on it.

import { el } from './dom.js';
import { site } from './site.js';
import { Vector } from './vector.js';

const WIDTH = 1200;
const LEGEND = 270;
const HEAD = 58;
const PAD = 16;

const pad = (k) => String(k).padStart(2, '0');

export async function savePicture(chart, kind, about) {
  if (!chart.panels?.length) return;
  const height = HEAD + PAD + chart.height();
  const d = new Date(about.from);
  const name = `${about.name.replace(/[^\w-]/g, '_')}-${d.getUTCFullYear()}-${pad(d.getUTCMonth() + 1)}-${pad(d.getUTCDate())}.${kind}`;
  if (kind === 'svg') {
    const v = new Vector(WIDTH, height);
    draw(v, chart, about, height);
    return offer(new Blob([v.text(chart.ink('--figures'), `${about.name}, ${about.words}`)], { type: 'image/svg+xml' }), name);
  }
  const canvas = el('canvas', { width: 2 * WIDTH, height: Math.round(2 * height) });
  const c = canvas.getContext('2d');
  c.scale(2, 2);
  draw(c, chart, about, height);
  const blob = await new Promise((done) => canvas.toBlob(done, 'image/png'));
  if (blob) offer(blob, name);
}

function draw(c, chart, about, height) {
  c.fillStyle = chart.ink('--sheet');
  c.fillRect(0, 0, WIDTH, height);
  const family = chart.ink('--figures');
  const write = (words, x, y, bold, ink = '--ink') => {
    c.font = `${bold ? 'bold ' : ''}${bold === 'big' ? 18 : 12}px ${family}`;
    c.fillStyle = chart.ink(ink);
    c.fillText(words, x, y);
  };
  write(`${about.name}, ${site.name}`, PAD, 26, 'big');
  write(`${about.words} Times: ${site.time_zone}.${site.simulated ? ` ${site.simulated_notice}.` : ''}`, PAD, 46, false, '--soft');
  c.save();
  c.translate(PAD, HEAD);
  chart.drawOn(c, WIDTH - LEGEND - 2 * PAD, (p, y) => {
    const x = WIDTH - LEGEND;
    write(p.heading.textContent, x, y + 14, true);
    p.rows.forEach((r, i) => {
      const at = y + 32 + 17 * i;
      if (r.sample) {
        c.strokeStyle = chart.ink(r.sample.ink);
        c.lineWidth = r.sample.width;
        c.setLineDash(r.sample.dash ?? []);
        c.beginPath();
        c.moveTo(x, at - 4);
        c.lineTo(x + 28, at - 4);
        c.stroke();
        c.setLineDash([]);
      }
      write(r.words, x + 36, at, false, '--soft');
      c.textAlign = 'right';
      write(r.value, x + LEGEND - 2 * PAD, at, true);
      c.textAlign = 'left';
    });
  });
  c.restore();
}

function offer(blob, name) {
  const url = URL.createObjectURL(blob);
  el('a', { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
