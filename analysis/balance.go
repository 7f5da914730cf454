package analysis

import (
	"math"
	"slices"
)

// The balance of the oil's heat. What the heater gives warms the oil, is lost to the room, or goes into the pot:
// C dT/dt = P − UA_loss (T − T_room) − Q. Per kelvin of oil, UA_loss/C is how fast the oil cools once nothing
// boils, seen in the cool-down, and P/C how fast it warms when the pot takes nothing, seen in the first minutes and
// when all is dry. What is left, Q, is large while the charge boils and falls to what a dry residue takes up as it
// gets warmer. Over a window of some periods of the thermostat the oil's own ripple is taken out, so this needs
// neither a pause while the charge boils in full, as the flanks of ripple.go do, nor a run without one, as the knee.

const (
	balanceSpan  = 600  // s of a window: two periods of a usual thermostat, at least
	balanceStep  = 60   // s from window to window
	balanceEnd   = 2400 // s before the end of the heating within which the least is what a dry pot takes
	balanceDry   = 0.12 // of the way from that to boiling; own experience with simulated stills: the last of the solvent leaves as the flow of heat falls to it
	balanceRests = 0.25 // of boiling, the most that a dry pot takes
	balanceBoils = 0.25 // of the heater's power, the least that boiling takes
	fullShare    = 0.95 // of full power: without a pause

	// levelTop: oil that has been about as warm for so long, s, is no peak but held there.
	levelTop = 300

	// quickestDry: what cools faster than with a time constant of 50 min still boils. Common practice, no source.
	quickestDry = 1.0 / 3000 // 1/s
)

// balance is what the balance of a run rests on.
type balance struct {
	loss float64 // of the oil without boiling over (oil − room), 1/s
	gain float64 // K/s of oil per unit of the heat that goes in
	full float64 // the most that goes in, in its unit: kW, or 1 where only the ripple shows it
}

// dryByBalance is when the heat that the pot takes fell to what it takes when dry, s.
func (a *Analyser) dryByBalance(heatEnd, end float64) (at float64, ok bool) {
	b, ok := a.oilBalance(heatEnd, end)
	if !ok {
		return 0, false
	}
	// Where the still was dry for less than a window, a part of the window lies in the cool-down.
	for _, beyond := range [...]float64{0, balanceSpan / 4} {
		if at, ok := a.fallsDry(b, heatEnd, heatEnd+beyond); ok && at < heatEnd-60 {
			return at, true
		}
	}
	return 0, false
}

// fallsDry looks for the fall in windows that end by until.
func (a *Analyser) fallsDry(b balance, heatEnd, until float64) (at float64, ok bool) {
	first, last := max(a.run.start, a.course.spots[0].t)+balanceSpan, until-balanceSpan/2
	takes, rests, short := a.takes[:0], math.Inf(1), 0.0
	for t := first; t <= last; t += balanceStep {
		q, ok := a.potTakes(b, t, balanceSpan)
		if !ok && len(takes) > 0 {
			q = takes[len(takes)-1] // nobody watched
		}
		takes = append(takes, q)
		if t > until-balanceEnd {
			rests = min(rests, q)
		}
		// No pot gives heat to the oil for longer: then more went in than thought, all the time.
		if t > heatEnd-5400 && t <= heatEnd-450 {
			if long, ok := a.potTakes(b, t, 900); ok {
				short = min(short, long)
			}
		}
	}
	a.takes = takes
	if len(takes) < 15 {
		return 0, false
	}
	a.sorted = append(a.sorted[:0], takes...)
	slices.Sort(a.sorted)
	boils := a.sorted[9*len(takes)/10] - short
	rests = max(0, rests-short)
	if boils < balanceBoils*b.full || rests > balanceRests*boils {
		return 0, false
	}
	level := rests + balanceDry*(boils-rests) + short
	for i := len(takes) - 1; i > 0; i-- {
		if q, next := takes[i-1], takes[i]; q > level {
			if next > level {
				return 0, false // not yet
			}
			return first + balanceStep*(float64(i-1)+(q-level)/(q-next)), true
		}
	}
	return 0, false
}

// potTakes is what goes into the pot in a window about a time, in the unit of the heat that goes in.
func (a *Analyser) potTakes(b balance, t, span float64) (float64, bool) {
	return a.potTook(b, t-span/2, t+span/2)
}

// potTook is the same between two times.
func (a *Analyser) potTook(b balance, from, to float64) (float64, bool) {
	c := &a.course
	in, okIn := c.mean(heatIn, from, to)
	oil, okOil := c.mean(oilC, from, to)
	before, ok0 := c.mean(oilC, from-c.every, from+c.every)
	after, ok1 := c.mean(oilC, to-c.every, to+c.every)
	if !okIn || !okOil || !ok0 || !ok1 {
		return 0, false
	}
	return in - (b.loss*(oil-a.roomC())+(after-before)/(to-from))/b.gain, true
}

// oilLoss is the loss of the oil without boiling, from the cool-down of a run that has ended, else as learned, 1/s; 0: not known.
func (a *Analyser) oilLoss(heatEnd, end float64) float64 {
	c := &a.course
	if from, to := heatEnd+120, min(end, heatEnd+840); to-from >= 240 {
		s, okS := c.slope(oilC, from, to)
		oil, okOil := c.mean(oilC, from, to)
		if okS && okOil && s != 0 && oil > a.roomC()+15 {
			return -s / (oil - a.roomC())
		}
	}
	loss, _ := a.median(a.memory.Learned.DryFlank, 2)
	return loss
}

// oilBalance takes from a run that has ended what its balance rests on.
func (a *Analyser) oilBalance(heatEnd, end float64) (b balance, ok bool) {
	if b.loss = a.oilLoss(heatEnd, end); b.loss <= 0 || b.loss > quickestDry {
		return b, false
	}
	return a.balanceOf(b.loss, heatEnd)
}

// balanceOf is the balance with a known loss, 1/s.
func (a *Analyser) balanceOf(loss, heatEnd float64) (b balance, ok bool) {
	c := &a.course
	b.loss = loss
	if len(c.spots) == 0 {
		return b, false
	}
	if !a.in.fitted(sPower) {
		a.heatByRipple()
	}
	for i := range c.spots {
		if in := c.spots[i].v[heatIn]; in > b.full {
			b.full = in
		}
	}
	for i := range c.spots {
		t := c.spots[i].t
		if t > heatEnd {
			break
		}
		in, okIn := c.mean(heatIn, t-90, t+90)
		s, okS := c.slope(oilC, t-90, t+90)
		oil, okOil := c.mean(oilC, t-90, t+90)
		if okIn && okS && okOil && in > 0 && a.heatsOn(t-90-elementsCool, t+90, fullShare*b.full) {
			b.gain = max(b.gain, (s+b.loss*(oil-a.roomC()))/in)
		}
	}
	return b, b.gain > 0
}

// heatsOn reports that the heat went in without a pause between two times.
func (a *Analyser) heatsOn(from, to, least float64) bool {
	c := &a.course
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		if !(c.spots[i].v[heatIn] >= least) {
			return false
		}
	}
	return true
}

// heatByRipple fills in when the heater worked where its power is not measured: from each valley of the oil to the
// next peak. A switch that says so may be the one that lets the thermostat work.
func (a *Analyser) heatByRipple() {
	c := &a.course
	mark := func(from, to int, in float64) {
		for i := from; i < to; i++ {
			c.spots[i].v[heatIn] = in
		}
	}
	peak, peakAt, valley, valleyAt := math.Inf(-1), 0, math.Inf(1), 0
	down := false
	mark(0, len(c.spots), 1)
	for i := range c.spots {
		v := c.spots[i].v[oilC]
		switch {
		case math.IsNaN(v):
		case !down:
			if v > peak || v > peak-rippleLeast/4 && c.spots[i].t > c.spots[peakAt].t+levelTop {
				peak, peakAt = max(peak, v), i
			}
			if v < peak-rippleLeast {
				down, valley, valleyAt = true, v, i
			}
		default:
			if v < valley {
				valley, valleyAt = v, i
			}
			if v > valley+rippleLeast {
				mark(peakAt+1, valleyAt+1, 0)
				down, peak, peakAt = false, v, i
			}
		}
	}
	if down {
		mark(peakAt+1, len(c.spots), 0)
	}
}
