package analysis

import "math"

// heating-stalled: heat is wanted, the oil is well below its set point, and no heat comes.
//
// A charge that boils takes all the heat there is, and the oil may then rest well below its set point in
// perfect health. So it is not the level of the oil that decides. Where the heater is measured, it is seen to
// be off; where it is not, oil that gets no heat cools towards the charge, while oil that is heated comes to
// rest above it, where it gives away what it gets. And a heater that a thermostat switches off and on again
// at one level, far below the set point, has been told the wrong one.

const (
	// heldBack is how long the heater may be off, s: people hold the heat back for a quarter of an hour to add
	// to the charge or to let foam settle; boiledOut if the charge has boiled for boiledFor: they may have ended it
	// early, and let it cool before they open it; switchedOff if its switch is off, and not known to be the contactor:
	// then they may have gone to lunch, or done what an alarm told them to. Common practice, no source.
	heldBack    = 900
	boiledOut   = 2100
	boiledFor   = 1800
	switchedOff = 5400

	earlyHold   = 0.5  // of the time that the recipe wants at the set point; common practice, no source
	heatDelayed = 1200 // s beyond when the heat came in good runs; switchedOff where none has been seen
	freshCools  = 1200 // s for which a fresh charge may cool a hot still
	flashCools  = 2400 // and a hot one that is put under vacuum
	warmFor     = 1200 // s of oil that does not cool
	calledFalls = 6    // K that oil has fallen by, where only a switch says that it is heated
	heatFades   = 600  // s of falling oil before its course says where it will end
)

// wellBelow reports that the oil is further below its set point than a hand turns it, or a controller that
// gives less the nearer it gets lets it hang.
func (a *Analyser) wellBelow(oil float64) bool {
	set := a.still.Recipe.JacketC
	return set > 0 && oil < set-max(15, 0.12*set)
}

// judgeStalled: well below set point, heat expected, temperature not rising.
func (a *Analyser) judgeStalled() {
	h, r, v := &a.run.heat, &a.r, &a.run.vac
	h.switching.follow(a)
	oil, ok := r.get(sJacket)
	wanted := r.on(sRunOn) || r.on(sAirOn) || v.moved && !v.vented && !a.shutOff()
	cond, cold := false, false
	if ok && wanted && a.phase != CoolDown && (!a.holdDone() || a.faults.raised(HeatingStalled)) && !r.off(sRunOn) && a.wellBelow(oil) && !a.oilDoubted() {
		switch a.heaterOn() {
		case no:
			cold = a.heatCutOff()
		case yes:
			cold = a.heatGoesNowhere(oil) || a.heatOnlyCalled() && oil < h.max-calledFalls && a.heatFadesAway(oil)
		default:
			cold = a.heatFadesAway(oil)
		}
		cond = cold || a.stopsTooLow()
	}
	if a.heaterOn() != yes {
		h.onAt = r.t
	}
	a.judge(HeatingStalled, cond, 60, 300, a.explainStalled) // oil that creeps is stalled once, and not every few minutes
	if cold && a.faults.raised(HeatingStalled) {
		h.stalledAt = r.t
	}
}

// oilDoubted reports that the oil's own thermometer is known to show what cannot be.
func (a *Analyser) oilDoubted() bool {
	i := a.in.channel[sJacket]
	return a.sensors.ch[i].implausible.raised || a.stands(SignalImplausible, a.still.Channels[i].Name)
}

// stands reports that the oil does not get warmer as it ought to.
func (h *heat) stands(a *Analyser) bool { return h.slopeOK && h.slope < 0.12*a.expectedRate() }

// heatCutOff: the heater is seen to be off, for longer than a thermostat or a person holds it back.
func (a *Analyser) heatCutOff() bool {
	h, r := &a.run.heat, &a.r
	patience := float64(heldBack)
	if r.off(sHeaterOn) && a.memory.HeaterSwitch != contactor || a.toldToStop() {
		patience = switchedOff
	} else if d := &a.run.distil; d.boiling && h.lastOn-d.boilingAt > boiledFor && !r.on(sHeaterOn) {
		patience = boiledOut
	}
	if h.switching.called == no || r.t-h.lastOn < patience || a.heatToCome() || h.reached && !a.offLong() {
		return false
	}
	return h.stands(a) && (r.on(sHeaterOn) || !a.couldBeDone()) // while its switch calls for heat, nobody has ended it
}

// toldToStop reports that the heat ended while the alarm of a vacuum that is not there stood, whose text says so, and that
// no switch still calls for it.
func (a *Analyser) toldToStop() bool {
	return !a.r.on(sHeaterOn) && a.vacuumFailedBefore(a.run.heat.lastOn)
}

// heatToCome reports that heat has not come yet, and need not have: some pull the vacuum long before they heat.
func (a *Analyser) heatToCome() bool {
	patience := float64(switchedOff)
	if usual, ok := a.median(a.memory.Learned.FirstHeatS, 1); ok {
		patience = usual + heatDelayed
		if len(a.memory.Learned.FirstHeatS) < leastRuns && usual > a.airLongFirst() { // one or two show how people vary
			patience += heatDelayed
		}
	}
	if a.r.on(sHeaterOn) { // it is called for
		patience = min(patience, heldBack)
	}
	return !a.run.heat.everOn && a.r.t-a.run.start < patience
}

// heatOnlyCalled reports that nothing but a switch says that the heater is on: it may be called for and not come.
func (a *Analyser) heatOnlyCalled() bool { return !a.in.fitted(sPower) && !a.in.fitted(sCounter) }

// heatGoesNowhere: the heater is on, and neither the oil gets warmer nor the charge can be what takes the heat.
func (a *Analyser) heatGoesNowhere(oil float64) bool {
	h, r := &a.run.heat, &a.r
	if charge, ok := r.get(sCharge); ok && oil-charge > leastDrive {
		return false
	}
	return h.stands(a) && a.tooCoolToBoil(oil) && r.t-a.run.start > 300 && r.t-h.onAt > 240 && !a.throttled(oil)
}

// heatFadesAway: nothing measures the heater, and the oil behaves as oil without heat.
func (a *Analyser) heatFadesAway(oil float64) bool {
	h, r := &a.run.heat, &a.r
	waited, still := r.t-a.run.start, r.t-h.risingUntil
	hot := h.startC > a.roomC()+25
	switch {
	case a.heatToCome(), waited < 300, a.toldToStop() && still < switchedOff, a.couldBeDone(), a.flashes(), a.keepsWarm(oil):
		return false
	case h.reached && a.still.Recipe.Hold == 0 && !a.timesKnown():
		return false
	case h.stands(a) && a.tooCoolToBoil(oil) && still > 150 && (!hot || still > freshCools):
		return true // a fresh charge cools a hot still at first, whatever the heater does
	}
	least := a.leastBoiling()
	if !h.reached && (still > switchedOff || a.faults.raised(HeatingStalled)) && h.fromC-oil > 0.5*(h.fromC-least) {
		return true // whatever boils: nobody leaves it so for so long
	}
	rest, ok := a.restsAt()
	return ok && still > heatFades && h.slope < -0.1/60 && rest < least && h.fromC-oil > 0.25*(h.fromC-least)
}

// flashes reports that a hot charge has just been put under vacuum: what boils at once takes the heat of the oil, too.
func (a *Analyser) flashes() bool {
	v := &a.run.vac
	return v.moved && v.movedAt > a.run.start+heldBack && a.r.t < v.movedAt+flashCools && a.run.heat.max > a.roomC()+25
}

// keepsWarm reports that the oil has long been well above the room and neither cools nor rises: something heats it.
func (a *Analyser) keepsWarm(oil float64) bool {
	slope, ok := a.course.slope(oilC, a.r.t-warmFor, a.r.t)
	return ok && a.r.t-a.run.start > warmFor && oil > a.roomC()+25 && slope > -0.05/60 && slope < leastRise/2
}

// restsAt is where the oil is heading for, °C, by three points of its course: what cools towards a level goes
// through the same share of the way in equal times, so T∞ = T3 − (T3−T2)²/((T3−T2)−(T2−T1)) (Aitken). Minus
// infinity if it falls no slower than before.
func (a *Analyser) restsAt() (float64, bool) {
	const apart = 240 // s
	c, t := &a.course, a.r.t
	wide := max(60, 2*c.every)
	t1, ok1 := c.mean(oilC, t-2*apart-wide, t-2*apart)
	t2, ok2 := c.mean(oilC, t-apart-wide, t-apart)
	t3, ok3 := c.mean(oilC, t-wide, t)
	if !ok1 || !ok2 || !ok3 || t1-t3 < 2 {
		return 0, false
	}
	bend := (t3 - t2) - (t2 - t1)
	if bend <= 0 {
		return math.Inf(-1), true
	}
	return t3 - (t3-t2)*(t3-t2)/bend, true
}

// throttled reports that a controller in stages has taken part of the power back: it gave all of it before, and
// the set point is not far.
func (a *Analyser) throttled(oil float64) bool {
	p, set := &a.run.draw, a.still.Recipe.JacketC
	return p.on && p.full > 0 && p.level < 0.75*p.full && oil > set-max(20, 0.15*set)
}

// tooCoolToBoil reports that oil at this temperature cannot be boiling the charge.
func (a *Analyser) tooCoolToBoil(oil float64) bool {
	return !a.run.distil.boiling && a.coolerThanBoiling(oil)
}

// coolerThanBoiling reports that the oil is not hot enough to boil the charge briskly at the present pressure.
func (a *Analyser) coolerThanBoiling(oil float64) bool { return oil < a.leastBoiling() }

// leastBoiling is the oil temperature below which nothing boils briskly at the present pressure, °C.
func (a *Analyser) leastBoiling() float64 {
	if a.r.pOK {
		if boil, ok := a.liquid.boilC(a.r.p); ok {
			return boil + 12
		}
	}
	return min(55, a.roomC()+20) // what boils below that under vacuum, boils at once; common practice, no source
}

// couldBeDone reports that the heating may have ended because the batch is done: a charge that boils holds the
// oil well below its set point to the end, and then somebody, or a timer, stops the heat. What shows liquid in
// the pot says no; what shows none says yes; where nothing does, the heater must have had half the time that a
// charge takes here, or to boil two fifths of one away: small charges
// are distilled too.
func (a *Analyser) couldBeDone() bool {
	d, h, r := &a.run.distil, &a.run.heat, &a.r
	if d.dry || d.fading || a.phase == DryOut {
		return true
	}
	if hold := seconds(a.still.Recipe.Hold); hold > 0 && (!h.reached || h.lastOn-h.reachedAt < earlyHold*hold) {
		if liquid, known := a.holdsLiquid(h.lastOn); known && liquid {
			return false // nobody ends it so early with liquid in the pot
		}
	}
	if rate, ok := a.course.slope(overL, h.lastOn-300, h.lastOn); ok && d.plateau > 0 {
		return rate < wetShare*d.plateau && d.boiling && h.lastOn-d.boilingAt > soonest
	}
	plateau, known := a.hottestPlateau()
	if t, ok := r.get(sCharge); ok && known {
		top := plateau + max(6, a.heavyEnd(r.p, r.pOK))
		oil, _ := a.course.mean(oilC, h.lastOn-120, h.lastOn)
		then, _ := a.course.mean(chargeC, h.lastOn-120, h.lastOn)
		if t > top || oil-then > leastDrive { // with less to drive it, what is dry keeps as cool as what boils
			return t > top
		}
	}
	if usual, ok := a.median(a.memory.Learned.DistilS, 3); ok && d.boiling {
		return h.lastOn-d.boilingAt > 0.6*usual
	}
	if !d.boiling && (a.believed(sCharge) || a.believed(sVapor)) {
		return false // it has not even boiled
	}
	if usual, ok := a.median(a.memory.Learned.HotS, 1); ok {
		return h.hotS > 0.5*usual
	}
	return h.hotS > 0.4*a.boilAwayS()
}

// timesKnown reports that a good run has shown how long a charge takes here.
func (a *Analyser) timesKnown() bool { return len(a.memory.Learned.HotS) > 0 }

// givenUp is when the heating was called off, after heat was wanted that did not come, s: by the switch that
// calls for it, else when the vacuum was let go.
func (a *Analyser) givenUp() float64 {
	h, v := &a.run.heat, &a.run.vac
	switch {
	case h.switching.called == no:
		return h.switching.calledOff
	case v.vented:
		return v.ventedAt
	}
	return a.r.t
}
