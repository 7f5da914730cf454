package analysis

// pace times how fast a pump-down goes through the upper half of its way: from nine tenths of the pressure
// at rest to 45 % of it. Later, the vapour of a warm charge slows a healthy still as much as a worn ejector
// would; before, the ejector is only starting.
type pace struct {
	lastT, lastP float64
	highAt       float64 // s
	high         bool
	halfS        float64 // from there to the lower mark, s
	half         bool
}

const (
	paceFrom = 0.90 // shares of the pressure at rest
	paceTo   = 0.45
)

// add takes the smoothed pressure.
func (c *pace) add(t, p, p0 float64) {
	if c.lastP > 0 && t > c.lastT {
		at := func(level float64) float64 { return t - (t-c.lastT)*(level-p)/(c.lastP-p) }
		if level := paceFrom * p0; p < level && c.lastP >= level {
			c.high, c.highAt = true, at(level)
		}
		if level := paceTo * p0; c.high && !c.half && p < level && c.lastP >= level {
			c.half, c.halfS = true, at(level)-c.highAt
		}
	}
	c.lastT, c.lastP = t, p
}

// slowRatio is how many times slower than in its good runs a still must be, and slowSDs by how many of
// their standard deviations, before it is called slow. Own experience with simulated stills, no source.
const (
	slowRatio = 1.4
	slowSDs   = 6
	slowHot   = 1.75 // times that in a hot pot, where nothing says how warm the charge has got: the light part of a blend steams at once; common practice, no source
	paceFloor = 0.05 // least standard deviation from run to run, share
)

// paceLimit is the time for the upper half beyond which this still is slow, with the usual time; ok is
// false until enough good runs are known.
func (a *Analyser) paceLimit() (limit, usualS float64, ok bool) {
	mid, sd, ok := a.usual(a.memory.Learned.PaceS, leastRuns, paceFloor)
	return a.slowBeyond(mid, sd) + 1.5*a.poll.dt, mid, ok
}

// slowBeyond is the time beyond which a pump-down is slow that takes mid ± sd in the good runs, s.
func (a *Analyser) slowBeyond(mid, sd float64) float64 {
	limit := max(slowRatio*mid, mid+slowSDs*sd)
	if !a.coldStart() && !a.in.fitted(sCharge) {
		limit *= slowHot
	}
	return limit
}

// judgeSlow: pump-down much slower than this still's own good runs.
func (a *Analyser) judgeSlow() {
	v, r := &a.run.vac, &a.r
	cond := false
	if limit, _, ok := a.paceLimit(); !v.vented && a.phase != CoolDown && !v.reached && !a.faults.raised(VacuumNotPulled) {
		took := v.pace.halfS
		if !v.pace.half {
			took = r.t - v.pace.highAt
		}
		cond = ok && v.pace.high && took > limit || !v.over && a.waySlow() || a.faults.raised(VacuumSlow)
		if a.faults.raised(VacuumShort) && !a.faults.raised(VacuumSlow) {
			// A leak holds the pressure up and makes every way longer: that is said already. Slow is news
			// only if the ejector itself is.
			leak, _, _ := a.speedEvidence()
			cond = cond && leak < 1
		}
	}
	a.judge(VacuumSlow, cond, max(3, 1.5*a.poll.dt), 5, a.explainSlow)
}

func (a *Analyser) explainSlow() account {
	v, r := &a.run.vac, &a.r
	_, mid, _ := a.paceLimit()
	took, runs := v.pace.halfS, len(a.memory.Learned.PaceS)
	if usual, ok := usualWayS(a.memory.Learned.WayS, v.smooth/v.p0); ok { // to where it is now
		took, mid, runs = r.t-v.way.firstAt, usual, len(a.memory.Learned.WayS)
	} else if !v.pace.half {
		took = r.t - v.pace.highAt
	}
	air, airWhy := a.airEvidence()
	leak, pump, speedWhy := a.speedEvidence()
	var s suspects
	s.add(Ejector, 0.4*pump, join("a worn nozzle or a clogged silencer makes the ejector slow", speedWhy))
	s.add(AirSupply, 0.3*air*pump, join(airWhy, speedWhy))
	s.add(OpenToAir, 0.25*leak, join("air coming in makes every step of the way longer ("+a.openWords()+")", speedWhy))
	if floor, ok := a.floorKPa(); ok && floor > 0.2*v.p0 {
		s.add(ChargeVapor, 0.3, "a warm charge gives off vapour that must be pumped as well")
	} else if !a.liquid.known {
		s.add(ChargeVapor, 0.1, "the solvent is not stated; a volatile charge slows the pump-down")
	}
	likely := s.rank()
	return account{text: "The vacuum comes slowly: " + span(took) + " for what takes " + span(mid) + " in this still's good runs (" +
		count(runs, "run") + "). " + a.adviceFor(likely), likely: likely}
}
