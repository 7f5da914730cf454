package analysis

import (
	"math"

	"luted/analysis/physics"
)

// way is how long a pump-down takes from mark to mark: a profile of the ejector with this still, whatever the
// curve of the ejector is like. A two-stage ejector slows down on the way as if it were to level off, in every
// run; a leak is what makes this run slower than the good ones at the same pressure.
type way struct {
	lastT, lastP float64
	firstAt      float64           // when the first mark was passed, s
	s            [wayMarks]float64 // from there to each mark
	n            int               // marks passed
	fit          wayFit            // of the intervals between the marks so far
	fitted       int               // of them
	told         compared
	endKPa       float64 // where it will level off by this measure, if that is short of the target
}

const (
	wayMarks = 30
	wayFirst = 0.96 // of the pressure at rest
	wayStep  = 0.94 // of the mark before; the last is at 0.16
)

// paceSlack is how much longer than in the good runs the way may take with nothing wrong: air, weather and the
// size of the charge vary. Own experience with simulated stills, no source.
const paceSlack = 1.1

func wayMark(i int) float64 { return wayFirst * math.Pow(wayStep, float64(i)) }

// add takes the smoothed pressure. A fall that was seen late began at the pressure at rest.
func (w *way) add(t, p float64, v *vacuum) {
	p0 := v.p0
	if w.lastP == 0 && v.moved && p < wayFirst*p0 {
		w.lastT, w.lastP = v.movedAt, p0
	}
	if w.lastP > 0 && t > w.lastT && p < w.lastP {
		for w.n < wayMarks && p <= wayMark(w.n)*p0 {
			at := t - (t-w.lastT)*(wayMark(w.n)*p0-p)/(w.lastP-p)
			if w.n == 0 {
				w.firstAt = at
			}
			w.s[w.n] = at - w.firstAt
			w.n++
		}
	}
	w.lastT, w.lastP = t, p
}

// wayTimes are how long the good runs took to get to a share of the surroundings, s.
func wayTimes(known [][]float64, share float64, space *[keptRuns]float64) []float64 {
	x := math.Log(share/wayFirst) / math.Log(wayStep)
	if !(x >= 0 && x < wayMarks-1) { // a share of 0 is infinitely far on
		return nil
	}
	i := int(x)
	n := 0
	for _, run := range known {
		if i+1 < len(run) && n < len(space) {
			space[n] = run[i] + (x-float64(i))*(run[i+1]-run[i])
			n++
		}
	}
	return space[:n]
}

// usualWayS is the median of wayTimes; ok is false if none got there.
func usualWayS(known [][]float64, share float64) (s float64, ok bool) {
	var space [keptRuns]float64
	return median(wayTimes(known, share, &space), 1)
}

// waySlow reports that this run has taken much longer than the good ones to where it is, while it is still air
// that is pumped: the charge of every run is another one.
func (a *Analyser) waySlow() bool {
	v, r := &a.run.vac, &a.r
	if v.way.n < slowMarks || !a.airOnly() {
		return false
	}
	var space [keptRuns]float64
	mid, sd, ok := usual(wayTimes(a.memory.Learned.WayS, v.smooth/v.p0, &space), leastRuns, paceFloor)
	return ok && r.t-v.way.firstAt > a.slowBeyond(mid, sd)+1.5*a.poll.dt
}

// slowMarks must be passed before a way is called slow: at 0.75 of the pressure at rest.
const slowMarks = 5

// keepsPace reports that the pressure falls as it did in the good runs so far: then the forecast of its end
// tells of the ejector's curve, and not of a fault.
func (a *Analyser) keepsPace() bool {
	v, r := &a.run.vac, &a.r
	known := a.memory.Learned.WayS
	if v.way.n == 0 || len(known) == 0 {
		return false
	}
	usual, ok := usualWayS(known, v.smooth/v.p0)
	if !ok {
		return false
	}
	return r.t-v.way.firstAt < paceSlack*usual+0.5*a.poll.dt
}

// wayFit compares a run with the good ones: at the same pressure the good still falls at f, this one at
// g = s·f − q·ψ, q the leak's choked flow over the volume, ψ its share of that (see physics.PumpDownFit) and s the
// speed of the ejector as a share of the usual, which varies with the air. With y = f − g and d = 1 − s it is
// y = d·f + q·ψ, fitted over the intervals between marks; these are the weighted sums.
type wayFit struct{ ff, fq, qq, fy, qy, yy float64 }

// interval takes the fall from one share of the pressure at rest p0 (kPa) to a lower one, in took seconds where the
// good runs took usual; noise is that of the fall, kPa.
func (w *wayFit) interval(from, to, p0, took, usual, noise float64) {
	f, g := (from-to)*p0/usual, (from-to)*p0/took
	sd := math.Hypot(noise/took, fallVaries*f)
	psi, weight := physics.FlowFactor(math.Sqrt(from*to))/physics.FlowFactor(0), 1/(sd*sd)
	w.ff += weight * f * f
	w.fq += weight * f * psi
	w.qq += weight * psi * psi
	w.fy += weight * f * (f - g)
	w.qy += weight * psi * (f - g)
	w.yy += weight * (f - g) * (f - g)
}

// solve gives d and q and how badly they fit, in squared standard deviations, where d is known to be 0 ± speedSD
// beforehand. ok is false if the way does not determine them.
func (w *wayFit) solve(speedSD float64) (d, q, misfit float64, ok bool) {
	ff := w.ff + 1/(speedSD*speedSD)
	det := ff*w.qq - w.fq*w.fq
	if !(det > 0) {
		return 0, 0, 0, false
	}
	d, q = (w.fy*w.qq-w.qy*w.fq)/det, (w.qy*ff-w.fy*w.fq)/det
	return d, q, w.yy - d*w.fy - q*w.qy, true
}

// tell says which explains the way so far clearly better: an ejector that is slower all along, or a leak, which takes
// little while the pressure is still high and the more the lower it gets. A weak ejector may end higher as well.
func (w *wayFit) tell() (weak, leak bool) {
	_, _, misfit, ok := w.solve(speedVaries)
	d, _, free, ok2 := w.solve(1)
	if !ok || !ok2 {
		return false, false
	}
	weak = misfit-free > clearlyBetter && d > 0
	slow := w.yy - w.fy*w.fy/w.ff // of d alone
	return weak, !weak && slow-misfit > clearlyBetter
}

// clearlyBetter, in squared standard deviations: odds of twenty to one.
const clearlyBetter = 6

// compared is what the way of this run so far says beside that of the good ones.
type compared struct {
	begins     bool    // too little of it is known yet
	ok         bool    // what follows is known
	speed      float64 // of the run as a share of the good ones
	sd         float64
	weak, leak bool // what it speaks for, if clearly
}

// compareWay renews it, with a fall that has just begun in the interval that it is in. What it said to the end of the
// pump-down stays.
func (a *Analyser) compareWay() {
	v, r := &a.run.vac, &a.r
	if v.over {
		return
	}
	w := &v.way
	w.told = compared{}
	known := a.memory.Learned.WayS
	if len(known) < leastRuns || !a.coldStart() && !a.neverHeld() {
		return
	}
	if w.n == 0 {
		w.told.begins = true
		return
	}
	noise := 1.4 * a.pressureSD() / 2 // of the difference of two smoothed pressures
	for ; w.fitted+1 < w.n; w.fitted++ {
		i := w.fitted
		usual, ok := usualBetween(known, wayMark(i), wayMark(i+1))
		took := w.s[i+1] - w.s[i]
		if !ok || !(took > 0) {
			return
		}
		w.fit.interval(wayMark(i), wayMark(i+1), v.p0, took, usual, noise)
	}
	fit := w.fit
	from, to, took := wayMark(w.n-1), v.smooth/v.p0, r.t-w.firstAt-w.s[w.n-1]
	if took >= 2*a.poll.dt && to < from {
		if usual, ok := usualBetween(known, from, to); ok {
			fit.interval(from, to, v.p0, took, usual, noise)
		}
	}
	if fit.ff == 0 {
		w.told.begins = true
		return
	}
	w.told.ok, w.told.speed, w.told.sd = true, 1-fit.fy/fit.ff, math.Hypot(1/math.Sqrt(fit.ff), swayShare)
	w.told.weak, w.told.leak = fit.tell()
}

// undecided reports that leak and weak ejector can soon be told apart, and not yet: whoever is called is to be sent to
// the right one.
func (a *Analyser) undecided() bool {
	w := &a.run.vac.way
	return w.told.ok && !w.told.weak && !w.told.leak && w.n < tellMarks && a.r.t-w.firstAt < tellFor
}

// weakChance is the chance to come to the target by the deadline, s, of a run that is slower all along; ok is false
// where the way to the target is not known, or the way so far speaks for a leak.
func (a *Analyser) weakChance(target, deadline float64) (chance float64, ok bool) {
	v, r := &a.run.vac, &a.r
	c := &v.way.told
	if !c.ok || c.leak || r.t >= deadline {
		return 0, false
	}
	target = max(target, 1.001*wayMark(wayMarks-1)*v.p0) // the rest of the way takes some time more
	left, ok := usualBetween(a.memory.Learned.WayS, v.smooth/v.p0, target/v.p0)
	need := left / (deadline - r.t)
	return 0.5 * math.Erfc((need-c.speed)/(c.sd*math.Sqrt2)), ok
}

// weakAt is where such a run will be at the deadline, s, kPa absolute.
func (a *Analyser) weakAt(deadline float64) float64 {
	v, r := &a.run.vac, &a.r
	at := v.smooth
	for {
		s, ok := usualBetween(a.memory.Learned.WayS, v.smooth/v.p0, 0.99*at/v.p0)
		if !ok || s > (deadline-r.t)*v.way.told.speed {
			return at
		}
		at *= 0.99
	}
}

// wayEndsShort reports that a leak explains how much more slowly than in the good runs the pressure falls, and
// that it is too large for the target to be reached, beyond doubt: q > s·f there.
func (a *Analyser) wayEndsShort(target float64) bool {
	v := &a.run.vac
	known := a.memory.Learned.WayS
	w := &v.way
	if !w.told.ok || w.n < 3 || !a.coldStart() || a.keepsPace() {
		return false
	}
	atTarget, ok := usualFall(known, target/v.p0, v.p0, 0.93)
	if !ok {
		return false
	}
	varies := 1.0 // unless it is told from a weak ejector
	if w.told.leak {
		varies = speedVaries
	}
	fit := &w.fit
	d, q, _, ok := fit.solve(varies)
	if !ok {
		return false
	}
	// Of q − (1 − d)·f: the gradient is (f, 1) over (d, q).
	ff := fit.ff + 1/(varies*varies)
	sd := math.Sqrt((atTarget*atTarget*fit.qq - 2*atTarget*fit.fq + ff) / (ff*fit.qq - fit.fq*fit.fq))
	short := q-(1-d)*atTarget > wayDoubt*sd
	w.endKPa = 0
	for share := 1.05 * target / v.p0; short && share < wayFirst; share *= 1.01 {
		if f, ok := usualFall(known, share, v.p0, 0.97); ok && (1-d)*f >= q*physics.FlowFactor(share)/physics.FlowFactor(0) {
			w.endKPa = share * v.p0
			break
		}
	}
	return short && w.endKPa > target+0.5*a.gaugeStep() // a display cannot tell it from less
}

const (
	speedVaries = 0.08 // standard deviation of the ejector's speed from run to run, share; common practice, no source
	fallVaries  = 0.03 // of the fall in one interval beyond that: the air sways
	tellMarks   = 4    // by then it is told, or will not be
	tellFor     = 20   // s that an alarm waits for it; common practice, no source
	wayDoubt    = 2.3  // standard deviations: one chance in a hundred
)

// usualBetween is how long the good runs took from one share of the surroundings to a lower one, s.
func usualBetween(known [][]float64, from, to float64) (s float64, ok bool) {
	early, ok1 := usualWayS(known, from)
	late, ok2 := usualWayS(known, to)
	return late - early, ok1 && ok2 && late > early
}

// usualFall is how fast the pressure of the good runs fell at a share of the surroundings, kPa/s: the mean from
// share/half to share·half.
func usualFall(known [][]float64, share, p0, half float64) (kPaS float64, ok bool) {
	early, ok1 := usualWayS(known, share/half)
	late, ok2 := usualWayS(known, share*half)
	if !ok1 || !ok2 || !(late > early) {
		return 0, false
	}
	return share * (1/half - half) * p0 / (late - early), true
}

// concernsPumping are the faults after which a run tells nothing of the usual way, though it came to its target in
// time. A vacuum-short that came to nothing is not among them: what it was taken in by is the ejector's curve.
func concernsPumping(f Fault) bool {
	switch f {
	case VacuumNotPulled, VacuumSlow, VacuumLost, AirSupplyLow, SealWear, SignalImplausible, SignalOutOfRange, SignalStuck, DeviceSilent:
		return true
	}
	return false
}

// learnWay takes the way of a run that came to its target.
func (a *Analyser) learnWay() {
	l, v := &a.memory.Learned, &a.run.vac
	if !v.certain || !v.reached || v.way.n < 2 {
		return
	}
	run := make([]float64, v.way.n)
	for i := range run {
		run[i] = round(v.way.s[i])
	}
	l.WayS = keep(l.WayS, run)
}
