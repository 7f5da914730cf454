package analysis

import (
	"math"

	"luted/analysis/physics"
)

// between is what the power meter says of the time between the steps of an energy counter. A counter that moves
// in tenths of a kWh leaves a small batch uncertain by some per cent, because nobody knows how far it was on the
// way to its next step when the run began and when it ended. The power tells that: only those two parts of a
// step are taken from it, and never more than a step, so the counter stays the measure.
type between struct {
	kWh    float64 // since the last step, or since the run began
	sure   bool    // the power was seen all the time
	any    bool
	lastKW float64
	gap    float64 // s since the power was last seen
	slack  float64 // kWh that a step may be seen late by, at most: a poll at the power then

	first      float64 // kWh of the first step that passed before the run began; never negative
	firstStep  float64
	firstPhase Phase
	firstSure  bool
	lastPhase  Phase // in which the heater drew last
	stepped1   bool
}

// add takes the power of one scan.
func (b *between) add(a *Analyser) {
	kw, ok := a.r.get(sPower)
	if !b.any {
		b.sure = true
	}
	b.gap += a.r.dt
	if !ok {
		b.sure = b.sure && b.gap < max(longestGap, 3*a.poll.dt)
		return
	}
	kw = max(0, kw)
	if a.heaterOn() == yes || b.lastPhase == "" {
		b.lastPhase = a.phase
	}
	if b.any {
		b.sure = b.sure && b.gap < max(longestGap, 3*a.poll.dt)
		b.kWh += (kw + b.lastKW) / 2 * b.gap / 3600
		b.slack = max(b.slack, max(kw, b.lastKW)*b.gap/3600)
	}
	b.lastKW, b.gap, b.any = kw, 0, true
}

// stepped says that the counter has moved.
func (b *between) stepped(p Phase, kWh float64) {
	if !b.stepped1 {
		b.stepped1, b.firstStep, b.firstPhase = true, kWh, p
		b.first, b.firstSure = b.kWh, b.sure && b.any
	}
	b.kWh, b.sure = 0, b.any
}

// ends are what the sum of the steps is to be changed by for the first step, of which a part passed before the
// run began, and for the step that was still to come when it ended, kWh, with the standard uncertainty that is
// left; ok is false without a power meter that was seen at both ends. quantum is the step of the counter.
func (b *between) ends(quantum float64) (first, last, u float64, ok bool) {
	if !b.stepped1 || !b.firstSure || !b.sure || quantum <= 0 {
		return 0, 0, 0, false
	}
	first = min(max(b.first, b.firstStep-quantum), b.firstStep) - b.firstStep
	last = min(b.kWh, quantum)
	// What is seen late at the first step is seen late at the last one, too, on average.
	u = math.Hypot(physics.RectangularU(min(b.slack, quantum)/2)*math.Sqrt2, 0.02*quantum)
	return first, last, u, true
}
