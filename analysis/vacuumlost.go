package analysis

import "math"

// judgeLost: the vacuum was there and goes while the run is hot or heating. Boiling raises the
// pressure a little in a healthy still, and the ordinary vent at the end takes it away altogether.
func (a *Analyser) judgeLost() {
	v, r := &a.run.vac, &a.r
	if !v.over {
		a.judge(VacuumLost, false, 0, 0, a.explainLost)
		return
	}
	share := (v.smooth - v.held) / max(1, v.p0-v.held)
	pulled := v.pulled()
	if share < 0.1 {
		v.keptAt = r.t
	}
	if share < 0.1 && !v.vented {
		follow := 300.0
		if a.heaterOn() != unknown {
			follow = 3600 // a loss may take an hour
		}
		v.held += (v.smooth - v.held) * min(1, r.dt/follow)
	} else if v.smooth < v.held {
		v.held += (v.smooth - v.held) * min(1, r.dt/20)
	}
	if v.tightest == 0 || v.held < v.tightest {
		v.tightest = v.held
	}
	if v.reached { // however slowly it goes, it is lost in the end
		v.held = min(v.held, v.tightest+boilShare*max(0, v.p0-v.tightest))
	}
	goes := lostShare
	if a.faults.raised(VacuumShort) { // told, and with half of it gone it is another matter
		goes = shortLostShare
	}
	up := pulled && share > goes && !a.boilingHolds()
	if up && !v.gone {
		v.gone, v.lostAt = true, r.t
	}
	target, _ := a.targetKPa()
	part := (v.smooth - v.tightest) / max(1, v.p0-v.tightest)
	some := v.reached && part > someShare && v.smooth > someOver*target+a.pressureSD()
	if !some {
		v.someAt = 0
	} else if v.someAt == 0 {
		v.someAt = r.t
	}
	if some && !v.gone && r.t-v.someAt > someLasts {
		v.gone, v.lostAt = true, v.someAt
	}
	if !up && share < 0.15 && part < someShare-0.03 {
		v.gone = false
	}
	cond := v.gone && a.phase != CoolDown && a.heatingSince(v.lostAt)
	if a.faults.raised(VacuumLost) {
		cond = v.gone && a.phase != CoolDown
	}
	a.judge(VacuumLost, cond, max(10, 2*a.poll.dt), 30, a.explainLost)
}

// A vacuum is lost with a quarter of the way back to the surroundings, and one that was short of its target with half:
// weak air swings with its compressor. Common practice, no source.
const (
	lostShare      = 0.25
	shortLostShare = 0.5
)

// A vacuum of which only a part goes is lost as well if it stays above its target: more of the way back to the
// surroundings than boiling takes it, for longer than a charge bumps. Common practice, no source.
const (
	someShare = 0.13
	someOver  = 1.15 // times the target
	someLasts = 600  // s
)

// boilShare of the way back to the surroundings is what boiling raises the pressure of a healthy still by, at
// most: the air that it drives before it and the resistance of condenser and pipe. Own experience with simulated
// stills, no source.
const boilShare = 0.1

// boilingHolds reports that the present pressure is what the boiling charge itself makes: where the
// liquid's temperature is measured, it must sit on the saturation line. A dry pot says nothing: its
// bottom is as hot as the oil.
func (a *Analyser) boilingHolds() bool {
	t, ok := a.r.get(sCharge)
	d := &a.run.distil
	if !ok || !d.boiling || d.fading {
		return false
	}
	vapor, ok := a.liquid.vaporKPa(t)
	return ok && math.Abs(vapor-a.run.vac.smooth) < 0.25*vapor
}

// endsTogether is within how long people switch off the heat and let the air in, s; common practice, no source.
const endsTogether = 60

// heatingSince reports that the still has been heated, or the vacuum still asked for, at some time
// clearly after t: then the loss at t was not the vent at the end of the run.
func (a *Analyser) heatingSince(t float64) bool {
	r, h := &a.r, &a.run.heat
	if r.t-t < 10 {
		return false
	}
	if a.heaterOn() == no && h.lastOn < t-180 { // off for longer than an ordinary pause: wait for the heater
		return false
	}
	if a.heaterOn() == no && math.Abs(h.lastOn-t) < endsTogether {
		return false // heat off and air let in together: the end, though the control stays on, unless the heat comes again
	}
	if r.off(sAirOn) && a.run.vac.vented { // shut off and let in: somebody ended it, whatever the heater does
		return false
	}
	if a.phase == DryOut && a.run.vac.vented && h.slopeOK && h.slope < -0.1/60 { // dry, cooled and let in: it is done
		return false
	}
	if r.off(sAirOn) && a.heaterOn() == no { // shut off together: the end, unless the heater comes on again
		return false
	}
	if r.on(sRunOn) || r.on(sAirOn) {
		return true
	}
	if a.heaterOn() != unknown {
		after := max(5, 2*a.poll.dt)
		if a.phase == DryOut { // it is done: people end heat and vacuum in the order they like
			after = max(60, after)
		}
		return h.lastOn > t+after
	}
	if a.in.warm != sJacket { // a charge goes on warming from the oil's heat; but a vent goes all the way to the surroundings
		return r.t-t > 300 && !a.run.vac.vented
	}
	return h.onSince(t+2*elementsCool) && !a.onlyCools(t+elementsCool) || a.staysHot(t+elementsCool)
}
