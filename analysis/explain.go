package analysis

import (
	"math"
	"strings"

	"luted/analysis/physics"
)

// This file holds what the faults tell people: the sentence that says what is wrong, what to do first,
// and the causes with their evidence. The weights are judgement, made explicit: prior × evidence
// (common practice, no source).

// airEvidence says what the compressed air tells: its factor for a cause in the air supply, and the sentence.
func (a *Analyser) airEvidence() (factor float64, because string) {
	air, ok := a.r.get(sAir)
	least := a.still.Air.MinimumKPa
	switch {
	case a.r.off(sAirOn):
		return 6, "the air to the ejector is switched off"
	case !ok:
		return 1, "the air supply is not measured on this still, so weak air cannot be ruled out"
	case least > 0 && air < least:
		return 12, "the air supply is at " + a.w.air(air) + ", below the " + a.w.air(least) + " it needs"
	case least > 0 && air < 1.05*least:
		return 0.6, "the air supply is only just at its minimum (" + a.w.air(air) + ")"
	case least > 0:
		return 0.05, "the air supply is good (" + a.w.air(air) + ")"
	case air < 200: // kPa: ejectors want 4 to 6 bar; common practice, no source
		return 6, "the air supply is only " + a.w.air(air)
	}
	return 0.3, "the air supply reads " + a.w.air(air)
}

// speedEvidence compares how fast the still empties with its good runs: a leak does not change the time constant and
// takes little while the pressure is high, weak air and a worn ejector make it longer from the first.
func (a *Analyser) speedEvidence() (leak, pump float64, because string) {
	v := &a.run.vac
	switch way := &v.way.told; {
	case way.weak:
		return 0.15, 3, "it has emptied " + num(1/way.speed, 1) + " times slower than in its good runs all along, as with a weak ejector"
	case way.leak:
		return 1.2, 0.6, "it began to empty as in its good runs and falls behind the more the lower the pressure, as with a leak"
	}
	mid, sd, ok := a.usual(a.memory.Learned.TauS, leastRuns, 0.05)
	plain, hole, known := v.present()
	if !ok || !known || plain.TauSDS() > 0.4*plain.TauS || plain.EndKPa/v.p0 > notPulledShare {
		return 1, 1, ""
	}
	tau := plain.TauS
	if hole != nil && plain.EndKPa/v.p0 > physics.CriticalRatio {
		tau = hole.TauS
	}
	unsure := 2 * math.Hypot(plain.TauSDS(), sd)
	if !v.over {
		unsure = math.Hypot(unsure, 2*a.sway(plain)*tau)
	}
	switch ratio := tau / mid; {
	case tau-unsure > 1.1*mid:
		return 0.15, 3, "it empties " + num(ratio, 1) + " times slower than in its good runs, as with a weak ejector"
	case tau+unsure < 1.25*mid:
		return 1.6, 0.3, "it empties as fast as ever and only ends too high, as with a leak"
	}
	return 1, 1, ""
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	if b == "" {
		return a
	}
	return a + "; " + b
}

// openWords are the places where air may come in.
func (a *Analyser) openWords() string {
	if a.r.on(sLid) {
		return "drain valve or lid gasket: the pressure alone cannot tell them apart; the lid's switch says that it is shut"
	}
	return "lid gasket, lever or drain valve: the pressure alone cannot tell them apart"
}

func (a *Analyser) explainNotPulled() account {
	v, r := &a.run.vac, &a.r
	var s suspects
	air, airWhy := a.airEvidence()
	off := r.off(sAirOn) && !v.moved
	if off { // whatever a gauge before the valve shows
		air, airWhy = 20, "the air to the ejector is off: its switch or valve says so"
	}
	s.add(OpenToAir, 0.7, "the pressure stays at "+a.w.pressure(v.smooth, a.around())+", as with an opening to the air ("+a.openWords()+")")
	if r.off(sLid) {
		s[0].Weight *= 8
		s[0].Because = "the lid switch says that the lid is not closed"
	}
	s.add(AirSupply, 0.14*air, airWhy)
	s.add(Ejector, 0.08, "an ejector that is blocked or does not start pulls nothing either")
	if r.ok[sAir] && air < 1 {
		s[2].Weight *= 1.5
	}
	gauge := 0.04
	if a.gaugeFrozen() {
		gauge = 0.3
	}
	if i := a.in.pressureChannel(); i >= 0 && a.sensors.ch[i].same >= frozenSuspect && a.mustScatter(&a.sensors.ch[i], &a.still.Channels[i]) {
		gauge = 3
	}
	s.add(Gauge, gauge, "the gauge may be shut off or stuck: it has not moved since the run began")
	likely := s.rank()
	text := "No vacuum: " + span(r.t-pick(off, a.run.start, v.calledAt)) + " into the run the still is at " + a.w.pressure(v.smooth, a.around()) + ". "
	if off {
		text += "The air to the ejector is off. "
	}
	if !a.in.fitted(sAirOn) && !v.certain {
		text += "See first that the air to the ejector is on: nothing shows it here"
		if a.still.Air.Opens == WithRun {
			text += ", but the configuration says that it opens with the run"
		}
		text += ". "
	}
	return account{text: text + a.adviceFor(likely), likely: likely}
}

// frozenSuspect is how many equal readings in a row make a gauge that always scatters suspect.
const frozenSuspect = 12

// gaugeFrozen reports that the pressure gauge has shown the same value to the last digit all along,
// although it used to scatter.
func (a *Analyser) gaugeFrozen() bool {
	i := a.in.pressureChannel()
	if i < 0 || i >= len(a.sensors.ch) {
		return false
	}
	c := &a.sensors.ch[i]
	return a.r.t-c.changedAt > max(20, 5*c.longest) && a.gaugeStep() < 0.3
}

// adviceFor says what to look at first.
func (a *Analyser) adviceFor(l []Likely) string {
	if len(l) == 0 {
		return ""
	}
	switch l[0].Cause {
	case OpenToAir:
		look := "the lid gasket, the lever and the drain valve."
		if a.r.on(sLid) {
			look = "the drain valve, then the gasket; the lid's switch says that it is shut."
		}
		if a.chargeHot() {
			return "It is hot: do not open it. End the heating by the still's own controls, let it cool by the maker's manual, then look at " + look
		}
		return "Stop the run before it gets hot and look at " + strings.TrimSuffix(look, ".") + ". Once it is hot, do not open it." // the words may stand for hours
	case AirSupply:
		return a.hotWords() + "Look at the compressed air first: the valve, the regulator and what else draws from the line."
	case Ejector:
		return a.hotWords() + "Look at the ejector: nozzle and silencer."
	case Gauge:
		return "Compare the gauge with another one before touching the still."
	case ChargeVapor:
		return "The charge itself may be holding the pressure; see whether it falls when the condenser is cold."
	case Condenser:
		return "Look at the condenser's cooling."
	case Element:
		return "Have the heating elements and their contactor measured by a qualified person."
	case SupplyPhase:
		return "Have fuses and supply phases checked by a qualified person."
	case Thermostat:
		return "Look at the thermostat setting and the high-limit, which may have tripped; find out why before resetting it."
	case ThermalOil:
		return "Look at the thermal oil: level and condition."
	case SmallCharge:
		return "Compare the charge with the usual one."
	case WrongSolvent:
		return "Make sure what was in the drum."
	case SensorFailure:
		return "Compare the sensor with another one."
	}
	return ""
}

// hotWords warn whoever comes to a hot still.
func (a *Analyser) hotWords() string {
	if a.chargeHot() {
		return "It is hot: do not open it. "
	}
	return ""
}

// hotAfter is how long oil must have heated a charge that nobody measures for it to be hot, s. In a pot that is warm
// from the run before, a charge just poured is cold. Common practice, no source.
const hotAfter = 900

// chargeHot reports that the pot holds something hot: whoever is told of an opening must not look into it.
func (a *Analyser) chargeHot() bool {
	if charge, ok := a.r.get(sCharge); ok {
		return charge > coldC
	}
	oil, ok := a.r.get(a.in.warm)
	return ok && oil > coldC && a.r.t-a.run.start > hotAfter
}

func (a *Analyser) explainShort() account {
	v := &a.run.vac
	target, _ := a.targetKPa()
	end, text := a.shortOf(target)
	air, airWhy := a.airEvidence()
	leak, pump, speedWhy := a.speedEvidence()
	var s suspects
	s.add(OpenToAir, 0.62*leak, join("air comes in as fast as the ejector can take it out at "+a.w.pressure(end, a.around())+" ("+a.openWords()+")", speedWhy))
	s.add(AirSupply, 0.18*air*max(0.4, pump), join(airWhy, speedWhy))
	s.add(Ejector, 0.1*pump, "a worn or fouled ejector ends too high as well")
	if !a.liquid.known {
		s.add(ChargeVapor, 0.25, "the solvent is not stated, so its own vapour pressure may be what holds the pressure up")
	} else if floor, ok := a.floorKPa(); ok && floor > 0.25*end {
		vapor := 0.4
		if a.boilsLower(end) {
			vapor *= 0.2 // the charges of its good runs held up less
		}
		if v.way.told.weak {
			vapor *= 0.3 // it would hold the pressure up at the end of the way only
		}
		s.add(ChargeVapor, vapor*min(1, floor/end), "the vapour of the charge accounts for up to "+a.w.pressureDiff(min(floor, end))+" of it")
	}
	s.add(a.gaugeEvidence(end))
	likely := s.rank()
	text += ", and " + a.needs(target) + ". "
	if q, mm, ok := a.leak(); ok && likely[0].Cause == OpenToAir {
		text += "If it is a leak it passes " + num(q, 0) + " mbar·L/s, as a " + num(mm, 1) + " mm hole would. "
	}
	return account{text: text + a.adviceFor(likely), likely: likely}
}

// gaugeEvidence is what speaks for the gauge where the vacuum seems to end at a pressure, kPa absolute, short of its
// target: what it shows too much while the still is open, and what the charge boils at.
func (a *Analyser) gaugeEvidence(endKPa float64) (c Cause, weight float64, because string) {
	target, _ := a.targetKPa()
	v, d := &a.run.vac, &a.run.distil
	if v.zeroOff && endKPa-v.zero < target {
		return Gauge, 4, "the gauge shows " + a.w.pressureDiff(v.zero) + " too much while the still is open to the air, and no more than that is missing"
	}
	if by, off, _ := a.boilingShowsGauge(); off && endKPa-by < target {
		return Gauge, 4, "the charge boils as warm as in its good runs, and so under the same pressure: the gauge shows " + a.w.pressureDiff(by) + " too much, and no more than that is missing"
	}
	if a.gaugeExplainsBoth(endKPa) {
		return Gauge, 1.2, "the charge boils as it does at " + a.w.pressure(d.levelKPa-a.gaugeWouldBeOff(d.levelC, d.levelKPa), a.around()) +
			": if the gauge shows " + a.w.pressureDiff(a.gaugeWouldBeOff(d.levelC, d.levelKPa)) + " too much, that and the vacuum are as they should be"
	}
	return Gauge, 0.04, "a gauge that shows too little vacuum shows the same"
}

// gaugeExplainsBoth reports that one error of the gauge explains both why the charge boils too cool and why the vacuum
// seems to end short of its target, at a pressure in kPa absolute.
func (a *Analyser) gaugeExplainsBoth(endKPa float64) bool {
	d := &a.run.distil
	target, stated := a.targetKPa()
	low, known := a.boilingLow(d.levelKPa)
	return stated && d.levelN > plateauSpan && known && d.levelC < low && endKPa > target &&
		endKPa-a.gaugeWouldBeOff(d.levelC, d.levelKPa) < target
}

// shortOf is the pressure that a vacuum short of its target comes to, kPa absolute, and the sentence that says so.
func (a *Analyser) shortOf(target float64) (end float64, text string) {
	v := &a.run.vac
	deadline := v.calledAt + a.withinS()
	plain, _, known := v.present()
	weak := v.way.told.weak
	switch {
	case v.over || a.r.t > deadline:
		return v.smooth, "The vacuum has levelled off at " + a.w.pressure(v.smooth, a.around())
	case v.way.endKPa > 0 && (!known || plain.EndKPa-1.645*a.soonSD() < target):
		end = v.way.endKPa
	case weak || known && plain.EndKPa < target:
		late := plain.At(deadline)
		if weak {
			late = a.weakAt(deadline)
		}
		return late, "The vacuum will not be reached in time: it is on its way to " + a.w.pressure(late, a.around()) + " by the end of the " + span(a.withinS()) + " it may take"
	case known:
		end = max(0, plain.EndKPa)
	default:
		end = v.smooth
	}
	return end, "The vacuum will not be reached: it is heading for " + a.w.pressure(end, a.around())
}

func (a *Analyser) explainLost() account {
	v, r := &a.run.vac, &a.r
	var s suspects
	air, airWhy := a.airEvidence()
	airIn, vaporIn, boilWhy := a.boilingEvidence()
	s.add(OpenToAir, 0.55*airIn, join("the vacuum was there and air has come in ("+a.openWords()+")", spoken(airIn > 1, boilWhy)))
	s.add(AirSupply, 0.25*air, airWhy)
	s.add(Ejector, 0.07, "the ejector may have stopped or frozen up")
	if a.run.distil.boiling || !a.in.fitted(sCondensate) && a.run.heat.max > 70 {
		w, why := 0.1, "vapour that is not condensed raises the pressure too"
		if c, ok := r.get(sCondensate); ok {
			if c > 45 { // °C; common practice, no source
				w, why = 0.6, "the condensate is warm ("+a.w.temp(c)+"): vapour is not being condensed"
			} else {
				w, why = 0.02, "the condensate is cool ("+a.w.temp(c)+")"
			}
		}
		s.add(Condenser, max(w, 0.05)*vaporIn, join(why, spoken(vaporIn > 1, boilWhy)))
	}
	s.add(Gauge, 0.03, "a gauge that fails shows the same")
	likely := s.rank()
	return account{text: "The vacuum has gone from " + a.w.pressure(v.held, a.around()) + " to " + a.w.pressure(v.smooth, a.around()) +
		" while the still is hot. The charge now boils hotter or not at all. " + a.adviceFor(likely), likely: likely}
}

// boilingEvidence tells air that has come in from vapour that is not condensed: a charge that boils gets warmer
// with its own vapour's pressure, along its boiling line and at once; air goes on top of it, and then the charge is
// colder than it would boil at, until it has been heated that far. The factors are for air and for vapour.
func (a *Analyser) boilingEvidence() (air, vapor float64, because string) {
	v := &a.run.vac
	kPa := v.smooth
	t, fitted := a.r.get(sCharge)
	if !fitted {
		t, fitted = a.r.get(sVapor)
	}
	if field, ok := a.potThermometer(); ok && v.someAt > 0 { // it has had time to be heated that far since it rose
		c := &a.course
		for i := c.after(v.someAt); i < len(c.spots); i++ {
			if p := c.spots[i].v[pressKPa]; p > v.held+0.7*(v.smooth-v.held) {
				kPa, t, fitted = p, c.spots[i].v[field], !math.IsNaN(c.spots[i].v[field])
				break
			}
		}
	}
	boil, ok := a.liquid.boilC(kPa)
	before, ok2 := a.liquid.boilC(v.held)
	if !ok || !ok2 || !fitted || !a.run.distil.boiling || a.run.distil.dry || boil < before+6 {
		return 1, 1, ""
	}
	switch {
	case t > boil-3 && t < boil+8:
		return 0.15, 12, "the charge has warmed with the pressure, along its boiling line: what fills the still is its own vapour"
	case t < boil-(boil-before)/2-2:
		return 1.5, 0.3, "the charge was " + a.w.warmth(boil-t) + " colder than it boils at the " + a.w.pressure(kPa, a.around()) + " that the pressure rose to"
	}
	return 1, 1, ""
}

// spoken is s if it speaks for the cause.
func spoken(speaks bool, s string) string {
	if speaks {
		return s
	}
	return ""
}

func (a *Analyser) explainAir() account {
	air, _ := a.r.get(sAir)
	return account{
		text: "The compressed air is at " + a.w.air(air) + " and the ejector needs " + a.w.air(a.still.Air.MinimumKPa) +
			". The vacuum will be weak. Look at the valve, the regulator and what else draws from the line.",
		likely: []Likely{{Cause: AirSupply, Weight: 1, Because: "the air supply is measured at " + a.w.air(air)}},
	}
}

func (a *Analyser) explainStalled() account {
	h, r := &a.run.heat, &a.r
	oil, _ := r.get(sJacket)
	set := a.still.Recipe.JacketC
	var s suspects
	kw, hasKW := r.get(sPower)
	rated := a.still.Heater.RatedKW
	level, low := h.switching.level(r.t)
	low = low && a.wellBelow(level)
	switch {
	case low:
		s.add(Thermostat, 0.9, "the heater has been stopped again and again at about "+a.w.temp(level)+", "+a.w.warmth(set-level)+" below the set point, as by a thermostat that is set too low or reads too high")
		s.add(SensorFailure, 0.08, "the thermostat's sensor may sit warmer than the one that is recorded")
	case a.heaterOn() == no:
		why := "the heater has been off for " + span(r.t-h.lastOn)
		if h.switching.called == yes {
			why = "heat is called for and no power has come for " + span(r.t-h.lastOn)
		}
		s.add(Thermostat, 0.55, why+" although the oil is "+a.w.warmth(set-oil)+" below its set point, as after a high-limit trip or with the thermostat turned down")
		s.add(SupplyPhase, 0.2, "a breaker that has tripped, a blown fuse or an open contactor switches it off as well")
		s.add(Element, 0.15, "elements that have failed draw nothing")
	case hasKW && rated > 0 && kw < 0.75*rated:
		s.add(SupplyPhase, 0.45, "the heater draws "+num(kw, 1)+" kW of its "+num(rated, 1)+" kW")
		s.add(Element, 0.45, "part of the elements may have failed: "+num(kw, 1)+" kW of "+num(rated, 1)+" kW")
	case hasKW:
		s.add(ThermalOil, 0.35, "the heater draws its power and the oil does not get warmer: low oil, or heat going elsewhere")
		s.add(SensorFailure, 0.35, "the heater draws its power, so the temperature reading itself may be wrong")
		s.add(Element, 0.1, "an element may heat where the sensor does not see it")
	default:
		s.add(Thermostat, 0.45, "the oil cools or stands as without any heat: the high-limit may have tripped or the thermostat may be set too low; nothing here measures it")
		s.add(SupplyPhase, 0.25, "a breaker that has tripped, a blown fuse or a lost supply phase stops the heating as well")
		s.add(Element, 0.2, "elements may have failed; the heater's power is not measured on this still")
	}
	s.add(SensorFailure, 0.06, "the sensor may have come out of its pocket")
	likely := s.rank()
	text := "Heating has stalled: the oil is at " + a.w.temp(oil) + ", " + a.w.warmth(set-oil) + " below its set point, and changes by " + a.w.perMin(h.slope) + ". "
	return account{text: text + a.adviceFor(likely), likely: likely}
}

func (a *Analyser) explainOver() account {
	oil, _ := a.r.get(sJacket)
	set, limit := a.still.Recipe.JacketC, a.still.OilLimitC
	text := "The oil is at " + a.w.temp(oil)
	switch {
	case limit > 0 && oil > limit-2:
		text += ", at or above the limit of " + a.w.temp(limit) + " set for it. "
	case set > 0 && oil > set+overMargin(set)-2:
		text += ", " + a.w.warmth(oil-set) + " above its set point of " + a.w.temp(set) + ". "
	default:
		text += " and still rising although the heater is off. "
	}
	var s suspects
	if a.heaterOn() == yes {
		s.add(Thermostat, 0.75, "the heater is still on above the set point: a welded contactor or a failed thermostat")
		s.add(SensorFailure, 0.15, "the temperature reading may be wrong")
	} else {
		s.add(Thermostat, 0.6, "the thermostat or its contactor does not hold the set point")
		s.add(SensorFailure, 0.3, "the temperature reading may be wrong")
	}
	return account{text: text + "Cut the heating by the still's own controls and follow its manual; do not open a hot still.", likely: s.rank()}
}
