package analysis

import "math"

// The start of a run by its oil: where nothing else shows the heat, oil that gets warmer faster than its
// thermometer scatters and than a room or a warm charge can make it.

const (
	oilSpan    = 60  // s of oil temperature that a rise is judged on, at least
	oilSpanMax = 300 // s

	// risesBy is how many standard deviations a slope must be above none. It is asked for a thousand times in a
	// night of rest: by chance 5 are passed once in three million looks.
	risesBy = 5
)

// spanFor is how long a thermometer that scatters by sd from one reading to the next, read every dt seconds,
// must be watched until the least slope worth seeing is n standard deviations: the standard deviation of a
// least-squares slope of readings every dt over a time w is sd·√(12·dt/w³).
func spanFor(sd, dt, slope, n, least, most float64) float64 {
	rise := n * sd / slope
	cube := 12 * max(0.2, dt) * rise * rise
	if cube <= least*least*least { // as nearly always, and a cube root is dear
		return min(most, least)
	}
	return min(most, math.Cbrt(cube))
}

// oilSD is the scatter of one reading of the temperature that heating is followed by, K, with the rounding of
// its display.
func (a *Analyser) oilSD() float64 {
	n := &a.idle.oilNoise
	return rootSum(n.sd(0.02), n.quantum/math.Sqrt(12))
}

// quickSpan is what the heat of a run is followed over, s: long enough for half the least rise to show.
func (a *Analyser) quickSpan() float64 {
	least := max(45, max(6*a.poll.dt, moreThanStep*a.idle.oilNoise.quantum/(leastRise/2)))
	return spanFor(a.oilSD(), a.poll.dt, leastRise/2, clearlyBy, min(least, oilSpanMax), oilSpanMax)
}

// moreThanStep display steps is more than a line through a single step can rise: 1.5, if it is in the middle.
const moreThanStep = 1.6

// clearlyRises reports that a line through the oil of so many seconds rises beyond what its scatter makes of oil
// that does not. A few points may lie on a line by chance: the thermometer's own scatter counts as well.
func (a *Analyser) clearlyRises(f line, width float64) bool {
	sd := max(f.slopeSD, a.oilSD()*math.Sqrt(12*max(0.2, a.poll.dt)/(width*width*width)))
	return f.slope > leastRise/2 && f.slope > clearlyBy*sd && f.slope*width > moreThanStep*a.idle.oilNoise.quantum
}

// clearlyBy is how many standard deviations that is: by chance, once in thirty thousand looks.
const clearlyBy = 4

// heatCertain reports that the oil rises as only its heater makes it, and not a warm charge that was poured in: most
// of what the heater gives goes into the oil at first.
func (a *Analyser) heatCertain() bool {
	h := &a.run.heat
	if a.idle.steep || h.turns.seen && h.turns.topC > h.startC+2*heatShows {
		return true
	}
	f, ok := h.quick.fit()
	return ok && h.quick.width() > 20 && f.slope > heaterShare*a.expectedRate()
}

// restSway is how much resting oil is expected to sway over a span before that is known, K: risesBy times that
// over a minute is leastRise.
const restSway = 0.1

// followRest takes the oil of a still at rest.
func (a *Analyser) followRest(v float64) {
	i, r := &a.idle, &a.r
	i.oilNoise.add(v)
	white := spanFor(a.oilSD(), a.poll.dt, leastRise, risesBy, oilSpan, oilSpanMax)
	i.oil.span = min(oilSpanMax, max(white, risesBy*i.sway.sd(restSway)/leastRise))
	i.oil.add(r.t, v)
	if l, ok := i.oil.fit(); ok && r.t-i.swayAt > i.oil.span && i.oil.width() > 0.8*i.oil.span {
		// Slopes of spans that do not overlap; what a cooling pot makes of both goes out with their difference.
		i.sway.add(l.slope * i.oil.width())
		i.swayAt = r.t
	}
}

// leastWarming is the rise that is more than a room's doing, K. A cold charge poured into a warm pot gets
// warmer by itself, oil does not.
func (a *Analyser) leastWarming() float64 {
	if a.in.warm != sJacket {
		return 6
	}
	return 0.6
}

// oilKinks reports that, and since when, s, the oil, after it has rested, rises so steeply all at once that a line through a whole span of
// it need not be waited for: as its heater makes it, and on and on, which a thermometer that jumps does not.
func (a *Analyser) oilKinks() (at float64, ok bool) {
	i := &a.idle
	n := &i.oilNoise
	last := i.oil.at(i.oil.n - 1)
	least := max(a.leastWarming(), max(risesBy*max(n.sd(0.03), i.sway.sd(restSway)), moreThanStep*n.quantum))
	if a.in.warm != sJacket || i.oil.k != 0 || i.calmC == 0 || last.v-i.calmC < least {
		return 0, false
	}
	h, ok := i.oil.hinged()
	if !ok || h.after < kinkPoints || last.t-h.at < kinkPoints*a.poll.dt {
		return 0, false
	}
	perPoint := max(1, i.oil.span/trendCap/max(0.2, a.poll.dt)) // readings
	sd := max(h.residSD, a.oilSD()/math.Sqrt(perPoint))
	slopeSD := max(h.slopeSD, h.slopeSD*sd/max(1e-9, h.residSD))
	rate := max(leastRise, heaterShare*a.expectedRate())
	i.steep = h.slope-2*slopeSD > rate && h.slope > 6*slopeSD && h.rise > least && h.overStep > 9*sd*sd
	return h.at, i.steep
}

const (
	heaterShare = 0.75 // of the rate of oil and charge that the oil alone exceeds at first
	kinkPoints  = 5    // of a rise that is no chance; common practice, no source
)

// oilRises reports that the oil is being heated, and since when.
func (a *Analyser) oilRises() (float64, bool) {
	i, r := &a.idle, &a.r
	if a.heaterOn() == no { // whoever measures the heater knows better
		i.rising = 0
		return 0, false
	}
	fit, ok := i.oil.fit()
	if !ok || i.oil.width() < oilSpan/3 {
		return 0, false
	}
	if fit.slope < leastRise/3 && i.oil.width() > oilSpan/2 {
		i.calmC = fit.mid
		if !i.armed {
			i.armed = true
			return 0, false
		}
	}
	if !i.armed {
		return 0, false
	}
	least := max(leastRise, max(a.expectedRate()/3, risesBy*i.sway.sd(restSway)/i.oil.width()))
	if at, ok := a.oilKinks(); ok {
		return max(0, at), true
	}
	rise := func() float64 {
		lo, _ := i.oil.extremes()
		if i.calmC != 0 {
			lo = min(lo, i.calmC)
		}
		return fit.mid + fit.slope*(r.t-fit.t0) - lo
	}
	if fit.slope > least && fit.slope > 6*fit.slopeSD && rise() > max(a.leastWarming(), max(5*i.oilNoise.sd(0.03), moreThanStep*i.oilNoise.quantum)) {
		i.rising++
	} else {
		i.rising = 0
	}
	if i.rising < 2 {
		return 0, false
	}
	h, ok := i.oil.hinged()
	if ok && h.overStep < 0 { // the thermometer has jumped: nothing heats oil at one stroke
		return 0, false
	}
	return max(0, h.at), true
}
