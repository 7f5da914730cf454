package analysis

import (
	"math"
	"slices"
)

// When the vapour came. With a thermometer in the vapour pipe alone, boiling is at times only inferred: the oil comes to rest
// although it is heated, or a pipe that is warm from the run before stays as warm as what boils. That is good for a quarter
// of an hour. Once the run is over the pipe itself tells it to the minute: from as cold as it was, it got as warm as vapour is.
// A charge that boils about as cold as the room is, at the pressure that it was pumped down to, hardly warms a pipe: it boils
// once the heat that the oil passed on has made it that much warmer. And a pipe that is as warm from the run before as what
// boils then may show nothing at all, or only the end, when its walls get hot; nor does a thermometer that hangs. Then the
// heat that the pot took, where the heater's power is measured, says how much was boiled, and that much first had to be
// warmed.

const (
	arrivedFrom = 900  // s after the onset: the pipe is as warm as the vapour,
	arrivedTo   = 1800 // until then
	arrivedAt   = 0.65 // of the way to there, vapour fills the pipe: what a warm liquid gives off before it boils has brought it
	// a part of that way
	arrivedLate = 180 // s after boiling was inferred, at the latest; own experience with simulated stills all, no source

	stopsLate   = 180     // s after it seemed filled, at the earliest,
	stopsWithin = 3600    // and at the latest, a pipe stops getting warmer
	stopsBefore = 900     // s over which it did get warmer,
	stopsLeast  = 1. / 60 // by so much, K/s,
	stopsAfter  = 1200    // and s over which it then does not,
	stopsShare  = 0.2     // or by this share of that
	stopsSlow   = 0.65    // of its way in ten minutes at the most: vapour that comes makes more of it; own experience with
	// simulated stills all, no source

	unseenLeast = 0.15 // of a full charge must have been boiled,
	unseenMost  = 1.4  // and no more than that; own experience with simulated stills, no source
	unseenLate  = 0.6  // of all heat had been taken before boiling was seen: then it began long before

	nearRoom = 8 // K above where it began: so little heat boils it that how much is in the pot need not be known well
)

// settleOnset puts an onset that the pipe shows late, or that is roughly known, where it was.
func (a *Analyser) settleOnset(heatEnd, end float64) {
	d := &a.run.distil
	if d.refuted {
		return // what boils hotter came to boil since: the pipe, and the heat, are of both
	}
	at, ok := a.boiledUnseen(heatEnd, end)
	if !ok && d.boiling {
		at, ok = a.boiledCold()
	}
	switch {
	case ok || !d.boiling:
	case d.roughAt > 0:
		at, ok = a.pipeFilledAt()
	default:
		at, ok = a.pipeStopsAt(heatEnd)
	}
	marks := a.run.marks
	heats := slices.IndexFunc(marks, func(m mark) bool { return m.phase == HeatUp })
	if !ok || heats < 0 {
		return
	}
	at = max(at, marks[heats].t+1)
	was := heatEnd // nothing of the heating counted as distilling
	if i := slices.IndexFunc(marks, func(m mark) bool { return m.phase == Distilling }); i < 0 {
		a.run.markBoil(at)
		if len(a.run.marks) == len(marks) {
			return
		}
	} else {
		if was = marks[i].t; i == 0 || marks[i-1].phase != HeatUp || at <= marks[i-1].t || i+1 < len(marks) && at >= marks[i+1].t {
			return
		}
		marks[i].t = at
	}
	e, c := &a.run.energy, &a.course
	then, ok0 := c.mean(usedKWh, was-60, was+60)
	now, ok1 := c.mean(usedKWh, at-60, at+60)
	if ok0 && ok1 {
		more := max(-e.byPhase[HeatUp], min(now-then, e.byPhase[Distilling]))
		e.byPhase[HeatUp] += more
		e.byPhase[Distilling] -= more
	}
	d.shownAt = d.boilingAt // as it was said while the run went on; 0: it was not
	d.boiling, d.boilingAt = true, at
}

// pipeFilledAt is when vapour filled the pipe, s.
func (a *Analyser) pipeFilledAt() (float64, bool) {
	d, c := &a.run.distil, &a.course
	filled, ok := c.mean(vaporC, d.boilingAt+arrivedFrom, d.boilingAt+arrivedTo)
	if !ok {
		return 0, false
	}
	cold, coldAt := math.Inf(1), 0.0
	for i := c.after(a.run.start); i < len(c.spots) && c.spots[i].t < d.boilingAt+arrivedTo; i++ {
		if v := c.spots[i].v[vaporC]; v < cold { // never, where it was not measured
			cold, coldAt = v, c.spots[i].t
		}
	}
	if filled-cold < shownRise {
		return 0, false
	}
	at, ok := c.crosses(vaporC, cold+arrivedAt*(filled-cold), coldAt, d.boilingAt+arrivedTo)
	return at, ok && at <= d.roughAt+arrivedLate // walls that get hot warm a pipe further
}

// pipeStopsAt is when a pipe that had been getting warmer little by little stopped, s: warmed from below it follows the
// charge, and passes for filled long before that boils where nobody stated what it is. ok is false if it was filled all at
// once, or did not stop.
func (a *Analyser) pipeStopsAt(heatEnd float64) (at float64, ok bool) {
	d, c, v := &a.run.distil, &a.course, &a.run.vac
	if a.liquid.known || a.believed(sCharge) || a.comesMeasured() || !v.over || !a.coldStart() {
		return 0, false
	}
	most := 0.0
	for t := max(d.boilingAt+stopsLate, v.overAt+stopsBefore); t < min(d.boilingAt+stopsWithin, heatEnd-stopsAfter); t += 60 {
		before, ok0 := c.slope(vaporC, t-stopsBefore, t)
		after, ok1 := c.slope(vaporC, t, t+stopsAfter)
		if contrast := before - after; ok0 && ok1 && before > stopsLeast && after < stopsShare*before && contrast > most {
			at, most = t, contrast
		}
	}
	if most == 0 {
		return 0, false
	}
	filled, ok := c.mean(vaporC, at, at+stopsBefore)
	return at, ok && c.steepest(vaporC, arrivesWithin, a.run.start, at) < stopsSlow*(filled-d.baseC)
}

// boiledCold is since when a charge boils that had little to warm up, s; ok is false if it is not one, or boiled no later
// than was found.
func (a *Analyser) boiledCold() (float64, bool) {
	d, c, v := &a.run.distil, &a.course, &a.run.vac
	if a.believed(sCharge) || a.comesMeasured() || !a.coldStart() || !v.over || !a.in.fitted(sPower) { // a counter's steps are too coarse
		return 0, false
	}
	pipe, okPipe := c.mean(vaporC, d.boilingAt, d.boilingAt+300)
	for i := c.after(v.overAt); i < len(c.spots) && c.spots[i].t < d.boilingAt-60; i++ {
		t := c.spots[i].t
		p, okP := c.mean(pressKPa, t-60, t+60)
		boil, known := a.liquid.boilC(p)
		first, okC := c.mean(oilC, a.run.start, a.run.start+90)
		could, ok := a.couldBeC(t, liquidKJLK)
		if okP && known && okC && ok && okPipe && boil < first+nearRoom && pipe < boil+nearRoom && could > boil {
			return t, true
		}
	}
	return 0, false
}

// boiledUnseen is since when a charge boiled whose vapour a warm pipe, or a thermometer that hangs, did not show, s; ok is
// false if it did, or nothing boiled.
func (a *Analyser) boiledUnseen(heatEnd, end float64) (float64, bool) {
	d, c, v := &a.run.distil, &a.course, &a.run.vac
	if a.phase != CoolDown || a.coldStart() && a.believed(sVapor) || a.believed(sCharge) || a.comesMeasured() ||
		!a.in.fitted(sVapor) && !a.in.fitted(sCharge) ||
		!a.in.fitted(sPower) || a.still.ChargeL <= 0 || !v.over || slices.Contains(a.run.faults, VacuumLost) {
		return 0, false
	}
	b, ok := a.balanceOf(max(0, min(a.oilLoss(heatEnd, end), quickestDry)), heatEnd)
	if !ok {
		return 0, false
	}
	first := max(a.run.start, c.spots[0].t) + balanceSpan/2
	took, most, rests := a.takes[:0], 0.0, math.Inf(1)
	for t := first; t <= heatEnd-balanceSpan/2; t += balanceStep {
		q, ok := a.potTakes(b, t, balanceSpan)
		if !ok && len(took) > 0 {
			q = took[len(took)-1] // nobody watched
		}
		took, most = append(took, max(0, q)), max(most, q)
		if ok && t > heatEnd-balanceEnd {
			rests = min(rests, max(0, q))
		}
	}
	a.takes = took
	wet := rests > balanceRests*most // in the end
	if wet {
		rests = 0
	}
	if len(took) == 0 {
		return 0, false
	}
	all := max(0, took[0]-rests) * (balanceSpan - balanceStep) / 2 // kJ, before the first
	for i, q := range took {
		all += max(0, q-rests) * balanceStep
		took[i] = all
	}
	half := first + balanceStep*float64(slices.IndexFunc(took, func(kJ float64) bool { return kJ >= all/2 })) // then it boiled
	boils, ok := c.mean(vaporC, half-balanceSpan/2, half+balanceSpan/2)
	if p, okP := c.mean(pressKPa, half-balanceSpan/2, half+balanceSpan/2); okP && a.liquid.known {
		boils, ok = a.liquid.boilC(p)
	}
	if !ok {
		return 0, false
	}
	warms := liquidKJLK * max(0, boils-a.roomC())
	boiled := all / (warms + a.latentKJL()) // L
	full := a.still.ChargeL
	if boiled < unseenLeast*full || boiled > unseenMost*full {
		return 0, false
	}
	if oil, ok := c.mean(oilC, half-balanceSpan/2, half+balanceSpan/2); !ok || oil < boils+leastDrive || wet && all < full*(warms+unseenLeast*a.latentKJL()) {
		return 0, false // all of it may have warmed the charge
	}
	if i := int((d.boilingAt - first) / balanceStep); d.boiling && (i < 0 || i < len(took) && took[i] < unseenLate*all) {
		return 0, false // it was seen
	}
	i := slices.IndexFunc(took, func(kJ float64) bool { return kJ >= boiled*warms })
	return first + balanceStep*float64(i), i >= 0
}
