package physics

import "math"

// GaugeStep finds the step of a coarse gauge from its readings: the largest number of which every change
// is a multiple. Feed it the gauge's own readings, before a barometer is subtracted. The zero value is
// ready; it costs a division a reading.
type GaugeStep struct {
	last    float64
	step    float64 // greatest common divisor of the changes so far
	changes int     // changes seen
	n       int
}

const (
	// finestStep is where a step stops mattering, in the unit of the readings; below it the search ends.
	finestStep = 1e-3
	// stepChanges is how many changes must share a divisor before it is believed: two unrelated changes
	// share one of a hundredth of themselves with a chance of some per cent.
	stepChanges = 4
)

// Add takes the next reading; one that is not finite is passed over.
func (g *GaugeStep) Add(reading float64) {
	if math.IsNaN(reading) || math.IsInf(reading, 0) {
		return
	}
	change := math.Abs(reading - g.last)
	g.last = reading
	g.n++
	if g.n == 1 || change == 0 || g.step < 0 {
		return
	}
	g.changes++
	a, b := max(g.step, change), min(g.step, change)
	if g.step == 0 {
		g.step = change
		return
	}
	// Euclid, taking a remainder of less than a hundredth of a step for the rounding of unit conversions
	// and of logged decimals.
	slack := 0.01 * b
	for b > slack {
		a, b = b, math.Abs(math.Remainder(a, b))
		slack = max(0.01*a, finestStep/10)
	}
	if g.step = a; a < finestStep {
		g.step = -1 // none
	}
}

// Step is the step of the gauge; 0 while none is known or if there is none to speak of.
func (g *GaugeStep) Step() float64 {
	if g.changes < stepChanges || g.step < 0 {
		return 0
	}
	return g.step
}
