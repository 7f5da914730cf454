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
	endKPa       float64           // where it will level off by this measure, if that is short of the target
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
	i := int(x)
	if x < 0 || i+1 >= wayMarks {
		return nil
	}
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
	return ok && r.t-v.way.firstAt > math.Max(slowRatio*mid, mid+slowSDs*sd)+1.5*a.poll.dt
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

// wayEndsShort reports that a leak explains how much more slowly than in the good runs the pressure falls, and
// that it is too large for the target to be reached, beyond doubt.
//
// At the same pressure the good still falls at f, this one at g = s·f − q·ψ, q the leak's choked flow over the
// volume, ψ its share of that (see physics.PumpDownFit) and s the speed of the ejector as a share of the usual,
// which varies with the air. Both are fitted over the intervals between marks, s with what is known of it
// beforehand. The target is out of reach when q > s·f there.
func (a *Analyser) wayEndsShort(target float64) bool {
	v := &a.run.vac
	known := a.memory.Learned.WayS
	if len(known) < leastRuns || v.way.n < 3 || !a.coldStart() || a.keepsPace() {
		return false
	}
	atTarget, ok := usualFall(known, target/v.p0, v.p0, 0.93)
	if !ok {
		return false
	}
	noise := 1.4 * a.pressureSD() / 2 // of the difference of two smoothed pressures
	// Unknown: d = 1 − s and q, from y = f − g = d·f + q·ψ.
	dd, dq, qq, dy, qy := 1/(speedVaries*speedVaries), 0.0, 0.0, 0.0, 0.0
	for i := 1; i < v.way.n; i++ {
		mid := math.Sqrt(wayMark(i-1) * wayMark(i))
		f, ok := usualFall(known, mid, v.p0, 0.97)
		took := v.way.s[i] - v.way.s[i-1]
		if !ok || !(took > 0) {
			return false
		}
		fell := (wayMark(i-1) - wayMark(i)) * v.p0
		g := fell / took
		sd := math.Hypot(g*noise/fell, fallVaries*f)
		psi, w := physics.FlowFactor(mid)/physics.FlowFactor(0), 1/(sd*sd)
		dd += w * f * f
		dq += w * f * psi
		qq += w * psi * psi
		dy += w * f * (f - g)
		qy += w * psi * (f - g)
	}
	det := dd*qq - dq*dq
	if !(det > 0) {
		return false
	}
	d, q := (dy*qq-qy*dq)/det, (qy*dd-dy*dq)/det
	// Of q − (1 − d)·f: the gradient is (f, 1) over (d, q).
	sd := math.Sqrt((atTarget*atTarget*qq - 2*atTarget*dq + dd) / det)
	short := q-(1-d)*atTarget > wayDoubt*sd
	v.way.endKPa = 0
	for share := target / v.p0; short && share < wayFirst; share *= 1.01 {
		if f, ok := usualFall(known, share, v.p0, 0.97); ok && (1-d)*f >= q*physics.FlowFactor(share)/physics.FlowFactor(0) {
			v.way.endKPa = share * v.p0
			break
		}
	}
	return short && v.way.endKPa > 0
}

const (
	speedVaries = 0.08 // standard deviation of the ejector's speed from run to run, share; common practice, no source
	fallVaries  = 0.03 // of the fall in one interval beyond that: the air sways
	wayDoubt    = 2.3  // standard deviations: one chance in a hundred
)

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
