package analysis

import "math"

// coldStartC is an oil temperature at the start of a run up to which the charge is taken to be as cold as
// the room: above it, the pot is still hot from the run before (common practice, no source).
const coldStartC = 32

func (a *Analyser) coldStart() bool {
	c := a.run.heat.startC
	return math.IsNaN(c) || c < coldStartC
}

// warmVapor is the share of the surroundings above which the vapour of a warm charge blurs a pump-down too
// much to learn from it.
const warmVapor = 0.12

// dryShare: the vapour of the charge is left out of account while the pressure is this many times what it
// can hold.
const dryShare = 1.5

// airOnly reports that the present pressure is air, and not yet the charge's own vapour, so that it belongs
// into the fit of the pump-down.
func (a *Analyser) airOnly() bool {
	floor, ok := a.floorKPa()
	return !ok || a.r.p > dryShare*floor
}

// chargeHoldsUp reports that an end pressure may be the vapour of the charge, so that it says nothing about
// how tight the still is. Where the solvent is known, its vapour is kept out of the fit; a pressure that was
// only seen, not fitted, may still be vapour.
func (a *Analyser) chargeHoldsUp(end float64, fitted bool) bool {
	_, learned := a.median(a.memory.Learned.EndKPa, leastRuns)
	switch {
	case a.liquid.known && fitted:
		return false
	case a.coldStart() && learned:
		return false // the good runs had the same vapour, and it cancels
	case a.liquid.known:
		return end < 1.1*a.run.vac.floorKPa+1
	}
	return end < unknownFloor || !a.coldStart()
}

// chargeVapor is what the vapour of the charge probably makes now, kPa absolute. Without a thermometer in it
// the charge is taken to be as warm as the oil was before the heat; an unknown solvent, to be volatile.
func (a *Analyser) chargeVapor() float64 {
	c, ok := a.r.get(sCharge)
	if !ok {
		c = a.run.vac.floorK
		if start := a.run.heat.startC; !math.IsNaN(start) {
			c = min(c, start)
		}
	}
	if p, ok := a.liquid.vaporKPa(c); ok {
		return p
	}
	return unknownFloor * math.Exp(0.045*(c-25)) // acetone's slope near 25 °C, see unknownFloor
}

// learnVacuum takes the pump-down of a good run.
func (a *Analyser) learnVacuum(s *Summary) {
	l, v := &a.memory.Learned, &a.run.vac
	if s.Vacuum == nil || !v.reached || !v.certain {
		return
	}
	if start := a.run.heat.startC; !math.IsNaN(start) {
		l.ReachedC = keep(l.ReachedC, round(start))
	}
	if v.pace.half && (v.floorKPa == 0 || dryShare*v.floorKPa < paceTo*v.p0) {
		l.PaceS = keep(l.PaceS, round(v.pace.halfS))
	}
	tau, ok := a.tauS()
	if !ok || !a.coldStart() && (!a.liquid.known || v.floorKPa > warmVapor*v.p0) {
		return
	}
	l.TauS = keep(l.TauS, round(tau))
	end, sd, fitted, ok := a.endKPa()
	if _, wears := a.wearTrend(); ok && fitted && !wears && sd < 1.5 {
		l.EndKPa = keepTight(l.EndKPa, round(end))
	}
}

// tightKPa is the end pressure of the tight still.
func (a *Analyser) tightKPa() float64 {
	p, _, _ := a.tight()
	return p
}

// tight is tightKPa with its standard deviation and the number of good runs it rests on; 0 for a stand-in.
//
// What is known before any run: single-stage ejectors end at 3 to 12 % of the surroundings, and a still that
// was bought for its target reaches it with a third or more to spare (both common practice, no source). The
// first good runs come in beside that with the weight they deserve, for one of them alone may have leaked a
// little; from leastRuns on they stand for themselves.
func (a *Analyser) tight() (kPa, sd float64, runs int) {
	known := a.memory.Learned.EndKPa
	if mid, sd, ok := a.usual(known, leastRuns, 0.02); ok {
		return mid, max(sd, 0.25), len(known)
	}
	var e estimate
	e.add(ejectorShare*a.r.atm, ejectorShareSD*a.r.atm)
	if target, stated := a.targetKPa(); stated {
		e.add(spareShare*target, spareShareSD*target)
	}
	if len(known) > 0 {
		mid, _ := a.median(known, 1)
		e.add(mid, max(0.5, fewRunsShare*mid))
	}
	kPa, sd = e.value()
	return kPa, sd, 0
}

// The stand-ins for the end pressure of the tight still, as shares of the surroundings, of the target, and of
// what the first one or two good runs showed.
const (
	ejectorShare, ejectorShareSD = 0.075, 0.026
	spareShare, spareShareSD     = 0.6, 0.25
	fewRunsShare                 = 0.1
)

// estimate is the mean of independent opinions of one figure, each weighed by its certainty (GUM, the mean
// with weights in inverse proportion to the variances).
type estimate struct{ sum, weight float64 }

func (e *estimate) add(x, sd float64) {
	w := 1 / (sd * sd)
	e.sum += w * x
	e.weight += w
}

func (e *estimate) value() (x, sd float64) { return e.sum / e.weight, 1 / math.Sqrt(e.weight) }
