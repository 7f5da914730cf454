package analysis

import (
	"slices"
)

// heating-slow: the oil gets warmer, but far slower than it ought to. Heating slows down by itself as the
// oil gets hotter and as the charge begins to boil, so rates are compared over the same band of oil
// temperatures, which lies below that: from a third to six tenths of the way to the set point. A still that is
// warm from the run before, and a charge that boils early, have no such band; what shows there is that it takes far
// longer to boil the charge away and come to the set point than it ever did, and than a full charge may take.

const (
	bandLowShare  = 0.33
	bandHighShare = 0.60
	slowSure      = 0.62 // of the usual rate, at most, to be called slow at all
	slowFew       = 0.55 // the same of fewRuns, of the slower of them; common practice, no source
	runsAgree     = 0.04 // good runs of one charge scatter by at least so much
	slowByRating  = 0.40 // the same against ratings, which say little about losses and masses
)

// band is the band of oil temperatures, °C; ok is false without a set point.
func (a *Analyser) band() (low, high float64, ok bool) {
	set := a.still.Recipe.JacketC
	if set < 60 {
		return 0, 0, false
	}
	return 20 + bandLowShare*(set-20), 20 + bandHighShare*(set-20), true
}

// stepBand follows the oil through the band.
func (a *Analyser) stepBand() {
	p, r, h := &a.run.draw, &a.r, &a.run.heat
	oil, ok := r.get(sJacket)
	low, high, okBand := a.band()
	if !ok || !okBand || a.phase == CoolDown {
		return
	}
	f, okFit := h.quick.fit()
	if okFit {
		p.fastest = max(p.fastest, f.slope-2*f.slopeSD)
	}
	if !p.bandLow {
		p.bandLow = h.startC < low-5
		return
	}
	if !okFit {
		return
	}
	level := f.mid + f.slope*(r.t-f.t0) // noise must not open or close the band
	if p.bandIn == 0 && level > low && oil > low {
		p.bandIn, p.bandFrom = r.t, level
	}
	if p.bandIn > 0 && p.bandOut == 0 {
		p.bandTo = level
		if level >= high {
			p.bandOut = r.t
		}
	}
}

// bandRate is the rate of heating in the band, K/s, once enough of it has passed.
func (a *Analyser) bandRate() (kps float64, ok bool) {
	p := &a.run.draw
	if p.bandIn == 0 {
		return 0, false
	}
	to := p.bandOut
	if to == 0 {
		to = a.r.t
	}
	low, high, _ := a.band()
	if to-p.bandIn < 300 && p.bandTo-p.bandFrom < 0.5*(high-low) {
		return 0, false
	}
	return (p.bandTo - p.bandFrom) / (to - p.bandIn), true
}

// slowLimit is the rate below which heating is slow, K/s.
func (a *Analyser) slowLimit() (limit, rate float64, learned bool) {
	if mid, sd, ok := a.usual(a.memory.Learned.BandKPS, 3, runsAgree); ok {
		return min(slowSure*mid, mid-5*sd), mid, true
	}
	if runs := a.memory.Learned.BandKPS; len(runs) == fewRuns {
		least := slices.Min(runs)
		return slowFew * least, least, true
	}
	if kw, l := a.still.Heater.RatedKW, a.still.ChargeL; kw > 0 && l > 0 {
		rate = kw / (2 * 1.8 * l) // as in expectedRate
		if a.run.draw.fastest > rate {
			return 0, 0, false // it can, and its controller has taken it back: oil that waits for the charge
		}
		return slowByRating * rate, rate, false
	}
	return 0, 0, false
}

const (
	longSure = 1.6 // times the longest of the good runs, of which the charge may have been smaller
	// A full charge takes half as much again as its latent heat, for what warms and what is lost, and half of that
	// again where people fill the pot to the brim or the drum is cold. Common practice, no source.
	longByRating = 1.5 * 1.5
)

// longLimit is the time of heating, s, after which the oil ought to be at its set point; ok is false where too few
// good runs have come there.
func (a *Analyser) longLimit() (s, longest float64, ok bool) {
	past := a.memory.Learned.ReachS
	if len(past) < 3 {
		return 0, 0, false
	}
	longest = slices.Max(past)
	return max(longSure*longest, longByRating*a.boilAwayS()), longest, true
}

// takesTooLong reports that the oil has been heated for longer than any good reason has it below its set point.
func (a *Analyser) takesTooLong() bool {
	limit, _, ok := a.longLimit()
	oil, good := a.r.get(sJacket)
	set, h := a.still.Recipe.JacketC, &a.run.heat
	return ok && good && !h.reached && a.phase != CoolDown && oil < set-2*oilNear && h.heatedS > limit
}

// judgeHeatingSlow: once in the band, and for good at its end.
func (a *Analyser) judgeHeatingSlow() {
	a.stepBand()
	p, h, r := &a.run.draw, &a.run.heat, &a.r
	limit, _, learned := a.slowLimit()
	rate, ok := a.bandRate()
	if oil, good := a.r.get(sJacket); ok && !(good && a.coldUnderVacuum(oil)) {
		// A charge that boils takes most of the heat: no rating says how much. And the good runs' rate is that of the
		// whole band, slow while the charge boils and fast when it has gone.
		ok = learned
		_, high, _ := a.band()
		rate = (high - p.bandFrom) / (r.t - p.bandIn)
	}
	heating := a.phase != CoolDown && !h.reached && a.heaterOn() != no && h.slopeOK && h.slope > 0
	cond := ok && limit > 0 && rate < limit && heating && p.bandOut == 0
	if a.faults.raised(HeatingSlow) { // until the oil is there, or heats again as it ought to
		cond = !h.reached && a.phase != CoolDown && !(h.slopeOK && h.slope > 1.3*limit && p.bandOut == 0)
		h.slowSaid = true
	} else if h.slowSaid { // once a run: what comes and goes is said already
		cond = false
	}
	cond = cond || a.heaterOn() != no && a.takesTooLong()
	a.judge(HeatingSlow, cond, 120, 120, a.explainHeatingSlow)
}

// coldUnderVacuum reports that oil at this temperature cannot be boiling the charge, even if the vacuum is there and
// the gauge does not show it.
func (a *Analyser) coldUnderVacuum(oil float64) bool {
	boil, ok := a.liquid.boilC(a.still.Vacuum.TargetKPa)
	return a.tooCoolToBoil(oil) && !(ok && a.still.Vacuum.TargetKPa > 0 && oil > boil+12)
}

func (a *Analyser) explainHeatingSlow() account {
	p, r, h := &a.run.draw, &a.r, &a.run.heat
	rate, _ := a.bandRate()
	_, usual, learned := a.slowLimit()
	oil, _ := r.get(sJacket)
	full, basis := a.fullKW()
	against := "what its rated power would do at the least"
	if learned {
		against = "its good runs"
	}
	slow := "the oil gains " + a.w.perMin(rate) + " against " + a.w.perMin(usual) + " of " + against
	if _, longest, _ := a.longLimit(); a.takesTooLong() {
		slow = "it has been heated for " + span(h.heatedS) + " and is still " + a.w.warmth(a.still.Recipe.JacketC-oil) +
			" below its set point; the good runs took " + span(longest) + " at the most"
	}
	var s suspects
	switch {
	case p.level > 0 && full > 0 && p.level < 0.85*full:
		took := "the heater takes " + num(p.level, 1) + " kW and took " + num(full, 1) + " kW " + basis
		s.add(Element, 0.5, took)
		s.add(SupplyPhase, 0.4, took)
	case p.level > 0 && full > 0:
		s.add(ThermalOil, 0.35, "the heater takes its full "+num(p.level, 1)+" kW, so the heat goes elsewhere or the oil does not circulate")
		s.add(WrongSolvent, 0.2, "a larger, colder or wetter charge takes more heat")
		s.add(SensorFailure, 0.2, "a sensor that sits badly in its pocket lags behind")
		s.add(Element, 0.1, "the heater takes its full power, so an element is not likely")
	default:
		s.add(Element, 0.42, slow+"; the heater's power is not measured, and a failed element shows like this")
		s.add(SupplyPhase, 0.33, "a lost supply phase shows like this")
		s.add(ThermalOil, 0.1, "low oil, or heat going elsewhere")
		s.add(WrongSolvent, 0.08, "a larger, colder or wetter charge takes more heat")
	}
	likely := s.rank()
	text := "Heating is slow: " + slow + ". "
	if set := a.still.Recipe.JacketC; set > 0 && h.slopeOK && h.slope > leastRise {
		text += "At this rate the set point is " + span((set-oil)/h.slope) + " away. "
	}
	return account{text: text + a.adviceFor(likely), likely: likely}
}
