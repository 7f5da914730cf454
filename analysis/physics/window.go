package physics

import "math"

// Window keeps the readings of one pump-down in bounded memory for RefineExponential. When it is full,
// neighbours are averaged in pairs, so that it always covers the whole time with at least windowPoints/2
// points. Readings equal to each other in a row count as one, as in PumpDownFit. The zero value is ready.
type Window struct {
	RestNoiseKPa float64 // see PumpDownFit
	StepKPa      float64 // see PumpDownFit

	step   GaugeStep
	n      int // readings
	t      float64
	points [windowPoints]point
	used   int
	per    int   // rows averaged into one point; zero means 1
	open   point // rows of the point being filled, as sums
	run    point // readings of the run being filled, as sums
	runP   float64
}

// windowPoints bounds the memory and the work of a refinement.
const windowPoints = 256

// point is the mean of rows: its weight is their number. While being filled it holds sums instead.
type point struct{ t, p, weight float64 }

func (p point) mean() point { return point{p.t / p.weight, p.p / p.weight, p.weight} }

// Reset forgets the readings.
func (w *Window) Reset() {
	rest, step := w.RestNoiseKPa, w.StepKPa
	w.step, w.n, w.used, w.per, w.open, w.run = GaugeStep{}, 0, 0, 0, point{}, point{}
	w.RestNoiseKPa, w.StepKPa = rest, step
}

// N is the number of readings added.
func (w *Window) N() int { return w.n }

// Add takes the next reading: time in s on any clock, pressure in kPa absolute. A reading that is not
// finite, or not later than the one before, is passed over.
func (w *Window) Add(tS, pKPa float64) {
	if math.IsNaN(tS-pKPa) || math.IsInf(tS-pKPa, 0) || w.n > 0 && tS <= w.t {
		return
	}
	w.step.Add(pKPa)
	w.n++
	w.t = tS
	if w.run.weight > 0 && pKPa != w.runP && math.Abs(pKPa-w.runP) >= w.StepKPa/4 {
		w.closeRun()
	}
	if w.run.weight == 0 {
		w.runP = pKPa
	}
	w.run.t += tS
	w.run.p += pKPa
	w.run.weight++
}

// closeRun adds the run as one row to the point being filled.
func (w *Window) closeRun() {
	w.per = max(w.per, 1)
	row := w.run.mean()
	w.run = point{}
	w.open.t += row.t
	w.open.p += row.p
	w.open.weight++
	if w.open.weight < float64(w.per) {
		return
	}
	if w.used == windowPoints {
		for i := range windowPoints / 2 {
			a, b := w.points[2*i], w.points[2*i+1]
			w.points[i] = point{(a.t + b.t) / 2, (a.p + b.p) / 2, a.weight + b.weight}
		}
		w.used = windowPoints / 2
		w.per *= 2
		return // the open point now waits for its other half
	}
	w.points[w.used] = w.open.mean()
	w.used++
	w.open = point{}
}

// at is point i; the last ones are those being filled.
func (w *Window) at(i int) point {
	if i < w.used {
		return w.points[i]
	}
	last := w.open
	if w.run.weight > 0 {
		row := w.run.mean()
		last.t += row.t
		last.p += row.p
		last.weight++
	}
	return last.mean()
}

// len is the number of points, the one being filled included.
func (w *Window) len() int {
	if w.open.weight > 0 || w.run.weight > 0 {
		return w.used + 1
	}
	return w.used
}

func (w *Window) gaugeStep() float64 {
	if w.StepKPa > 0 {
		return w.StepKPa
	}
	return w.step.Step()
}
