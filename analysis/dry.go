package analysis

import (
	"math"
	"slices"
)

// The dry point: all but half a per cent of what can come over has come over. What is measured decides
// how it is found, the best first:
//
//   - what has come over: the end of its tail, which is an exponential while a residue dries;
//   - the temperature of the charge, else of the vapour, leaving saturation, see warming.go, and, where the heater's power
//     is measured, the heat that still makes vapour after that, see boilsout.go;
//   - the heat that the jacket gives away: from the flanks of the thermostat's ripple while the charge boils in full,
//     see ripple.go, else from the oil's own balance, see balance.go, or its knee.
//
// While the run goes on it is looked for once a minute, and said when it is certain. When the run is over
// it is looked for again with all that came after, in settleDry.

const (
	leftShare = 0.005 // of all that comes over may be left
	lookEvery = 60    // s
	tailSpan  = 360   // s over which the rate of a tail is taken
	soonest   = 900   // s of boiling before anything can be dry
)

// The bases of the dry point as people read them.
const (
	byDistillate = "distillate rate"
	byVaporC     = "vapour temperature leaving saturation"
	byChargeC    = "charge temperature leaving saturation"
	byDuty       = "heater duty at set point falling to the loss level"
	byVaporHeat  = "heat that still makes vapour coming to its end"
	byBalance    = "heat that the pot takes falling, by the oil's own balance"
	byRipple     = "thermostat ripple: cooling flanks as slow as without boiling"
)

// lookForDry looks for the dry point while the run goes on.
func (a *Analyser) lookForDry() {
	d, r := &a.run.distil, &a.r
	if r.t < d.lookAt {
		return
	}
	d.lookAt = r.t + lookEvery
	if d.dry {
		a.refuteDry()
		return
	}
	if d.boiling && r.t-d.boilingAt < soonest {
		return
	}
	var at float64
	var basis string
	var ok bool
	switch {
	case a.comesMeasured():
		at, ok = a.dryByTail()
		basis = byDistillate
	case a.believed(sVapor) || a.believed(sCharge):
		at, basis, ok = a.dryByTemperature()
	default:
		at, basis, ok = a.dryByRippleLive()
		if !ok {
			at, ok = a.dryByKnee(r.t)
			basis = byOilKnee
			if ok && !d.boiling {
				d.boils(max(a.run.vac.overAt, at-kneeFor))
			}
		}
	}
	if ok && basis != byDistillate && a.tooSoon(at, basis) {
		return
	}
	if ok && a.heaterOn() == no && at > a.run.heat.lastOn+60 {
		return // a pause, or the end of the heating: then it belongs to the cool-down, and settleDry finds it
	}
	if ok && (d.boiling || basis == byRipple || basis == byDuty) {
		d.dry, d.dryAt, d.basis, d.fading = true, at, basis, true
	}
}

// leastBoiled is the share of the time that the heater needs to boil a full charge away that boiling takes at the
// least: small charges are distilled too, and some are mostly residue. Common practice, no source.
const leastBoiled = 0.15

// tooSoon reports that by then, s, the heat cannot have boiled away what anybody would distil.
// A thermometer in the pot or the pipe has seen the boiling begin; without one the oil's own heat counts.
func (a *Analyser) tooSoon(at float64, basis string) bool {
	boiled := a.run.heat.hotS - max(0, a.r.t-at)
	if basis == byVaporC || basis == byChargeC {
		boiled = min(boiled, at-a.run.distil.boilingAt)
	}
	return boiled < leastBoiled*a.boilAwayS()
}

// A dry point by a thermometer is taken back if something that boils hotter has come to boil: the oil goes on passing on
// heat. Before it can have boiled away what most charges are, most of the heat that it passed on before is proof; later,
// what a dry pot of this still takes must be known. Common practice, no source.
const (
	refuteOver  = 1200 // s over which the heat is compared
	refuteRest  = 300  // s after the dry point until then
	refuteDuty  = 0.6  // of the heat before
	refuteShare = 0.35 // of the heat that takes a full charge over
	refuteNet   = 0.65 // of the heat before, where what a dry pot takes is taken off both
	refuteWay   = 0.6  // of the way from its plateau to the oil, beyond which a charge may rest that is dry
	refuteOf    = 1.5  // times what a dry pot takes must have gone in, or its losses are most of it
)

// refuteDry goes back to distilling where the pot shows that it is not dry.
func (a *Analyser) refuteDry() {
	d, r := &a.run.distil, &a.r
	from := r.t - refuteOver
	if d.basis != byVaporC && d.basis != byChargeC || a.phase != DryOut || from < d.dryAt+refuteRest || a.still.ChargeL <= 0 {
		return
	}
	before, ok1 := a.passedKW(max(d.boilingAt, d.dryAt-refuteOver), d.dryAt)
	now, ok2 := a.passedKW(from, r.t)
	if !ok1 || !ok2 {
		return
	}
	d.passedKW = max(d.passedKW, before)
	before = d.passedKW // what boils out slowly would else be compared with itself
	early := d.basis == byVaporC && !d.refuted && !a.hasBoiledMuch() && now >= refuteDuty*before
	dry, known := a.median(a.memory.Learned.DryKW, 1)
	if d.basis == byChargeC && !a.chargeLow() {
		return
	}
	if !early && !(known && before > refuteOf*dry && now-dry >= refuteNet*(before-dry)) {
		return
	}
	d.refuted, d.dry, d.fading = true, false, false
	d.boilC, d.boilKPa, d.levelN = mean{}, mean{}, 0
	d.boilingAt = d.dryAt
	a.backTo(Distilling, d.dryAt)
}

// chargeLow reports that the charge is nearer to where it boiled than to the oil that heats it.
func (a *Analyser) chargeLow() bool {
	c, t := &a.course, a.r.t
	boiled, ok := a.run.distil.boilC.value()
	now, ok1 := c.mean(chargeC, t-120, t)
	oil, ok2 := c.mean(oilC, t-120, t)
	return ok && ok1 && ok2 && now-boiled < refuteWay*(oil-boiled)
}

// learnDryKW takes what the pot took when it had long been dry, by measured heat, of any run: what it may have been called
// on the way is no matter.
func (a *Analyser) learnDryKW() {
	d, l := &a.run.distil, &a.memory.Learned
	end := a.run.heat.lastOn
	if !d.dry || d.basis == byDistillate || end-d.dryAt < refuteOver || !a.in.fitted(sPower) && !a.in.fitted(sCounter) {
		return
	}
	if kw, ok := a.passedKW(end-refuteOver/2, end); ok && kw > 0 {
		l.DryKW = keep(l.DryKW, round(kw))
	}
}

// hasBoiledMuch reports that by the dry point the heat had boiled away what many charges are, or may have.
func (a *Analyser) hasBoiledMuch() bool {
	d, c := &a.run.distil, &a.course
	began, ok1 := c.mean(usedKWh, d.boilingAt-c.every, d.boilingAt+c.every)
	used, ok2 := c.mean(usedKWh, d.dryAt-c.every, d.dryAt+c.every)
	return !ok1 || !ok2 || 3600*(used-began) > refuteShare*a.latentKJL()*a.still.ChargeL
}

// passedKW is the heat that the oil passed on between two times, kW: what the heater gave, less what warmed the oil.
func (a *Analyser) passedKW(from, to float64) (float64, bool) {
	used, ok := a.course.slope(usedKWh, from, to)
	oil, okOil := a.course.slope(oilC, from, to)
	kJK, okK := a.oilKJK()
	return 3600*used - kJK*oil, ok && okOil && okK
}

// tail is the exponential that what comes over follows at the end: its rate now, L/s, and what is still
// to come, L. ok is false while the rate does not fall.
func (a *Analyser) tail(t float64) (rate, left float64, ok bool) {
	c := &a.course
	r1, ok1 := c.slope(overL, t-tailSpan, t)
	r0, ok0 := c.slope(overL, t-2*tailSpan, t-tailSpan)
	if !ok0 || !ok1 || r0 <= 0 {
		return 0, 0, false
	}
	if r1 <= 0 {
		return 0, 0, true
	}
	fall := math.Log(r0 / r1)
	if fall < 0.1 {
		return r1, 0, false
	}
	tau := tailSpan / fall
	rate = r1 * math.Exp(-tailSpan/2/tau)
	return rate, rate * tau, true
}

// dryByTail: what comes over.
func (a *Analyser) dryByTail() (float64, bool) {
	d, r := &a.run.distil, &a.r
	rate, left, ok := a.tail(r.t)
	if !d.boiling || !ok || d.plateau <= 0 || rate > 0.1*d.plateau || a.lacksHeat() {
		return 0, false
	}
	over, ok := a.course.mean(overL, r.t-60, r.t)
	if !ok || left > 0.7*leftShare*over {
		return 0, false
	}
	at, ok := a.course.passes(overL, a.nearlyAll(over+left), d.boilingAt, r.t)
	return at, ok && !a.stillWet(at, r.t)
}

// nearlyAll is what has come over when the pot is dry, L, of all that comes over: some is always on its way, and within a
// step of the gauge nobody sees it.
func (a *Analyser) nearlyAll(all float64) float64 {
	return all - max(leftShare*all, stepHides*a.comesStep())
}

// stepHides is the share of a step of the gauge that lies between two readings that agree, and a little more.
const stepHides = 0.6

// comesStep is the step of the gauge that shows what comes over, L; 0 if it is not known.
func (a *Analyser) comesStep() float64 {
	step := func(s sig) float64 {
		if i := a.in.channel[s]; i >= 0 && a.sensors.ch[i].moves > stepSeen {
			return a.sensors.ch[i].step
		}
		return 0
	}
	switch {
	case a.in.fitted(sVolume):
		return step(sVolume)
	case a.run.distil.massUsed:
		return step(sMass) / a.liquid.density()
	}
	return 0
}

// stepSeen is how often a gauge must have moved before its least change is its step; common practice, no source.
const stepSeen = 20

// stillWet reports that the charge's thermometer shows liquid although nothing more comes over: soon after the last had come,
// or later. A charge that is colder than it would boil at a pressure that has risen gives nothing off, and is
// not dry.
func (a *Analyser) stillWet(at, later float64) bool {
	if field, _ := a.potThermometer(); field != chargeC {
		return false
	}
	then, _ := a.holdsLiquid(min(at+300, later))
	now, _ := a.holdsLiquid(later)
	return then || now
}

// dryByTemperature: a charge without liquid follows the oil; a vapour pipe that nothing boils into is heated by
// the walls alone.
func (a *Analyser) dryByTemperature() (at float64, basis string, ok bool) {
	d, r, c := &a.run.distil, &a.r, &a.course
	field, fitted := a.potThermometer()
	p, okP := c.mean(pressKPa, r.t-90, r.t)
	plateau, known := a.plateauAt(p, okP)
	oil, okOil := c.mean(oilC, r.t-300, r.t)
	temp, okTemp := c.mean(field, r.t-90, r.t)
	if !fitted || !known || !okOil || !okTemp || oil < plateau+15 {
		return 0, "", false
	}
	top := plateau + atPlateau // of all that can boil
	if end, ok := a.liquid.drynessC(p); ok && okP {
		top = max(top, end+2)
	}
	if field == chargeC {
		if temp < plateau+0.6*(oil-plateau) && !a.warmedThrough(temp > top+vaporRises) {
			return 0, "", false
		}
		now, _, okNow := a.warming(chargeC, r.t-warmHalf/2, r.t)
		if okNow && now < wetWarming*d.warmK && !a.warmedThrough(true) {
			return 0, "", false
		}
		most, _ := a.mostWarming(chargeC, d.boilingAt+soonest, r.t, r.t)
		at, ok = a.driedBy(chargeC, most, 0, r.t, r.t, r.t)
		return at, byChargeC, ok
	}
	if a.vaporStays(r.t) {
		at, ok = a.vaporLeft(r.t)
		return at, byVaporC, ok && r.t-at > 300
	}
	if at, fell, ok := a.vaporPeak(r.t); ok && fell > peakFalls+1 && r.t-at > 300 {
		return at, byVaporC, true
	}
	if temp < top+vaporRises {
		return 0, "", false
	}
	most, mostAt := a.mostWarming(vaporC, d.boilingAt+soonest, r.t, r.t)
	if now, _, okNow := a.warming(vaporC, r.t-warmHalf/2, r.t); okNow && now > most/2 {
		return 0, "", false // it is still running up
	}
	at, ok = a.driedBy(vaporC, most, 0, mostAt, r.t, r.t)
	return at, byVaporC, ok
}

// warmedThrough reports that the charge, beyond all that boils, has warmed as only what is dry does, and is coming to
// rest between the oil and the lid.
func (a *Analyser) warmedThrough(beyond bool) bool {
	d, r := &a.run.distil, &a.r
	if !beyond || d.warmK <= 0 {
		return false
	}
	most, at := a.mostWarming(chargeC, d.boilingAt+soonest, r.t, r.t)
	now, _, ok := a.warming(chargeC, r.t-warmHalf/2, r.t)
	return ok && a.warmedSince(r.t) > wetWarming*d.warmK && now < most/2 && r.t-at > soonest
}

// vaporRises so far beyond all boiling, the vapour pipe is no longer filled with vapour, K.
const vaporRises = 5

// lacksHeat reports that the oil is so much cooler than it has been that what boils may have stopped for want of heat.
func (a *Analyser) lacksHeat() bool {
	most := a.run.heat.max
	now, ok := a.course.mean(oilC, a.r.t-tailSpan, a.r.t)
	return ok && now < most-max(2*oilNear, 0.2*(most-a.roomC()))
}

// settleDry decides the dry point of the run with all that came after it: what the still did while it
// cooled shows what it does without liquid. heatEnd is when the heating stopped, s.
func (a *Analyser) settleDry(heatEnd, end float64) {
	d := &a.run.distil
	heated := a.phase == CoolDown // else the recording stopped in the middle
	a.settleOnset(heatEnd, end)
	switch {
	case a.comesMeasured():
		if d.boiling && heated {
			a.settleByTail(heatEnd, end)
		}
	case a.believed(sVapor) || a.believed(sCharge):
		if d.boiling && heated {
			a.settleByTemperature(heatEnd, end)
			a.settleAgainstBalance(heatEnd, end)
			a.settleByVaporHeat(heatEnd, end)
		}
	default:
		a.settleByOil(heatEnd, end)
	}
	a.markDry()
}

// settleByOil: with the oil's temperature alone, or with what the heater takes. Where the thermostat worked from early
// in the boiling, its flanks show the boiling in full, and its end; what goes in says more than the flanks where it is
// measured.
func (a *Analyser) settleByOil(heatEnd, end float64) {
	d, h := &a.run.distil, &a.run.heat
	a.settleByRipple(heatEnd, end)
	if a.phase != CoolDown {
		return
	}
	early := d.boiling && h.reached && h.reachedAt-d.boilingAt < (heatEnd-d.boilingAt)/3
	if early && d.dryFlank > 0 && !a.in.fitted(sPower) {
		return
	}
	if at, ok := a.dryByBalance(heatEnd, end); ok && (!d.boiling || at > d.boilingAt+soonest) {
		d.dry, d.dryAt, d.basis = true, at, byBalance
		return
	}
	if at, ok := a.dryByKnee(heatEnd); ok && !d.dry && d.boiling {
		d.dry, d.dryAt, d.basis = true, at, byOilKnee
	}
}

// settleByTail: in the end, all is over that comes over.
func (a *Analyser) settleByTail(heatEnd, end float64) {
	d := &a.run.distil
	until := min(end, heatEnd+1800)
	all, ok := a.course.mean(overL, until-300, until)
	if !ok || all <= 0 {
		return
	}
	if _, left, ok := a.tail(until); ok {
		all += left
	}
	at, ok := a.course.passes(overL, a.nearlyAll(all), d.boilingAt, until)
	d.dry = ok && !a.stillWet(at, heatEnd) && (at <= heatEnd || !a.wetAtEnd(heatEnd+a.run.heat.longestOff)) && at > d.boilingAt+soonest/2
	if d.dry {
		d.dryAt, d.basis = at, byDistillate
		return
	}
	// What is on its way to the meter hides a dry point shortly before the end; the pot's own thermometer need not wait.
	if field, fitted := a.potThermometer(); fitted && field == chargeC && !a.endedWet(heatEnd) {
		a.settleByTemperature(heatEnd, end)
	}
}

// settleByTemperature: in cooling, a dry charge shows how it follows the oil without liquid.
func (a *Analyser) settleByTemperature(heatEnd, end float64) {
	d := &a.run.distil
	field, fitted := a.potThermometer()
	if !fitted {
		return
	}
	liquid, known := a.holdsLiquid(heatEnd)
	if liquid {
		d.dry = false
	}
	if liquid || !known {
		return
	}
	if field == vaporC && a.vaporStays(heatEnd) {
		if at, ok := a.vaporLeft(heatEnd); ok {
			d.dry, d.dryAt, d.basis = true, at, byVaporC
		}
		return
	}
	last := a.closedUntil(heatEnd, min(end, heatEnd+900))
	if at, fell, ok := a.vaporPeak(last); field == vaporC && ok && fell > peakFalls && at < heatEnd && last-at > 180 {
		d.dry, d.dryAt, d.basis = true, at, byVaporC
		return
	}
	from, until, basis := d.boilingAt+soonest, last, byChargeC
	dry, at := a.mostWarming(field, from, last, last)
	lid := 0.0
	if field == vaporC {
		until, basis = at, byVaporC
	} else if alone, takes, ok := a.coolsDry(heatEnd, last); ok && alone > keepsEnd*dry {
		dry, lid = alone, takes
	} else if late, ok := a.meanWarming(chargeC, heatEnd+240, min(last, heatEnd+720), last); ok && late > keepsEnd*dry {
		dry = late
	}
	if dry <= 0 {
		return
	}
	// What looks like the end of the heating is where the thermostat opened for the last time: heat still comes for
	// as long as one of its pauses.
	if at, ok := a.driedBy(field, dry, lid, until, heatEnd+a.run.heat.longestOff, last); ok {
		d.fadeAt = 0
		if field == chargeC {
			most, _ := a.mostWarming(field, from, last, last)
			d.fadeAt = a.vaporFades(max(dry, most), lid, min(at, heatEnd), last)
			at = max(at, a.lastWet(dry, lid, from, min(until, heatEnd), last))
		}
		if field == chargeC && lid == 0 {
			at = min(at+lateShare*(at-d.boilingAt), max(at, heatEnd))
		}
		d.dry, d.dryAt, d.basis = true, at, basis
	}
}

// lastWet is the last time, s, that the charge warmed by clearly more than it does when dry, 1/s: what is wet touches
// more of the wall than the cake that is left of it.
func (a *Analyser) lastWet(dry, lid, from, until, last float64) float64 {
	c := &a.course
	for i := c.after(until) - 1; i >= 0 && c.spots[i].t > from; i-- {
		t := c.spots[i].t
		w, drive, ok := a.warming(chargeC, t, last)
		alone := drive - lid*a.overRoom(t, last)
		if ok && alone > oilDrives && w*drive/alone > wetTouches*dry {
			return t
		}
	}
	return 0
}

// wetTouches times as much as dry is clearly more.
const wetTouches = 1.4

// vaporFades is since when, s, up to a time at, no more than dryingShare of the oil's heat has made vapour that did so
// while the charge boiled in full, by how the charge warmed; see driedBy.
func (a *Analyser) vaporFades(dry, lid, at, last float64) float64 {
	c := &a.course
	vapor := func(i int) float64 {
		w, drive, ok := a.warming(chargeC, c.spots[i].t, last)
		if !ok {
			return 0
		}
		return max(0, drive-lid*a.overRoom(c.spots[i].t, last)-w/dry*drive)
	}
	first, end := c.after(a.run.distil.boilingAt+soonest), c.after(at)
	most := 0.0
	for i := first; i < end; i++ {
		most = max(most, vapor(i))
	}
	for end > first && vapor(end-1) < dryingShare*most {
		end--
	}
	if end >= len(c.spots) {
		return at
	}
	return min(at, c.spots[end].t)
}

// lateShare of the time from boiling on, the last of the solvent takes to leave a charge that no longer keeps to its boiling
// temperature: common practice, no source.
const lateShare = 0.015

// balanceTrust is what the oil's balance may be off at the dry point, s: own experience with simulated stills.
const balanceTrust = 900

// settleAgainstBalance: a thermometer in the vapour pipe says more exactly when it was dry than the oil does, but it may be
// fooled: a pipe stays as warm as its walls, or is cold because the vacuum was lost. Where both are further apart than
// the balance may be off, or the pipe shows nothing, the balance decides.
func (a *Analyser) settleAgainstBalance(heatEnd, end float64) {
	d := &a.run.distil
	if field, _ := a.potThermometer(); field == chargeC {
		if _, known := a.holdsLiquid(heatEnd); known || d.dry {
			return // it stands in what is left
		}
	}
	at, ok := a.dryByBalance(heatEnd, end)
	if ok && at > d.boilingAt+soonest && (!d.dry || math.Abs(at-d.dryAt) > balanceTrust) {
		d.dry, d.dryAt, d.basis = true, at, byBalance
	}
}

// closedUntil is until when, after the heating ended, the still was not yet vented: by the pressure, s.
func (a *Analyser) closedUntil(heatEnd, end float64) float64 {
	c := &a.course
	p, ok := c.mean(pressKPa, heatEnd-180, heatEnd-60)
	if !ok {
		return end
	}
	for i := c.after(heatEnd - 60); i < len(c.spots) && c.spots[i].t <= end; i++ {
		if c.spots[i].v[pressKPa] > 1.5*p+3 {
			return c.spots[i].t - c.every
		}
	}
	return end
}

// wetAtEnd reports that solvent was clearly still coming over when the heating stopped.
func (a *Analyser) wetAtEnd(heatEnd float64) bool {
	d := &a.run.distil
	rate, ok := a.course.slope(overL, heatEnd-240, heatEnd)
	return ok && d.plateau > 0 && rate > 0.1*d.plateau
}

// Drying begins when only a tenth or so of the best rate comes over. Where the rate is not measured it is when the charge
// leaves saturation, or taken to be the last part of the boiling. Common practice, no source.
const (
	dryingShare = 0.10 // of the plateau rate
	dryingAgain = 0.25 // of it: that much comes over, and it was a pause
	dryingLeft  = 0.15 // of all that comes over is left at the most
	dryingPart  = 0.01 // of the time from boiling to dry
)

// followDrying sees what comes over fall to a trickle, and come again.
func (a *Analyser) followDrying(measured bool) {
	d, r, v := &a.run.distil, &a.r, &a.run.vac
	if !measured || !d.boiling || d.dry || r.t-d.boilingAt < soonest {
		return
	}
	share := dryingShare
	if d.drying {
		share = dryingAgain
	}
	cond := d.plateau > 0 && d.rate < share*d.plateau
	if then, ok := d.boilKPa.value(); cond && !d.drying && (v.vented || ok && r.pOK && r.p > 1.3*then+a.gaugeStep() || a.heaterOn() == no && r.t-a.run.heat.lastOn > heatHeld || a.lacksHeat()) {
		cond = false // it does not boil for want of heat or vacuum
	}
	if cond && !d.drying {
		_, left, falls := a.tail(r.t)
		cond = falls && left < dryingLeft*d.total
	}
	up, down := d.trickle.update(r.t, cond, 60, 120)
	switch {
	case up:
		d.drying, d.dryingAt = true, max(d.boilingAt, r.t-60-comesSpan/2)
	case down:
		d.drying = false
		if a.phase == DryOut {
			a.backTo(Distilling, d.boilingAt)
		}
	}
}

// dryingFrom is when the drying that ended at a dry point began, s.
func (a *Analyser) dryingFrom(dryAt float64) float64 {
	d, c := &a.run.distil, &a.course
	from := dryAt
	switch boiled := dryAt - d.boilingAt; {
	case d.heatFade > 0:
		from = min(from, d.heatFade)
	case d.basis == byChargeC && a.phase == CoolDown:
		from -= lateShare / (1 + lateShare) * boiled
		if d.fadeAt > 0 {
			from = min(from, d.fadeAt)
		}
	case d.basis != byChargeC:
		from -= dryingPart * boiled
		if at, fell, ok := a.vaporPeak(dryAt); d.basis == byVaporC && ok && fell > peakFalls { // the walls heat what little comes
			from = min(from, at)
		}
	}
	if a.comesMeasured() && d.plateau > 0 {
		from = dryAt
		all, _ := c.mean(overL, dryAt-c.every, dryAt+c.every)
		for i := c.after(dryAt) - 1; i >= 0 && c.spots[i].t > d.boilingAt+soonest/2; i-- {
			t := c.spots[i].t
			if rate, ok := c.slope(overL, t-comesSpan/2, t+comesSpan/2); ok && rate > dryingShare*d.plateau || c.spots[i].v[overL] < (1-dryingLeft)*all {
				break
			}
			from = t
		}
	}
	return max(d.boilingAt, from)
}

// markDry puts the phase that ends with the dry point, or with the heating, where it was found in the end.
func (a *Analyser) markDry() {
	r, d := &a.run, &a.run.distil
	from := d.dryingAt
	switch {
	case d.dry:
		from = a.dryingFrom(d.dryAt)
	case a.comesMeasured() && d.boiling && a.ranOut(a.heatEnd(a.r.t)):
		from = a.dryingFrom(a.coolFrom(a.r.t))
	case !d.drying:
		from = math.Inf(1)
	}
	r.marks = slices.DeleteFunc(r.marks, func(m mark) bool { return m.phase == DryOut })
	for i, m := range r.marks {
		last := i+1 == len(r.marks)
		if (m.phase == Distilling || m.phase == HeatUp) && m.t <= from && (last || from < r.marks[i+1].t) && !math.IsInf(from, 1) {
			r.marks = slices.Insert(r.marks, i+1, mark{DryOut, from})
			return
		}
	}
}
