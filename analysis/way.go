package analysis

import "math"

// way is how long a pump-down takes from mark to mark: a profile of the ejector with this still, whatever the
// curve of the ejector is like. A two-stage ejector slows down on the way as if it were to level off, in every
// run; a leak is what makes this run slower than the good ones at the same pressure.
type way struct {
	lastT, lastP float64
	firstAt      float64           // when the first mark was passed, s
	s            [wayMarks]float64 // from there to each mark
	n            int               // marks passed
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

// add takes the smoothed pressure.
func (w *way) add(t, p, p0 float64) {
	if w.lastP > 0 && t > w.lastT && p < w.lastP {
		for w.n < wayMarks && p <= wayMark(w.n)*p0 {
			if w.lastP < wayMark(w.n)*p0 {
				return // it was below already when the watch began
			}
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

// usualWayS is how long the good runs took to get to the pressure share of the surroundings, s; ok is false if
// none got there.
func usualWayS(known [][]float64, share float64) (s float64, ok bool) {
	x := math.Log(share/wayFirst) / math.Log(wayStep)
	i := int(x)
	if x < 0 || i+1 >= wayMarks {
		return 0, false
	}
	var at [keptRuns]float64
	n := 0
	for _, run := range known {
		if i+1 < len(run) && n < len(at) {
			at[n] = run[i] + (x-float64(i))*(run[i+1]-run[i])
			n++
		}
	}
	return median(at[:n], 1)
}

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

// learnWay takes the way of a run that came to its target in time.
func (a *Analyser) learnWay() {
	l, v := &a.memory.Learned, &a.run.vac
	if !v.certain || !v.reached || v.reachedAt > v.calledAt+a.withinS() || v.way.n < 2 {
		return
	}
	run := make([]float64, v.way.n)
	for i := range run {
		run[i] = round(v.way.s[i])
	}
	l.WayS = keep(l.WayS, run)
}
