package analysis

import (
	"math"

	"luted/analysis/physics"
)

// outlook is the forecast that the alarm of a vacuum that will end short goes by.
//
// Every reading counts, so it is the earliest-begun of the fits whose readings lie on its curve as closely as
// the gauge scatters at rest: while the ejector comes up, smoothly or in steps, they do not, and a fit that
// begins later takes its place.
type outlook struct {
	plain, hole physics.Decay
	since       float64 // when the fits begin, s
	ok          bool
}

const (
	// roughShare of the fall so far is how far off the curve readings may lie, beyond the scatter of the gauge,
	// that are on it: no ejector follows the textbook better. Own experience with simulated stills, no source.
	roughShare = 0.002

	// roughFor times as long as what was left out as rough, a fit must lie on its curve.
	roughFor = 2

	// swayShare is how much the pumping speed comes and goes with the compressed air, within a minute or so
	// (common practice, no source). Over a time T that looks like a rate wrong by swayShare/T, however quiet
	// the gauge.
	swayShare = 0.03

	// bendsShare of the way still to go is missed because ejector curves bend and charges steam. Own
	// experience with simulated stills, no source.
	bendsShare = 0.06
	newBends   = 0.25 // of a still whose ejector has not been seen in a good run, if it is weak and does not leak
)

// lookOut renews the outlook.
func (a *Analyser) lookOut() {
	v, r := &a.run.vac, &a.r
	o := &v.soon
	o.ok = false
	for i, delay := range fitDelays {
		since := v.movedAt + delay
		if r.t-since < max(max(8, 4*a.poll.dt), roughFor*delay) {
			return // of a curve that was rough so far, a short piece looks smooth
		}
		plain, err := v.plain[i].Decay()
		if err == physics.ErrTooFew {
			return
		}
		if plain.RoughKPa > roughShare*(v.p0-v.smooth) && i+1 < len(fitDelays) {
			continue
		}
		hole, holeErr := v.leaking[i].Decay()
		if err == nil && holeErr == nil && plain.AmplitudeKPa > 0 && hole.AmplitudeKPa > 0 {
			*o = outlook{plain, hole, since, true}
		}
		return
	}
}

// present is the curve to speak of now: the outlook while the pump-down lasts, then the fit of all of it. hole
// is nil if that form is not known.
func (v *vacuum) present() (plain, hole *physics.Decay, ok bool) {
	if v.soon.ok && !v.over {
		return &v.soon.plain, &v.soon.hole, true
	}
	if v.holeOK {
		hole = &v.hole
	}
	return &v.decay, hole, v.decayOK
}

// modelSD is what the end of a forecast may be off beyond the noise of the gauge, kPa.
func (a *Analyser) modelSD(d *physics.Decay) float64 {
	v := &a.run.vac
	bends := bendsShare
	if len(a.memory.Learned.TauS) == 0 && d == &v.soon.plain {
		bends = newBends
	}
	return max(0.3, math.Hypot(bends, a.sway(d))*max(0, v.smooth-d.EndKPa))
}

// sway is the share by which the rate of a curve may be wrong because the pumping speed was not steady.
func (a *Analyser) sway(d *physics.Decay) float64 {
	return swayShare * d.TauS / max(1, a.r.t-a.run.vac.soon.since)
}

// soonSD is the standard deviation of the end in the outlook, kPa.
func (a *Analyser) soonSD() float64 {
	d := &a.run.vac.soon.plain
	return math.Hypot(d.EndSDKPa()*a.stepBlur(), a.modelSD(d))
}

// stepBlur widens the fits of a gauge whose steps are larger than its noise: what rounding takes off is then no
// chance, but comes back every few readings, in step with the fall. Own experience with simulated gauges, no
// source.
func (a *Analyser) stepBlur() float64 {
	if a.gaugeStep() > 2*a.idle.gauge.sd(0.04) {
		return 1.5
	}
	return 1
}

// chance of reaching the target by the deadline, 0..1: the better one of the two forms, for what neither a leak
// nor a weak ejector lets come about will not come about. Both lean on the ejector's usual rate: unless the way of the
// good runs shows a leak, they do not know about one that is weak, and the way tells.
func (a *Analyser) chance() float64 {
	v := &a.run.vac
	o, way := &v.soon, &v.way.told
	if !o.ok || way.begins {
		return 1
	}
	target, _ := a.targetKPa()
	slow, ok := a.weakChance(target, v.calledAt+a.withinS())
	if ok && way.weak {
		return slow
	}
	forms := max(a.chanceOf(&o.plain), a.chanceOf(&o.hole))
	if ok {
		return max(forms, slow)
	}
	return forms
}

func (a *Analyser) chanceOf(d *physics.Decay) float64 {
	v := &a.run.vac
	target, _ := a.targetKPa()
	deadline := v.calledAt + a.withinS()
	sd := math.Hypot(d.AtSD(deadline)*a.stepBlur(), math.Hypot(a.modelSD(d), 0.5*a.gaugeStep()))
	return 0.5 * math.Erfc((d.At(deadline)-target)/(sd*math.Sqrt2))
}

// secondStageLikely reports that a still whose good runs are not yet known empties so much faster than the time
// allowed for it needs that a slower stage may be yet to take over, or is taking over: above half an atmosphere the
// first of two stages falls like a leak that ends where the second begins. From near its end it is a leak. A stage is
// taken to hand over at about half the surroundings, K, and to pump half to one and a half times what the other one does: both
// together then seem to end between a fifth and a third of the surroundings, (S1 b + S2 K)/(S1 + S2) with the pressure b that
// the first holds alone. An end there is doubted sooner. Common practice, no source.
func (a *Analyser) secondStageLikely() bool {
	v := &a.run.vac
	d := &v.soon.plain
	if perS, _ := a.usualRate(); len(a.memory.Learned.TauS) == 0 && perS > 0 && d.EndKPa < 0.5*v.p0 {
		share := fastShare
		if d.EndKPa < stageEnds*v.p0 {
			share = fastDeep
		}
		v.staged = v.staged || (d.TauS+2*d.TauSDS())*perS < share
	}
	return v.staged && v.smooth > nearEnd*d.EndKPa
}

const (
	fastShare = 0.65 // of the time constant that the time allowed leaves
	fastDeep  = 0.88 // the same, where the first of two stages may end
	stageEnds = 0.34 // of the surroundings
	nearEnd   = 1.15 // times the end that is forecast
)

// usualRate is what is known of 1/τ before the run, with its standard deviation, 1/s: the good runs', or what
// the time allowed says. People allow two or three times what the pump-down needs (common practice, no
// source). A leak leaves it as it is, and a weak ejector, which does not, says so against any of it in a minute.
func (a *Analyser) usualRate() (perS, sd float64) {
	known := a.memory.Learned.TauS
	if tau, ok := a.median(known, leastRuns); ok {
		return 1 / tau, rateVaries / tau
	}
	if tau, ok := a.median(known, 1); ok {
		return 1 / tau, rateUnsure / tau
	}
	target, _ := a.targetKPa()
	tight := a.tightKPa()
	room := a.run.vac.p0
	if !(room > target && target > tight) {
		return 0, 0
	}
	rate := 2.5 * math.Log((room-tight)/(target-tight)) / a.withinS()
	return rate, 0.7 * rate
}

// How far the rate of a run may be off the median of the good ones, share: an ejector varies with its air, and the
// fit of a beginning by the bend of its curve. One or two runs may themselves have been slow. Common practice, no
// source.
const (
	rateVaries = 0.15
	rateUnsure = 0.35
)
