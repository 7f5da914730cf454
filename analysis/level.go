package analysis

import "math"

// level is the end pressure of the pump-down as it is seen, not forecast: the target is mostly reached with
// some way still to go, and a forecast from up there misses by the bend of the ejector's curve what the next
// minutes simply show.
//
// On the last of its way the pressure is an exponential whatever the ejector is like higher up, so that it
// is −τ·dp/dt above its end. A line through the last minute gives both, and the less is left of the way, the
// less the time constant matters.
type level struct {
	kPa, sd float64 // the best so far; sd 0: none yet
	lowest  float64 // least pressure at the end of a line
	air     bool    // it was air then, not yet the vapour of the charge
	vapor   float64 // what the charge could hold then, kPa
	cold    float64 // what it could hold as poured
	done    bool    // the charge has begun to raise it
}

// levelTauShare is how far off the time constant of the last of the way may be: an ejector empties faster
// near its end pressure than on the average by as much as its curve bends. Own experience with simulated
// stills, no source.
const levelTauShare = 0.25

// warmedShare of the pressure is what the warming of the charge may have added to it before that is no longer
// the pump-down's own end.
const warmedShare = 0.25

// followLevel looks at the pressure from the time on at which the curve is known until the charge boils or
// steams.
func (a *Analyser) followLevel() {
	v, r := &a.run.vac, &a.r
	l := &v.level
	floor, _ := a.floorKPa()
	if l.cold == 0 {
		l.cold = floor
	}
	if l.done || !v.decayOK || r.t-v.movedAt < max(v.flat.span, v.decay.TauS) {
		return
	}
	if a.run.distil.boiling || v.vented || a.phase == CoolDown || r.off(sAirOn) || floor-l.cold > warmedShare*(v.smooth-v.zero) {
		l.done = true
		return
	}
	fit, ok := v.flat.fit()
	if !ok || v.flat.width() < 0.75*v.flat.span {
		return
	}
	end := fit.mid + fit.slope*v.flat.width()/2
	step := a.gaugeStep()
	seen := math.Hypot(max(fit.residSD, a.pressureSD())/math.Sqrt(float64(fit.n)), step/math.Sqrt(12))
	if l.lowest > 0 && end > l.lowest+3*seen+0.1 {
		l.done = true
		return
	}
	if l.lowest == 0 || end < l.lowest {
		l.lowest = end
	}
	left := max(0, -fit.slope*v.decay.TauS)
	kPa := end - left
	// What stands still before its time is held by something else, and may go on.
	due := max(left, v.decay.At(r.t)-v.decay.EndKPa)
	sd := math.Hypot(math.Hypot(seen, fit.slopeSD*v.decay.TauS), levelTauShare*due)
	if l.sd == 0 || sd < 0.95*l.sd {
		l.kPa, l.sd, l.air, l.vapor = kPa, sd, a.airOnly(), floor
	}
}
