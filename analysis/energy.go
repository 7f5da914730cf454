package analysis

import (
	"math"

	"luted/analysis/physics"
)

// energy adds up the electrical energy of one run, from the counter if there is one, else from power.
type energy struct {
	kWh      float64
	boundKWh float64 // what gaps may hide on top, kWh: bounded by the rating, not guessed
	variance float64 // of what lies between the readings, kWh²
	byPhase  map[Phase]float64
	basis    string

	lastKWh float64 // counter
	quantum float64 // its least step seen, kWh
	hasLast bool
	between between // its steps
	held    held    // what only a switch tells
	lastKW  float64 // power
	lastAt  float64
	hasKW   bool
}

func (e *energy) begin(a *Analyser) {
	*e = energy{byPhase: make(map[Phase]float64, 6)}
	switch {
	case a.in.fitted(sCounter):
		e.basis = "counter"
		if at, kWh, ok := a.idle.counter.before(a.run.start); ok { // the run began between two readings
			e.lastAt, e.lastKWh, e.hasLast = at, kWh, true
		}
	case a.in.fitted(sPower):
		e.basis = "power"
	case a.in.fitted(sHeaterOn) && a.still.Heater.RatedKW > 0:
		e.basis = "heater switch and rating"
	}
}

// longestGap is how long a power reading may be missing before the gap is bounded instead of bridged, s.
const longestGap = 60

// stepEnergy takes one scan of a run.
func (a *Analyser) stepEnergy() {
	e := &a.run.energy
	switch e.basis {
	case "counter":
		e.between.add(a)
		if v, ok := a.r.get(sCounter); ok {
			a.addCounter(v)
		}
	case "power":
		if kw, ok := a.r.get(sPower); ok {
			a.addPower(max(0, kw))
		}
	case "heater switch and rating":
		if a.r.ok[sHeaterOn] {
			kw, before := 0.0, e.kWh
			if a.r.on(sHeaterOn) {
				kw = a.still.Heater.RatedKW
			}
			a.addPower(kw)
			e.held.add(a, e.kWh-before)
		}
	}
}

// mostKW is more than the heater can draw: a counter that moves faster has been exchanged or misread.
func (a *Analyser) mostKW() float64 {
	if kw := a.still.Heater.RatedKW; kw > 0 {
		return 2 * kw
	}
	return 500 // kW, the plausible range of heater_power
}

// addCounter takes a reading of the energy counter. Across a gap the difference is as good as ever.
func (a *Analyser) addCounter(v float64) {
	e, r := &a.run.energy, &a.r
	if e.hasLast {
		step, hours := v-e.lastKWh, max(r.t-e.lastAt, 1)/3600
		most := a.mostKW() * hours
		if step < -1e-9 {
			step = rolledOver(e.lastKWh, v, step, most+2*e.quantum+0.2)
		}
		switch {
		case step < -1e-9: // set back: what passed since the last reading, and only that, is lost
			e.boundKWh += min(most/2, max(v, 0.1))
		case step > most+2*e.quantum+0.2:
			e.boundKWh += most / 2
		default:
			e.add(a.phase, step)
			if step > 1e-9 {
				e.between.stepped(a.phase, step)
			}
			if step > 1e-9 && (e.quantum == 0 || step < e.quantum) {
				e.quantum = step
			}
		}
	}
	e.lastKWh, e.lastAt, e.hasLast = v, r.t, true
}

// rolledOver is the step of a counter that went back: the way over the top of its dials, if it stood within
// most (kWh) of a power of ten and that is no more than the heater could take; else the step as it is.
func rolledOver(last, v, step, most float64) float64 {
	for top := 100.0; top <= 1e9; top *= 10 {
		if over := top - last + v; last < top && v >= 0 && top-last <= most && over <= most {
			return over
		}
	}
	return step
}

// addPower takes a reading of the power. Between two readings the power is taken as a straight line; if it
// was switched somewhere between, at any time alike, that is wrong by up to half the step either way.
func (a *Analyser) addPower(kw float64) {
	e, r := &a.run.energy, &a.r
	if e.hasKW {
		hours := (r.t - e.lastAt) / 3600
		if r.t-e.lastAt <= max(longestGap, 3*a.poll.dt) {
			e.add(a.phase, (kw+e.lastKW)/2*hours)
			u := physics.RectangularU((kw - e.lastKW) / 2 * hours)
			e.variance += u * u
		} else {
			e.boundKWh += max(a.still.Heater.RatedKW, max(kw, e.lastKW)) * hours
		}
	}
	e.lastKW, e.lastAt, e.hasKW = kw, r.t, true
}

func (e *energy) add(p Phase, kWh float64) {
	e.kWh += kWh
	e.byPhase[p] += kWh
}

// total is the energy so far and its standard uncertainty, kWh; ok is false if nothing measures it.
//
// Type B evaluation, rectangular (JCGM 100:2008, 4.3.7): the meter within its limit of error, a gap
// anywhere between nothing and full power, a counter within half of its step at both ends, or what the power
// says of the parts of a step there.
func (a *Analyser) totalEnergy() (kWh, u float64, ok bool) {
	e := &a.run.energy
	if e.basis == "" || !e.hasLast && !e.hasKW {
		return 0, 0, false
	}
	m := &a.still.Meters
	limit := percentOr(m.EnergyPct, 1)
	switch e.basis {
	case "power":
		limit = percentOr(m.PowerPct, 1)
	case "heater switch and rating":
		limit = 0.10 // the rating within 5 %, and the power goes with the square of a supply that is within a few
	}
	bound := e.boundKWh/2 + e.held.unknownKWh()/2
	kWh = e.kWh + e.boundKWh/2 - e.held.unknownKWh()/2
	steps := physics.RectangularU(e.quantum/2) * math.Sqrt2
	if first, last, uEnds, ok := e.between.ends(e.quantum); ok {
		kWh, steps = kWh+first+last, uEnds
	}
	u, _ = physics.Combined(
		physics.Contribution{U: physics.RectangularU(kWh * limit)},
		physics.Contribution{U: physics.RectangularU(bound)},
		physics.Contribution{U: math.Sqrt(e.variance)},
		physics.Contribution{U: steps},
	)
	return kWh, u, true
}

// Meters are the limits of error of the meters that energy and yield are computed from, in % of the
// reading. Zero means the usual class: 1 % for energy, power, volume and mass, 2 % for flow (active
// energy meters of class 1 by IEC 62053-21, from memory; for the others common practice, no source).
type Meters struct {
	EnergyPct     float64
	PowerPct      float64
	DistillatePct float64
}

// percentOr is a share from a percentage, or from the usual one if none is stated.
func percentOr(stated, usual float64) float64 {
	if stated > 0 {
		return stated / 100
	}
	return usual / 100
}

// lookback keeps the last readings of a counter while the still is at rest.
type lookback struct {
	t, v [lookbackN]float64
	n    int // added in all
}

const (
	lookbackN     = 24
	lookbackEvery = 5 // s: two minutes in all, longer than a start may stay unseen
)

func (l *lookback) add(t, v float64) {
	if l.n > 0 && t-l.t[(l.n-1)%lookbackN] < lookbackEvery {
		return
	}
	l.t[l.n%lookbackN], l.v[l.n%lookbackN] = t, v
	l.n++
}

// before returns the latest reading kept that was made at t or earlier; ok is false if there is none.
func (l *lookback) before(t float64) (at, v float64, ok bool) {
	for i := l.n - 1; i >= max(0, l.n-lookbackN); i-- {
		if k := i % lookbackN; l.t[k] <= t {
			return l.t[k], l.v[k], true
		}
	}
	return 0, 0, false
}
