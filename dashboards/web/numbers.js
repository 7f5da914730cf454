// The four key numbers of a still, and how long what has lasted.

import { el, text, attr } from './dom.js';
import { site } from './site.js';
import { say, show, perVolume, digits } from './units.js';
import { lasting, ms, when } from './time.js';
import { age, asOf, now, stale } from './live.js';
import { phaseWord } from './strip.js';

const basis = { volume: 'measured', mass: 'by weight', flow: 'by flow', entered: 'entered by hand', heat: 'estimated from heat' };

// figures are the key numbers: what each is, the number or why there is none, and up to two lines below it.
// An idle still has no target and no set point that matter.
export function figures(still) {
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
    out.sub.push(`= ${say(still.pressure_kpa, 'absolute pressure')}`); // of the reading above it, not of the target
    if (target !== undefined && gauge.value !== undefined) out.sub.push(`target ${say(gauge.value + still.pressure_kpa - target, 'vacuum')}`);
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
  const t = asOf(still);
  const out = [];
  if (still.solvent) out.push(still.solvent + (still.charge_l ? `, ${say(still.charge_l, 'volume')} charge` : ''));
  if (still.phase_since) out.push(`${phaseWord(still.phase)} for ${lasting((t - ms(still.phase_since)) / 1000)}`);
  if (still.run > 0 && still.run_start) out.push(`run ${still.run} for ${lasting((t - ms(still.run_start)) / 1000)}`);
  if (still.remaining_s > 0) out.push(`about ${lasting(still.remaining_s)} to go${still.remaining_basis ? `, by ${still.remaining_basis}` : ''}`);
  return out;
}

export const phaseWords = (still) => phaseWord(still.phase).replace(/^./, (c) => c.toUpperCase());

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
