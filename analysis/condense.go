package analysis

import (
	"slices"
)

// condenser-warm: what leaves the condenser is so warm that the solvent's own vapour pressure there is a
// good part of the still's pressure. The ejector then draws that part off as vapour: it is lost, and goes
// wherever the ejector blows.

const (
	warmShareLost = 0.45 // vapour pressure of the condensate over the still's: so much of what is drawn off is solvent
	warmOverRoom  = 14   // K: coolant from a tap, a tower or a cooler brings condensate no nearer; common practice, no source
	warmOverCool  = 22   // K over what it was before boiling: a condenser under full load brings it no nearer; common practice, no source
	hotOverRoom   = 30   // K: nothing cools it; common practice, no source
	warmAgainst   = 8    // K over the median of the good runs
	settlesFor    = 420  // s of boiling until the condenser has come to rest; common practice, no source
	flashesFor    = 1200 // s that a charge poured into a hot pot boils away faster than the heater can make it; common practice, no source
	warmJump      = 12   // K over what it was so far in this run: the load does not rise so; common practice, no source
)

// judgeCondenser judges while the charge boils for good.
func (a *Analyser) judgeCondenser() {
	r, d := &a.r, &a.run.distil
	t, ok := r.get(sCondensate)
	cond := false
	if ok && !d.boiling {
		if !d.hasCool {
			d.coolC, d.hasCool = t, true
		}
		d.coolC = min(d.coolC, t)
	}
	// What comes falls off as well where it is not condensed any more.
	lacking := ok && d.fading && t > a.roomC()+hotOverRoom && r.p > 1.5*a.run.vac.lowest
	back := 0.0
	if a.faults.raised(CondenserWarm) {
		back = 2
	}
	share, known := 0.0, false
	if ok && r.pOK {
		share, known = a.lostShare(t)
	}
	settles := float64(settlesFor)
	if !a.coldStart() {
		settles = flashesFor
	}
	plain := ok && r.pOK && d.boiling && !a.run.vac.vented && r.t-d.boilingAt > settles
	before, jumps := d.condC.value()
	jumps = jumps && plain && (a.phase == Distilling || a.phase == DryOut) && r.t-d.boilingAt > soonest &&
		t > before+warmJump-back && t > a.roomC()+8-back && (!known || share > 0.3)
	if plain && a.phase == Distilling && (!d.fading || lacking) {
		if !d.fading && !jumps {
			d.condC.add(t)
		}
		if mid, sd, learned := a.usual(a.memory.Learned.CondensateC, 3, runsAgree); learned {
			cond = t > mid+max(warmAgainst, 5*sd)-back && t > a.roomC()+5-back && (!known || share > 0.15)
		}
		if runs := a.memory.Learned.CondensateC; !cond && len(runs) == fewRuns { // two tell less than three, but not nothing
			cond = t > slices.Max(runs)+2*warmAgainst-back && t > a.roomC()+warmOverRoom-back && (!known || share > 0.15)
		}
		// Or it has become much warmer than before boiling, and the pressure has risen with it: more vapour
		// comes than is condensed.
		overwhelmed := known && share > 0.4 && t > a.roomC()+8-back && t > d.coolC+15-back && d.hasCool &&
			r.p > 1.15*a.run.vac.lowest+a.gaugeStep()
		uncooled := d.hasCool && t > max(a.roomC(), d.coolC)+hotOverRoom-back && r.p > 1.5*a.run.vac.lowest // whatever boils
		cond = cond || overwhelmed || uncooled || known && share > warmShareLost && t > a.roomC()+warmOverRoom-back && (!d.hasCool || t > d.coolC+warmOverCool-back)
	} else if a.faults.raised(CondenserWarm) {
		cond = a.phase == Distilling && !ok // a sensor that fails takes nothing back
	}
	cond = cond || jumps
	a.judge(CondenserWarm, cond, 180, 120, a.explainCondenser)
}

// lostShare is the share of solvent in what the ejector draws off, by Dalton's law: the vapour pressure of
// the condensate over the still's pressure.
func (a *Analyser) lostShare(condensateC float64) (float64, bool) {
	v, ok := a.liquid.vaporKPa(condensateC)
	if !ok || a.r.p <= 0.5 {
		return 0, false
	}
	return min(1, v/a.r.p), true
}

func (a *Analyser) explainCondenser() account {
	t, _ := a.r.get(sCondensate)
	why := "the condensate is at " + a.w.temp(t)
	text := "The condenser is too warm: the condensate leaves at " + a.w.temp(t)
	if share, ok := a.lostShare(t); ok {
		text += ", where " + num(100*share, 0) + " % of what the ejector draws off is solvent vapour"
		why += ", where its vapour pressure is " + num(100*share, 0) + " % of the still's pressure"
	}
	var s suspects
	s.add(Condenser, 0.9, why)
	s.add(SensorFailure, 0.1, "the sensor may be wrong")
	return account{text: text + ". Vapour that is not condensed is lost and blown out with the ejector's air, where it can ignite: keep what can ignite it away from there, and do not open a hot still. Look at the coolant: its flow, its temperature, and scale in the condenser. If that does not cure it, end the heating by the still's own controls.", likely: s.rank()}
}
