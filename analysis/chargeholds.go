package analysis

import (
	"math"
	"slices"
)

// What the charge can hold up: a solvent keeps the pressure of its still at its own vapour pressure for as long as it
// steams. A pump-down that ends there is no leak.

// airEndsShort reports that the air alone, with the vapour of the charge left out, ends above the target
// beyond doubt.
func (a *Analyser) airEndsShort(target float64) bool {
	v := &a.run.vac
	if !a.liquid.known || !v.decayOK || !v.holeOK {
		return false
	}
	_, sd, fitted, _ := a.endKPa()
	floor, _ := a.floorKPa()
	least := target + vaporShare*floor
	return fitted && floor < 0.5*v.decay.EndKPa && v.decay.EndKPa-1.645*sd > least && v.hole.EndKPa > least
}

// vaporShare of what the charge can hold still shows in a fit that leaves its vapour out: some of it gets
// past the condenser at any pressure. Own experience with simulated stills, no source.
const vaporShare = 0.3

// chargeHolds reports that a pressure above the target is no higher than what the solvent's own vapour
// can hold, together with the little air of a tight still: then it is not a leak. slack is the
// uncertainty of p, kPa. A fitted pressure has the vapour left out already.
func (a *Analyser) chargeHolds(p, slack float64, fitted bool) bool {
	if a.warmsUnboiled() || a.boilsLower(p-slack) {
		return false
	}
	if target, _ := a.targetKPa(); !a.coldStart() && a.neverHeld() {
		more := heldBefore
		if a.r.t > a.run.vac.calledAt+2*a.withinS() {
			more = heldLong
		}
		if p-slack > more*target {
			return false
		}
	}
	if floor, ok := a.floorKPa(); ok {
		if fitted {
			least := floor
			if target, _ := a.targetKPa(); !a.coldStart() && !a.chargeTold() { // a warm charge steams all through the pump-down
				least += target
			}
			return p-slack <= least
		}
		return p-slack <= 1.2*floor+a.tightKPa() // a charge that flashes is warmer inside than its thermometer shows
	}
	if usual, ok := a.median(a.memory.Learned.EndKPa, 2); ok && a.coldStart() { // this still's own charges, whatever they are
		return p-slack <= 1.5*usual+2
	}
	return p-slack <= unknownFloor
}

// chargeTold reports that a thermometer in the charge says how warm it is, whatever the pot was when it was poured in.
func (a *Analyser) chargeTold() bool {
	_, ok := a.r.get(sCharge)
	return ok && a.liquid.known
}

// warmsUnboiled reports that the charge has got warmer since the pump-down came to its end, at a pressure that did not
// rise with it: what holds a pressure by its vapour boils, and boils at one temperature.
func (a *Analyser) warmsUnboiled() bool {
	v := &a.run.vac
	c, ok := a.r.get(sCharge)
	return ok && v.over && v.hasOverC && !a.run.distil.boiling && c > v.overC+unboiledK && v.smooth < 1.05*v.held+0.5*a.gaugeStep()
}

// unboiledK is by how much more than any blend's boiling drifts in the first of its boiling, K; common practice, no source.
const unboiledK = 10

// boilsLower reports that the pressure p, kPa absolute, stands, long (twice the time allowed) after the pump-down should
// have ended, above what the good runs of this still kept while their charges boiled, by the wear record or, while this one
// boils, by their plateaus; or, where nothing shows the boiling, twice as long after it, above twice what they came to.
func (a *Analyser) boilsLower(p float64) bool {
	l, late := &a.memory.Learned, (a.r.t-a.run.vac.calledAt)/a.withinS()
	most := func(record []WearPoint) float64 {
		if len(record) < 2 {
			return math.Inf(1)
		}
		kPa := 0.0
		for i := range record {
			kPa = max(kPa, record[i].EndKPa)
		}
		return kPa
	}
	if len(l.PlateauKPa) >= leastRuns && a.run.distil.boiling && late > 2 && p > boilsHigher*slices.Max(l.PlateauKPa) {
		return true
	}
	return late > 2 && p > boilsHigher*most(l.WearKept) || late > 4 && p > standsHigher*most(l.WearLow)
}

// boilsHigher than another may one charge of a still keep its pressure while it boils, times; and standsHigher than the lowest
// that any came to, which may have been dry by then. Common practice, no source.
const boilsHigher, standsHigher = 1.5, 2

// heldBefore is how much higher than the target, as a share, a hot charge may hold the pressure for a while although
// those before it did not: no two charges boil alike. And heldLong after twice the time that it may take. Common
// practice, no source.
const heldBefore, heldLong = 1.15, 1.05

// neverHeld reports that good runs of this still that began as warm as this one came to the target: what charges can
// hold here does not keep it from there.
func (a *Analyser) neverHeld() bool {
	start, n := a.run.heat.startC, 0
	for _, c := range a.memory.Learned.ReachedC {
		if c > start-asWarm {
			n++
		}
	}
	return n >= leastRuns
}

// asWarm is how much colder a pot may have been to have warmed its charge as much, K; common practice, no source.
const asWarm = 5

// unknownFloor is what an unknown solvent may hold when it is poured: as much as acetone at 25 °C, kPa
// (30.8 kPa by the coefficients of Perry's Chemical Engineers' Handbook, 8th ed., table 2-8).
const unknownFloor = 31

// floorKPa is the highest pressure that the vapour of the charge can hold now, kPa absolute.
func (a *Analyser) floorKPa() (float64, bool) {
	c := a.run.vac.floorK
	if t, ok := a.r.get(sCharge); ok {
		c = t + 2
	}
	return a.liquid.vaporKPa(c)
}
