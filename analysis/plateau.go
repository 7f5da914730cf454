package analysis

import "math"

// boiling-point-off: the charge boils where the stated solvent does not, at the pressure that is measured.

const (
	plateauSpan   = 600  // s of plateau that are judged at once
	plateauSteady = 0.25 // of the pressure that it may change by: 5 K for every solvent, as they all take about 88 J/(mol·K) to boil (Trouton's rule)
	leastDrive    = 20   // K that the oil must be hotter than what it boils; common practice, no source
	propertyC     = 2.5  // K: vapour pressure fits, non-ideal blends of likes, solids in the charge and a sensor's error together
	vaporReadsLow = 6    // K: a thermometer in the vapour pipe of a weak boil, which loses heat to pipe and pocket; common practice, no source
	gaugeTrustKP  = 1.2  // kPa: calibration of a vacuum gauge of 1 % of its range, common practice, no source
)

// judgeBoiling compares the plateau with the range of temperatures that the stated solvent may boil at:
// from where the fresh blend begins to where its highest boiling part ends, less and more by what the
// gauge and the data may be off.
func (a *Analyser) judgeBoiling() {
	d, r := &a.run.distil, &a.r
	cond := a.faults.raised(BoilingPointOff)
	if d.boiling && !d.fading && !d.dry && a.phase == Distilling && r.t-d.boilingAt > plateauFrom && a.liquid.known {
		t, ok := r.get(sCharge)
		if !ok {
			t, ok = r.get(sVapor)
		}
		oil, okOil := r.get(sJacket)
		h := &a.run.heat
		driven := oil-t > leastDrive
		if !okOil {
			driven = !(h.slopeOK && h.slope < -0.1/60)
		}
		if !driven || a.heaterOn() == no && r.t-h.lastOn > 600 || a.faults.raised(VacuumLost) {
			d.levelN = 0 // too little heat comes to boil anything, or it boils no more since the air came in
		} else if ok && r.pOK {
			w := min(1, r.dt/(plateauSpan/3))
			if math.Abs(r.p-d.levelKPa) > plateauSteady*d.levelKPa {
				d.levelN = 0 // the charge follows in its own time
			}
			if d.levelN == 0 {
				d.levelC, d.levelKPa = t, r.p
			}
			d.levelC += w * (t - d.levelC)
			d.levelKPa += w * (r.p - d.levelKPa)
			d.levelN += r.dt
		}
		if d.levelN > plateauSpan {
			early := r.t-d.boilingAt < plateauTo // later, what is left of a dirty charge boils hotter
			cond = a.boilsElsewhere(early || cond) && (cond || a.standsStill() && !a.likeGoodRuns(d.levelC))
		}
	}
	if a.phase != Distilling {
		cond = false
	}
	a.judge(BoilingPointOff, cond, 120, 300, a.explainBoiling)
}

// boilsElsewhere reports that the plateau lies outside boilingRange; above it only if hotter counts.
func (a *Analyser) boilsElsewhere(hotter bool) bool {
	d := &a.run.distil
	if low, _ := a.boilingLow(d.levelKPa); d.levelC >= low && !hotter {
		return false // whatever the upper end, which takes longer to compute
	}
	low, high, ok := a.boilingRange(d.levelKPa)
	return ok && (d.levelC < low || d.levelC > high && hotter)
}

// standsStill reports that the charge, or the vapour where that is all, keeps its temperature over the last
// minutes, as what boils does.
func (a *Analyser) standsStill() bool {
	field := chargeC
	if !a.believed(sCharge) {
		field = vaporC
	}
	s, ok := a.course.slope(field, a.r.t-plateauSpan, a.r.t)
	return !ok || math.Abs(s) < 0.4/60
}

// boilingRange is where the stated solvent may boil at a pressure, °C.
func (a *Analyser) boilingRange(pKPa float64) (low, high float64, ok bool) {
	low, ok1 := a.boilingLow(pKPa)
	high, ok2 := a.liquid.mix.DrynessC(pKPa + a.gaugeTrust() + potAbove(pKPa))
	if !ok1 || !ok2 {
		return 0, 0, false
	}
	high += dirtHolds
	if usual, runs := a.usuallyOver(); runs > 0 { // then it is known what this pot and its pipe add
		dirt := dirtHolds
		if runs >= leastRuns {
			dirt = dirtVaries
		}
		if own, ok := a.liquid.mix.DrynessC(pKPa + a.gaugeTrust()); ok {
			high = min(high, own+usual+dirt)
		}
	}
	return low, high + a.boilingTol(), true
}

// usuallyOver is by how much the charges of good runs boiled hotter than the stated solvent does at the pressure shown,
// at the most, K, and how many runs that rests on.
func (a *Analyser) usuallyOver() (most float64, runs int) {
	d, l := &a.run.distil, &a.memory.Learned
	if !d.overSeen { // the memory does not change within a run
		d.overSeen = true
		for i, c := range l.PlateauC {
			if boil, ok := a.liquid.boilC(l.PlateauKPa[i]); ok {
				d.overK = max(d.overK, c-boil)
				d.overRuns++
			}
		}
	}
	return d.overK, d.overRuns
}

// dirtHolds is how much hotter than its solvent a dirty charge may boil, K: what is dissolved in it raises the boiling
// point the more, the less solvent is left (by up to ten kelvin in a paint sludge near its end). The charges of
// one shop differ by less. Common practice, no source.
const (
	dirtHolds  = 4.0
	dirtVaries = 1.0
)

// potAbove is how much higher than at the gauge the pressure may be where the liquid boils, kPa. At the bottom of the
// pot it stands under its own depth: 0.3 m of 850 kg/m³ are 2.5 kPa. And the vapour takes pressure on its way through
// pipe and condenser, the more, the thinner it is: for the same mass in 1/p, half of what the gauge shows at the most.
// Common practice, no source.
func potAbove(pKPa float64) float64 { return 2.5 + min(0.5*pKPa, 25/pKPa) }

// boilingLow is the lower end of boilingRange, °C.
func (a *Analyser) boilingLow(pKPa float64) (float64, bool) {
	low, ok := a.liquid.boilC(max(0.5, pKPa-a.gaugeTrust()))
	if !a.believed(sCharge) {
		low -= vaporReadsLow
	}
	return low - a.boilingTol(), ok
}

// gaugeTrust is what the gauge may be off, kPa.
func (a *Analyser) gaugeTrust() float64 { return gaugeTrustKP + 0.5*a.gaugeStep() }

// boilingTol is what the data and the thermometer may be off, K.
func (a *Analyser) boilingTol() float64 {
	tol := propertyC
	if len(a.liquid.mix.Parts) > 1 {
		tol += 2.5 // blends of unlikes depart from Raoult's law by several kelvin
	}
	return tol
}

func (a *Analyser) explainBoiling() account {
	d := &a.run.distil
	low, high, _ := a.boilingRange(d.levelKPa)
	name := a.liquid.mix.String()
	want, _ := a.liquid.boilC(d.levelKPa)
	text := "The charge boils at " + a.w.temp(d.levelC) + " and " + name + " boils at " + a.w.temp(want) + " at this pressure (" + a.w.pressure(d.levelKPa, a.around()) + "). "
	why := "the plateau is " + a.w.warmth(math.Abs(d.levelC-want)) + " too cool for " + name + ": something lighter, or water with it"
	wet, okWet := a.liquid.mix.WetBoilingC(d.levelKPa)
	switch {
	case d.levelC < low && okWet && math.Abs(d.levelC-wet) < propertyC+3:
		why = "it boils where " + name + " boils with water in the pot (" + a.w.temp(wet) + ")"
		text += "That is where it boils with water in it. "
	case d.levelC > high:
		why = "the plateau is " + a.w.warmth(math.Abs(d.levelC-want)) + " too hot for " + name + ": something heavier"
	}
	var s suspects
	s.add(WrongSolvent, 0.7, why)
	if off := a.w.pressureDiff(a.gaugeWouldBeOff(d.levelC, d.levelKPa)); a.gaugeExplainsBoth(a.run.vac.held) {
		s.add(Gauge, 0.5, "if the vacuum gauge shows "+off+" too much, the boiling point is right, and so is the vacuum, which seems to end short of its target")
		text += "Either the drum and the vacuum are both wrong, or only the gauge is: compare it with another one. "
	} else {
		s.add(Gauge, 0.18, "a vacuum gauge that is off would move the boiling point, too; it would have to be off by "+off)
	}
	s.add(SensorFailure, 0.12, "the temperature sensor may be off")
	if t, ok := a.r.get(sVapor); ok && a.r.ok[sCharge] && math.Abs(t-d.levelC) < 4 {
		s[2].Weight, s[2].Because = 0.02, "the vapour is as warm as the charge, so the temperatures are right"
	}
	likely := s.rank()
	return account{text: text + "Make sure what was in the drum before going on: residue, set point and hazards may not be those of the recipe.", likely: likely}
}

// gaugeWouldBeOff is by how much the gauge would have to be wrong to explain a boiling temperature, kPa.
func (a *Analyser) gaugeWouldBeOff(tC, pKPa float64) float64 {
	v, ok := a.liquid.vaporKPa(tC)
	if !ok {
		return 0
	}
	return math.Abs(v - pKPa)
}
