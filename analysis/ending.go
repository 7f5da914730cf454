package analysis

import (
	"math"
	"slices"
)

// How a run ends: with solvent still coming over (not-dry), long after nothing comes over (past-dry), or
// in time; and how long it still has to go.

const (
	wetShare = 0.12 // of the plateau rate at the end of the heating: still coming over
	leastWet = 0.05 // of it, where a thermometer shows liquid
	wetLeft  = 0.06 // of what has come over, still to come: more than a careful ending leaves
	// oilBrings of it, hot oil still brings over out of a charge that shows no liquid any more. Own experience with simulated
	// stills, no source.
	oilBrings = 0.12

	// Heating after the dry point that a careful recipe may want, s and share of the time from boiling to
	// dry; within a stated hold people have asked for it, and much more is let pass. Common practice, no
	// source.
	pastLeast, pastShare     = 5400, 0.3
	pastInHold, pastHoldPart = 9000, 1.0

	// In a known still, whatever the hold, what is far beyond the longest of its good runs was not meant: that many times
	// it, and s. Common practice, no source.
	pastUsual, pastUnusual = 2, 3000
)

// judgeNotDry: judged once, some minutes into the cool-down, when the evidence is in. Under vacuum, and with nothing
// that says the run is off, the heat may have been taken away for a while only: then it waits for longer.
func (a *Analyser) judgeNotDry() {
	d, r := &a.run.distil, &a.r
	cond := a.faults.raised(NotDry)
	wait := float64(longestPause)
	if a.memory.HeaterSwitch == command && a.run.heat.switching.called == no {
		wait = heldBack // by hand, and for longer than people hold it back
	}
	if a.run.vac.vented || r.off(sRunOn) || a.holdDone() {
		wait = notDryWait
		if field, ok := a.potThermometer(); ok && field == vaporC {
			wait = balanceWait
		}
	}
	if a.phase == CoolDown && !d.endJudged && r.t-a.phaseSince > wait {
		d.endJudged = true
		cond = a.endedWet(a.heatEnd(a.r.t))
	}
	a.judge(NotDry, cond, 0, 0, a.explainNotDry)
}

// judgeWetEnd does so when the run is over, if it came to its end too soon to be judged before.
func (a *Analyser) judgeWetEnd() {
	d := &a.run.distil
	if a.phase == CoolDown && !d.endJudged {
		d.endJudged = true
		a.judge(NotDry, a.endedWet(a.heatEnd(a.r.t)), 0, 0, a.explainNotDry)
	}
}

const (
	notDryWait  = 240 // s of cool-down
	balanceWait = 420 // s, until the oil has shown how it cools
)

// endedWet reports that solvent was still coming over when the heating stopped.
func (a *Analyser) endedWet(heatEnd float64) bool {
	d := &a.run.distil
	liquid, known := a.holdsLiquid(heatEnd)
	field, _ := a.potThermometer()
	if !d.boiling || d.dry && !(liquid && field == chargeC) || heatEnd-d.boilingAt < 300 {
		return false
	}
	if a.comesMeasured() {
		if a.ranOut(heatEnd) {
			return false
		}
		rate, ok := a.course.slope(overL, heatEnd-300, heatEnd+20)
		_, left, okTail := a.tail(heatEnd)
		d.wetRate = rate
		most := wetLeft * d.total
		if known && !liquid && field == chargeC { // what still comes is the last of it, and the heat in the oil brings it over
			most = oilBrings * d.total
		}
		if ok && d.plateau > 0 && rate > wetShare*d.plateau && (!okTail || left > most) {
			return true
		}
		liquid = liquid && rate > leastWet*d.plateau
	}
	least := float64(plateauFrom)
	if field == vaporC {
		least = soonest // the pipe needs its time to get as warm as it will be
		// A pipe that nothing streams through may stay as warm as it was.
		if at, ok := a.dryByBalance(heatEnd, a.r.t); ok && at > d.boilingAt+soonest || a.tookLittle(heatEnd) {
			return false
		}
	}
	return known && liquid && heatEnd-d.boilingAt > least
}

// ranOut reports that the heat left in the oil brought over what was still to come after the heater was off for good, down
// to a trickle, and that the charge, where it has a thermometer, is hotter than it boils.
func (a *Analyser) ranOut(heatEnd float64) bool {
	d, c := &a.run.distil, &a.course
	end := a.coolFrom(a.r.t)
	if end < heatEnd+soonest {
		return false
	}
	then, ok1 := c.mean(overL, heatEnd-c.every, heatEnd+c.every)
	rate, ok2 := c.slope(overL, end-300, end)
	if !ok1 || !ok2 || d.total-then < wetLeft*d.total || rate > leastWet*d.plateau {
		return false
	}
	field, fitted := a.potThermometer()
	if !fitted || field != chargeC {
		return true
	}
	for t := heatEnd + soonest; t < end-60; t += 300 {
		p, okP := c.mean(pressKPa, t-60, t+60)
		temp, okC := c.mean(chargeC, t-60, t+60)
		if plateau, known := a.plateauAt(p, okP); okC && known && temp > plateau+atPlateau {
			return true
		}
	}
	return false
}

// tookLittle reports that the heater gave so little before the end, with the oil no cooler for it, that hardly anything
// can have boiled, whatever of it was lost.
func (a *Analyser) tookLittle(heatEnd float64) bool {
	c, full := &a.course, a.run.draw.full
	gave, okIn := c.mean(heatIn, heatEnd-420, heatEnd-60)
	slope, okOil := c.slope(oilC, heatEnd-420, heatEnd-60)
	return okIn && okOil && full > 0 && slope > -0.1/60 && gave < wetShare*full
}

func (a *Analyser) explainNotDry() account {
	d := &a.run.distil
	text := "The heating ended while solvent was still coming over"
	if a.comesMeasured() && d.plateau > 0 {
		text += " (at " + num(100*d.wetRate/d.plateau, 0) + " % of the best rate)"
	} else {
		text += ": the charge was still at its boiling temperature"
	}
	text += ". The residue is wet: it gives off vapour, and solvent is lost with it. Let it cool by the maker's manual before it is opened"
	for _, p := range a.still.Solvent.Parts {
		if p.Solvent().Hazards().PeroxideFormer { // wet is as it ought to be
			return account{text: text + ". It may hold peroxides: do not run it on to dryness without testing for them."}
		}
	}
	return account{text: text + "; give the next run more time."}
}

// judgePastDry: heating goes on long after nothing comes over.
func (a *Analyser) judgePastDry() {
	d, r := &a.run.distil, &a.r
	until := r.t
	if a.heaterOn() == unknown { // heated up to then for certain
		until = a.run.heat.lastOn
	}
	cond := d.dry && (a.phase == DryOut || a.phase == Distilling) && until-d.dryAt > a.pastAfter(until) &&
		(a.heaterOn() != no || r.on(sHeaterOn)) && // a dry pot that is well lagged takes next to nothing
		(d.basis == byDistillate || !a.vacuumFailedBefore(d.dryAt+seemsDry))
	if a.faults.raised(PastDry) { // a pause of the thermostat is no end
		cond = a.phase == DryOut || a.phase == Distilling
	}
	a.judge(PastDry, cond, max(30, 2*a.poll.dt), 0, a.explainPastDry)
}

// pastForCertain times what may pass must have been heated past a dry point that is seen only afterwards; common practice, no source.
const pastForCertain = 1.3

// judgePastEnd does so when the run is over, where its dry point has come to light only by what the still did as it cooled.
// The oil's own balance does not tell a pot that is dry from one that boils out slowly.
func (a *Analyser) judgePastEnd(heatEnd float64) {
	d := &a.run.distil
	past := heatEnd - d.dryAt
	a.judge(PastDry, d.dry && a.phase == CoolDown && !slices.Contains(a.run.faults, PastDry) && past > pastForCertain*a.pastAfter(heatEnd) &&
		d.basis != byBalance && (d.basis == byDistillate || !a.vacuumFailedBefore(d.dryAt+seemsDry)), 0, 0, func() account {
		return account{text: "The heating went on for " + span(past) + " after next to nothing came over any more (by " + d.basis +
			"). It wasted energy, and residue that is kept hot without solvent may decompose: give such a charge less time, or have the still end it."}
	})
}

// vacuumFailedBefore reports that the alarm of a vacuum that is not there stands, and was raised before a time, s.
func (a *Analyser) vacuumFailedBefore(t float64) bool {
	return slices.ContainsFunc(a.faults.list, func(f StandingFault) bool {
		return (f.Fault == VacuumLost || f.Fault == VacuumNotPulled || f.Fault == VacuumShort) && f.Since.Before(a.time(t))
	})
}

// seemsDry for less than so long, s, a pot that loses its vacuum may as well hold the last of its solvent: what then boils so
// hot that the oil hardly drives it dries for hours, and no thermometer says when it is done. Common practice, no source.
const seemsDry = 1800

// pastAfter is how long after the dry point heating is wasted for certain, s, in a run that was heated until then.
func (a *Analyser) pastAfter(until float64) float64 {
	let, l, d := a.pastByRecipe(until), &a.memory.Learned, &a.run.distil
	if usual, ok := a.median(l.DistilS, leastRuns); ok && usual > 0 && len(l.PastDryS) >= leastRuns {
		slower := max(1, (d.seemed()-d.boilingAt)/usual) // with less heat, the last takes longer as well
		let = min(let, slower*(pastUsual*slices.Max(l.PastDryS)+pastUnusual))
	}
	return let
}

func (a *Analyser) pastByRecipe(until float64) float64 {
	d, h := &a.run.distil, &a.run.heat
	boiled := d.dryAt - d.boilingAt
	if hold := seconds(a.still.Recipe.Hold); hold > 0 && (!h.reached || until < h.reachedAt+1.05*hold+300) {
		let := max(pastInHold, pastHoldPart*boiled)
		if h.reached { // counted from when the oil was there, if that was later
			let += max(0, h.reachedAt-d.dryAt)
		} else { // and it has not even begun
			let += hold
		}
		return let
	}
	return max(pastLeast, pastShare*boiled)
}

// wastedKWh is the energy used since the dry point.
func (a *Analyser) wastedKWh() (float64, bool) {
	then, ok := a.course.mean(usedKWh, a.run.distil.dryAt-60, a.run.distil.dryAt+60)
	if !ok || a.run.energy.basis == "" {
		return 0, false
	}
	return max(0, a.run.energy.kWh-then), true
}

func (a *Analyser) explainPastDry() account {
	d := &a.run.distil
	text := "Next to nothing has come over for " + span(a.r.t-d.dryAt) + " (by " + d.basis + "), and the heating goes on. "
	if kWh, ok := a.wastedKWh(); ok {
		text += num(kWh, 1) + " kWh have been wasted so far. "
	}
	return account{text: text + "Residue that is kept hot without solvent may decompose: stop the heating by the still's own controls."}
}

// remaining is how long the run still needs to its dry point, s, and what that rests on.
func (a *Analyser) remaining() (s float64, basis string, ok bool) {
	d, r := &a.run.distil, &a.r
	if a.phase != Distilling && a.phase != DryOut || d.dry || !d.boiling {
		return 0, "", false
	}
	usual, learned := median(a.memory.Learned.DistilS, 3)
	if a.comesMeasured() && d.rate > 0 {
		if rate, left, ok := a.tail(r.t); ok && rate < 0.4*d.plateau && left > 0 {
			end := dryShare * (d.total + left)
			if left <= end {
				return 0, byDistillate, true
			}
			return left / rate * math.Log(left/end), "the distillate rate, which is falling", true
		}
		if yield, ok := median(a.memory.Learned.OverL, 3); ok && d.total < 0.9*yield {
			tail := 0.25 * usual
			return (yield-d.total)/d.rate + tail, "the distillate rate and the yield of its good runs", true
		}
		if l := a.still.ChargeL; l > 0 && d.total < 0.85*l {
			return 1.2 * (0.9*l - d.total) / d.rate, "the distillate rate and a full charge", true
		}
	}
	if learned && r.t-d.boilingAt < usual {
		return usual - (r.t - d.boilingAt), "how long its good runs boiled", true
	}
	return 0, "", false
}
