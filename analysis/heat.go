package analysis

import (
	"math"
	"slices"
)

// heat follows the oil of one run: is it being heated, does it get warmer, is the heating over.
type heat struct {
	oil     trend // two minutes
	quick   trend // 45 s, or as long as a noisy thermometer needs
	startC  float64
	oilAt   float64 // last read, s
	max     float64 // highest so far, °C
	maxAt   float64
	coldAt  float64 // cold since, under vacuum and with the heating over, s; 0: it is not
	coolest float64 // lowest so far over 45 s, °C
	low     float64 // lowest with the heater at work since the set point was reached, °C

	hotS      float64 // heated while the oil was hot enough to boil the charge, s
	heatedS   float64 // heated before the set point was reached, s
	reached   bool    // near the set point, or a first clear maximum
	reachedAt float64

	onAt        float64 // heater last began to draw, s
	lastOn      float64 // heater last seen on, s; for jacket alone: last time the oil was clearly rising
	everOn      bool
	firstOn     float64 // first seen on, s
	longestOff  float64 // longest pause of the thermostat after the set point was reached, s
	turns       turning
	rises       bool    // the oil clearly rises
	risingUntil float64 // where it was warmest when it last did, s
	lookedAt    float64 // for oil that is held, s
	slope       float64 // K/s over the last two minutes
	slopeOK     bool
	steepest    float64 // greatest slope while the oil was below half of its way, K/s

	rateSum, rateTime float64 // for the mean heating rate between a third and two thirds of the way

	fromC     float64 // where the oil was when it last rose, °C; before that, at the start
	switching switching
	stalledAt float64 // heat was last seen to be missing, s
	slowSaid  bool    // heating-slow has been raised in this run
}

const heatShows = 1.5 // K of rise that no noise makes

const longestPause = 3600 // s

const oilNear = 5 // K below the set point that counts as having reached it; thermostats switch within a few kelvin (common practice, no source)

func (h *heat) begin(a *Analyser) {
	r := &a.r
	*h = heat{oil: trend{span: max(120, 8*a.poll.dt)}, quick: trend{span: a.quickSpan()}, lastOn: r.t, oilAt: r.t, risingUntil: r.t, low: math.Inf(1), coolest: math.Inf(1), max: math.Inf(-1), maxAt: r.t, startC: math.NaN(), fromC: math.NaN()}
}

// stepHeat takes one scan of a run.
func (a *Analyser) stepHeat() {
	h, r := &a.run.heat, &a.r
	switch a.heaterOn() {
	case yes:
		if !h.everOn {
			h.firstOn = r.t
		}
		if h.reached && h.everOn && r.t-h.lastOn > h.longestOff && r.t-h.lastOn < 3600 {
			h.longestOff = r.t - h.lastOn
		}
		h.lastOn, h.everOn = r.t, true
	case unknown:
		h.lastOn = max(h.lastOn, h.risingUntil)
		if h.everOn {
			h.lastOn = max(h.lastOn, h.turns.topAt)
		}
		if r.t > h.lookedAt+60 && h.everOn {
			h.lookedAt = r.t
			a.seeHeld()
		}
	}
	if oil, ok := r.get(a.in.warm); ok {
		a.followOil(oil)
		if r.t-h.lastOn < 300 && !a.coolerThanBoiling(oil) {
			h.hotS += min(r.dt, 60)
		}
		if on := a.heaterOn(); !h.reached && (on == yes || on == unknown && r.t-h.lastOn < 300) {
			h.heatedS += min(r.dt, 60)
		}
	}
	a.stepDraw()
	a.judgeStalled()
	a.judgeOver()
	a.judgePhaseLost()
	a.judgeHeatingSlow()
}

// seeHeld: hot oil that keeps its temperature is heated, though it does not rise: a good controller holds it so.
// Without heat even a well insulated jacket, with a time constant of ten hours, loses 0.1 K/min at 60 K above the room.
func (a *Analyser) seeHeld() {
	const span, held = 600, 0.05 / 60 // s, K/s
	h, t := &a.run.heat, a.r.t
	oil, ok := a.course.mean(oilC, t-span, t)
	whole, ok1 := a.course.slope(oilC, t-span, t)
	late, ok2 := a.course.slope(oilC, t-span/2, t) // a crest is level, too, but falls at the end
	if ok && ok1 && ok2 && oil > a.roomC()+40 && min(whole, late) > -held && t-span > a.run.start {
		h.lastOn = max(h.lastOn, t-span/4)
	}
}

// followOil takes one good oil temperature.
func (a *Analyser) followOil(oil float64) {
	h, r := &a.run.heat, &a.r
	if math.IsNaN(h.startC) {
		h.startC, h.fromC = oil, oil
	}
	if r.t-h.oilAt > h.oil.span {
		h.slope, h.slopeOK = 0, false // what it did before nobody saw it is no news
	}
	h.oilAt = r.t
	h.oil.add(r.t, oil)
	h.quick.add(r.t, oil)
	if oil > h.max {
		h.max, h.maxAt = oil, r.t
	}
	if f, ok := h.oil.fit(); ok && h.oil.width() > 60 {
		h.slope, h.slopeOK = f.slope, true
		if !h.reached {
			h.steepest = max(h.steepest, f.slope)
		}
	}
	if f, ok := h.quick.fit(); ok && h.quick.width() > 25 {
		h.coolest = min(h.coolest, f.mid)
	}
	f, ok := h.quick.fit()
	h.rises = ok && h.quick.width() > 25 && a.clearlyRises(f, h.quick.width())
	if ok && h.quick.width() > 25 {
		h.turns.add(f.t0, f.mid, h.rises)
	}
	if h.rises {
		h.fromC = f.mid
		h.risingUntil = max(h.risingUntil, h.quick.peak(r.t, a.idle.oilNoise.sd(0.02)))
		if a.heaterOn() == unknown && f.mid > h.coolest+heatShows {
			if !h.everOn {
				h.firstOn = r.t
			}
			h.everOn = true
		}
	}
	set := a.still.Recipe.JacketC
	if a.in.warm != sJacket {
		set = 0 // the set point is the oil's
	}
	if !h.reached {
		if set > 0 && oil >= set-oilNear || set == 0 && oil > h.startC+20 && oil < h.max-2 {
			h.reached, h.reachedAt, h.low = true, r.t, oil
		}
		if h.slopeOK && h.slope > leastRise && (set == 0 || oil < set-oilNear) {
			h.rateSum += h.slope * r.dt
			h.rateTime += r.dt
		}
	} else if a.heaterOn() == yes || h.rises {
		h.low = min(h.low, oil)
	}
}

// onSince reports that the heater has worked clearly after t: seen from the switch or power if there
// is one, else from the oil rising.
func (h *heat) onSince(t float64) bool { return h.risingUntil > t+20 }

// offLong reports that the heating has been off for longer than the thermostat ever paused.
func (a *Analyser) offLong() bool {
	h, r := &a.run.heat, &a.r
	if oil, ok := r.get(sJacket); ok && h.reached && oil < h.low-4 && r.t-h.lastOn > 120 {
		return true // it has never let the oil get so cool
	}
	if oil, ok := r.get(sJacket); ok && h.reached && (!a.run.vac.vented || a.stillWanted()) && (r.t-h.lastOn < longestPause || r.on(sRunOn)) {
		// The thermostat of a dry pot pauses for long: over only when the oil is out of its band.
		low := h.low
		if set := a.still.Recipe.JacketC; set > 0 {
			low = min(low, set-oilNear)
		} else {
			low = min(low, h.max-2*oilNear)
		}
		if oil > low-3 {
			return false
		}
	}
	return r.t-h.lastOn > max(240, 1.8*h.longestOff)
}

// stillWanted reports that the run is to go on although there is no vacuum: the control says so, or the
// vacuum went as no ordinary vent does.
func (a *Analyser) stillWanted() bool {
	return a.r.on(sAirOn) || a.r.on(sRunOn) || a.faults.raised(VacuumLost) || a.faults.raised(VacuumNotPulled)
}

// heatingOver reports that the run's heating has ended for good, and since when. It is the careful
// half of the end of a run: the other half is that the vacuum is gone.
func (a *Analyser) heatingOver() (float64, bool) {
	t, over := a.heatStopped()
	if over && a.run.heat.stalledAt > a.run.heat.lastOn {
		t = max(t, a.givenUp()) // heat that failed was wanted until then
	}
	if s := &a.run.heat.switching; over && a.memory.HeaterSwitch == command && s.called == no {
		t = max(t, s.calledOff) // until then the thermostat might have closed again
	}
	return t, over
}

func (a *Analyser) heatStopped() (float64, bool) {
	h, r, v := &a.run.heat, &a.r, &a.run.vac
	if r.off(sRunOn) {
		if a.in.warm != sJacket && a.heaterOn() == unknown {
			return r.t - r.dt, true // nothing shows when the heater stopped but the control
		}
		return max(h.lastOn, a.phaseSince), true
	}
	if !h.everOn && r.t-a.run.start < 1800 {
		// Pulled and let go again without any heat: over when the vacuum is back at the surroundings.
		if a.puffed() && r.pOK && a.atAir(r.p) && !r.on(sAirOn) && !r.on(sRunOn) && r.t-a.run.start > puffFor {
			return max(v.airAt, a.phaseSince), true
		}
		return v.ventedAt, v.vented && r.t-v.ventedAt > 60 && a.heaterOn() != yes
	}
	if a.in.warm != sJacket {
		return a.heatingOverUnseen()
	}
	oil, ok := r.get(sJacket)
	if !ok {
		return h.lastOn, a.heaterOn() == no && a.offLong() && r.t-h.oilAt > blindS // not for one empty cell
	}
	switch a.heaterOn() {
	case yes:
		return 0, false
	case no:
		if !a.offLong() || r.on(sHeaterOn) && !v.vented { // called for, and does not come
			return 0, false
		}
		if a.shutOff() && !r.on(sRunOn) {
			return h.lastOn, true
		}
		if r.on(sAirOn) || r.on(sRunOn) { // still wanted by the control: over only if the recipe says so
			return h.lastOn, h.reached && (a.holdDone() || a.still.Recipe.Hold == 0 && a.couldBeDone())
		}
		return h.lastOn, a.holdDone() || v.vented || !v.pulled() || !a.in.pressureFitted() ||
			(h.reached && a.still.Recipe.Hold == 0 || oil < coldC) && a.couldBeDone()
	}
	if a.run.by == byOil && !v.moved && r.t-a.run.start > 1800 && h.turns.seen && h.turns.lowC < h.startC+heatShows {
		return max(h.lastOn, a.phaseSince), true // what looked like heat came to nothing
	}
	if a.coolsSinceVent() {
		return max(a.phaseSince, min(h.lastOn, v.ventedAt)), true
	}
	// Jacket alone: the oil has fallen clearly out of the thermostat's band and goes on falling.
	falling := h.slopeOK && h.slope < -0.05/60 && r.t-h.lastOn > 150 || v.vented && r.t-h.lastOn > longestPause/2
	below := h.low - max(2, 0.6*min(12, h.max-h.low))
	if !h.reached {
		below = h.max - 6
		if v.vented && h.max < coldC+10 { // given up while cold: a heater that is on would warm it
			below = h.max - heatShows/2
		}
	}
	if !falling || oil > below {
		return 0, false
	}
	if !h.everOn { // never heated: nothing to cool
		return max(v.ventedAt, a.phaseSince), v.vented
	}
	over := h.lastOn
	if v.vented && !h.onSince(v.ventedAt+elementsCool) { // what the elements still held
		over = min(over, v.ventedAt)
	}
	givenUp := oil < h.max-givenUpK || r.t-h.lastOn > 2*longestPause // without a vacuum nothing else shows it
	if a.lostHot() {
		givenUp = oil < h.max-lostUpK || r.t-h.lastOn > longestPause
	}
	return over, v.vented && (!a.lostHot() || givenUp) || !v.pulled() && givenUp || !a.in.pressureFitted() || a.holdDone() ||
		a.run.distil.dry && r.t-h.lastOn > longestPause/4 ||
		h.reached && a.still.Recipe.Hold == 0 && (!a.timesKnown() || a.couldBeDone()) || oil < coldC && a.couldBeDone()
}

// lostHot reports that the vacuum was lost while the still was heated: the thermostat goes on, and each of its pauses may look
// like the end of the heating.
func (a *Analyser) lostHot() bool { return slices.Contains(a.run.faults, VacuumLost) }

// coolsSinceVent reports that the oil has done nothing but cool since the vacuum was let go, however slowly: a large
// pot that is well lagged stays within its thermostat's band for hours.
func (a *Analyser) coolsSinceVent() bool {
	v, c := &a.run.vac, &a.course
	from := v.ventedAt + elementsCool
	third := (a.r.t - from) / 3
	if !v.vented || third < coolsFor/3 || a.lostHot() && a.run.heat.onSince(a.r.t-coolsFor) {
		return false
	}
	first, ok0 := c.mean(oilC, from, from+third)
	middle, ok1 := c.mean(oilC, from+third, from+2*third)
	last, ok2 := c.mean(oilC, from+2*third, a.r.t)
	least := max(coolsK, third*(first-a.roomC())/slowestCools)
	return ok0 && ok1 && ok2 && first > middle+least && middle > last+least
}

// onlyCools reports that the oil has fallen since t, s, and not risen again by more than a thermometer wanders: a few
// readings that rise by chance are no heating.
func (a *Analyser) onlyCools(t float64) bool {
	c := &a.course
	slope, ok := c.slope(oilC, t, a.r.t)
	lowest, rose := math.Inf(1), 0.0
	for i := c.after(t); i < len(c.spots); i++ {
		if oil := c.spots[i].v[oilC]; !math.IsNaN(oil) {
			lowest = min(lowest, oil)
			rose = max(rose, oil-lowest)
		}
	}
	return ok && slope < -coolsK/300 && rose < 2*coolsK
}

// staysHot reports that the oil is as hot as it was at t, s, some time before: what nobody heats cools.
func (a *Analyser) staysHot(t float64) bool {
	c, now := &a.course, a.r.t
	if now-t < staysFor {
		return false
	}
	then, ok0 := c.mean(oilC, t, t+300)
	last, ok1 := c.mean(oilC, now-300, now)
	over := then - a.roomC()
	return ok0 && ok1 && over > 40 && then-last < (now-t-300)*over/(2*slowestCools)
}

// Own experience with simulated stills, no source.
const (
	puffFor      = 180   // s after which a pressure that has come back without heat was no run; common practice, no source
	lostUpK      = 25    // K, the same where nothing but the oil shows whether a still without vacuum is heated: beyond any thermostat's band; common practice, no source
	givenUpK     = 12    // K that oil cools by when its heat is off for good, and not when the charge begins to boil
	coolsFor     = 1500  // s
	coolsK       = 0.25  // K from third to third of it
	staysFor     = 1500  // s
	slowestCools = 86400 // s, the time constant of the largest and best lagged pot
)

// heatingOverUnseen is heatingOver for a still whose oil nobody measures. A charge stays at its boiling
// temperature whatever the heater does, so the vent decides, else a charge that has cooled for long.
func (a *Analyser) heatingOverUnseen() (float64, bool) {
	h, r, v := &a.run.heat, &a.r, &a.run.vac
	on := a.heaterOn()
	if on == yes || r.on(sRunOn) {
		return 0, false
	}
	over := max(h.lastOn, a.phaseSince)
	if on == unknown {
		over = max(h.maxAt, a.phaseSince)
	}
	if v.vented && r.t-v.ventedAt > 120 && (on == no && r.t-h.lastOn > 120 || on == unknown && h.risingUntil < r.t-120) {
		return min(over, v.ventedAt), true
	}
	t, ok := r.get(a.in.warm)
	cooled := ok && t < h.max-15 && h.slopeOK && h.slope < -0.05/60
	return over, cooled && r.t-max(h.lastOn, h.maxAt) > longestPause/2 && (on == no || h.risingUntil < r.t-longestPause/2)
}

// shutOff reports that heat and air are both off, and not for what the still has: the pressure creeps up, and nothing
// pulls it down again.
func (a *Analyser) shutOff() bool {
	r, v := &a.r, &a.run.vac
	return r.off(sAirOn) && a.heaterOn() == no && a.offLong() && v.tightest > 0 && v.smooth > 1.2*v.tightest+0.5+2*a.pressureSD()
}

// holdDone reports that the recipe's time at set point has (nearly) passed.
func (a *Analyser) holdDone() bool {
	h, hold := &a.run.heat, a.still.Recipe.Hold
	return hold > 0 && h.reached && a.r.t-h.reachedAt > 0.85*seconds(hold)
}

// expectedRate is the heating rate to expect, K/s: what this still's good runs did, else its rated power
// into the charge and as much again for oil and metal.
func (a *Analyser) expectedRate() float64 {
	if usual, ok := a.median(a.memory.Learned.HeatKPS, 3); ok {
		return usual
	}
	if kw, l := a.still.Heater.RatedKW, a.still.ChargeL; kw > 0 && l > 0 {
		// About 1.8 kJ/(L·K) for solvents; oil and steel of such a pot hold about as much again.
		// Common practice, no source.
		return kw / (2 * 1.8 * l)
	}
	return 1.0 / 60
}

// boilAwayS is the time that the heater needs to boil a full charge away, losses left out, s.
func (a *Analyser) boilAwayS() float64 {
	kw, l := a.still.Heater.RatedKW, a.still.ChargeL
	if kw <= 0 || l <= 0 {
		return 7200 // s; common practice, no source
	}
	return a.latentKJL() * l / kw
}

// overMargin is how far above its set point the oil may swing, K: thermostats overshoot most on the
// first approach (common practice, no source).
func overMargin(set float64) float64 { return max(12, 0.08*set) }

// judgeOver: above set point or oil limit by a margin, or rising with the heater off.
func (a *Analyser) judgeOver() {
	oil, ok := a.r.get(sJacket)
	set, limit := a.still.Recipe.JacketC, a.still.OilLimitC
	back := 0.0
	if a.faults.raised(OverTemperature) {
		back = 2 // K, deadband
	}
	h, r := &a.run.heat, &a.r
	runaway := ok && a.phase != Idle && a.heaterOn() == no && r.t-h.lastOn > 420 && h.slopeOK && h.slope > 0.3/60 && h.rises && h.everOn
	cond := ok && (set > 0 && oil > set+overMargin(set)-back || limit > 0 && oil > limit-back || runaway)
	a.judge(OverTemperature, cond, max(10, 1.5*a.poll.dt), 60, a.explainOver)
}
