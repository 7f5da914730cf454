// A drawing surface that writes SVG: as much of a canvas as the pictures here draw with.

const escape = (s) => String(s).replace(/[&<>"]/g, (c) => `&#${c.charCodeAt(0)};`);
const n = (x) => String(Math.round(x * 100) / 100);

export class Vector {
  constructor(width, height) {
    Object.assign(this, { width, height, out: [], path: '', open: [0], clips: 0, dash: [] });
    Object.assign(this, { fillStyle: '#000', strokeStyle: '#000', lineWidth: 1, lineJoin: 'miter', textAlign: 'left', globalAlpha: 1, font: '12px sans-serif' });
    this.ruler = document.createElement('canvas').getContext('2d');
  }

  measureText(s) {
    this.ruler.font = this.font;
    return this.ruler.measureText(s);
  }

  setLineDash(dash) { this.dash = dash; }
  beginPath() { this.path = ''; }
  moveTo(x, y) { this.path += `M${n(x)} ${n(y)}`; }
  lineTo(x, y) { this.path += `${this.path ? 'L' : 'M'}${n(x)} ${n(y)}`; }
  closePath() { this.path += 'Z'; }
  rect(x, y, w, h) { this.path += `M${n(x)} ${n(y)}h${n(w)}v${n(h)}h${n(-w)}Z`; }
  // Only whole circles are drawn here.
  arc(x, y, r) { this.path += `M${n(x - r)} ${n(y)}a${n(r)} ${n(r)} 0 1 0 ${n(2 * r)} 0a${n(r)} ${n(r)} 0 1 0 ${n(-2 * r)} 0Z`; }

  fill() { this.put(`<path d="${this.path}" fill="${escape(this.fillStyle)}"${this.faint()}/>`); }
  stroke() {
    const dash = this.dash.length ? ` stroke-dasharray="${this.dash.map(n).join(' ')}"` : '';
    this.put(`<path d="${this.path}" fill="none" stroke="${escape(this.strokeStyle)}" stroke-width="${n(this.lineWidth)}" stroke-linejoin="${this.lineJoin}"${dash}${this.faint()}/>`);
  }
  fillRect(x, y, w, h) { this.put(`<path d="M${n(x)} ${n(y)}h${n(w)}v${n(h)}h${n(-w)}Z" fill="${escape(this.fillStyle)}"${this.faint()}/>`); }
  strokeRect(x, y, w, h) { this.beginPath(); this.rect(x, y, w, h); this.stroke(); }
  fillText(s, x, y) {
    const [, weight, size] = /^(bold )?(\d+(?:\.\d+)?)px/.exec(this.font) ?? [null, '', '12'];
    const anchor = { right: 'end', center: 'middle' }[this.textAlign] ?? 'start';
    this.put(`<text x="${n(x)}" y="${n(y)}" font-size="${size}"${weight ? ' font-weight="700"' : ''} text-anchor="${anchor}" fill="${escape(this.fillStyle)}">${escape(s)}</text>`);
  }

  save() { this.open.push(0); }
  translate(x, y) { this.group(`transform="translate(${n(x)} ${n(y)})"`); }
  clip() {
    const id = `c${++this.clips}`;
    this.put(`<clipPath id="${id}"><path d="${this.path}"/></clipPath>`);
    this.group(`clip-path="url(#${id})"`);
  }
  restore() { for (let k = this.open.pop(); k > 0; k--) this.put('</g>'); }

  group(how) {
    this.put(`<g ${how}>`);
    this.open[this.open.length - 1]++;
  }
  faint() { return this.globalAlpha < 1 ? ` opacity="${this.globalAlpha}"` : ''; }
  put(s) { this.out.push(s); }

  // text is the whole file. family names the fonts, title says what it shows.
  text(family, title) {
    return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${n(this.width)} ${n(this.height)}" width="${n(this.width)}" height="${n(this.height)}" font-family="${escape(family)}" role="img">`
      + `<title>${escape(title)}</title>${this.out.join('\n')}</svg>\n`;
  }
}
