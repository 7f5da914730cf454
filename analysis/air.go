package analysis

import (
	"math"
	"slices"
)

// The compressed air: when it is to be expected, and whether it is enough.

// airPatience is how long after the start of the run the pressure may rest where it is with nothing wrong, s. Where
// the air is seen to be on, an ejector that is well begins at once. Where nothing shows it, some heat first and open
// the air by hand minutes later, and some controls when the oil is hot enough, until the good runs have shown the habit
// of the shop.
func (a *Analyser) airPatience() float64 {
	grace := a.habitPatience()
	if v := &a.run.vac; v.coolUntil > 0 && !v.certain {
		return max(grace, v.coolUntil-a.run.start+warmEnoughFor)
	}
	return grace
}

func (a *Analyser) habitPatience() float64 {
	v := &a.run.vac
	grace, habit := float64(seenPatience), float64(leastRunsPatience)
	switch {
	case a.still.Air.Opens == WithRun:
	case v.certain && a.run.by == byRunSwitch && !a.in.fitted(sAirOn): // who starts the control may open the air by hand
		grace = switchPatience
	case !v.certain && a.airByHand():
		grace, habit = byHandPatience, byHandHabit
	case !v.certain:
		grace = unseenPatience
	}
	known := a.memory.Learned.LagS
	if len(known) == 0 {
		return grace
	}
	usual := 2*slices.Max(known) + slowestLag // people vary: what has been seen, and some more
	least := grace
	switch {
	case len(known) >= 2*leastRuns && habit == leastRunsPatience:
		least = seenPatience
	case len(known) >= leastRuns:
		least = min(grace, habit)
	}
	return max(least, usual)
}

// airByHand reports that people open the air when they think fit: it is stated, or nothing is and they have been seen to
// open it long before the heat or long after it.
func (a *Analyser) airByHand() bool {
	l := &a.memory.Learned
	return a.still.Air.Opens == ByHand || a.still.Air.Opens == "" &&
		(len(l.AirC) > 0 || len(l.FirstHeatS) > 0 && slices.Max(l.FirstHeatS) > a.airLongFirst())
}

// airLongFirst is how long before the heat air is opened that no control opens with it, s; the oil alone takes its time to
// show the heat. Common practice, no source.
func (a *Analyser) airLongFirst() float64 {
	if a.in.fitted(sPower) || a.in.fitted(sHeaterOn) {
		return 45
	}
	return 150
}

// followCool keeps until when the oil was too cool for the air to be expected, where nothing shows the air: a control
// that opens it at a temperature of the oil did so at about the same one in the runs before; of a still that nobody knows
// yet, the oil must be half way to its set point.
func (a *Analyser) followCool() {
	v, r, l := &a.run.vac, &a.r, &a.memory.Learned
	oil, ok := r.get(sJacket)
	if !ok || v.moved || v.certain || a.still.Air.Opens == WithRun {
		return
	}
	set, start := a.still.Recipe.JacketC, a.run.heat.startC
	warm := math.Inf(-1)
	switch n := len(l.AirC); {
	case n > 0 && slices.Max(l.AirC)-slices.Min(l.AirC) < airAtVaries:
		warm = slices.Max(l.AirC) + airAtVaries/3
	case n > 0: // something else that goes with the oil decides, but cooler it never was
		warm = slices.Min(l.AirC) + airAtVaries/3
	case len(l.LagS) == 0 && r.t-a.run.start < coolPatience:
		if set <= 0 {
			set = usualSetC
		}
		warm = start + airHalfWay*(set-start)
	}
	if oil < warm || len(l.LagS) == 0 && a.still.Air.Opens == ByHand && a.coldCharge(oil) {
		v.coolUntil = r.t
	}
}

// coldCharge reports that the charge is far too cold to need the vacuum yet: as its thermometer says, else as oil does that
// runs ahead of it.
func (a *Analyser) coldCharge(oil float64) bool {
	boil, ok := a.liquid.boilC(a.still.Vacuum.TargetKPa)
	if !ok || a.still.Vacuum.TargetKPa <= 0 || a.r.t-a.run.start > coldPatience {
		return false
	}
	if c, ok := a.r.get(sCharge); ok && a.believed(sCharge) {
		return c < boil-coldBelow
	}
	return oil < boil+oilAhead
}

// How long the pressure may rest, s, see airPatience. Common practice, no source.
const (
	seenPatience      = 24   // the air is on: valve, ejector and gauge take their time
	switchPatience    = 500  // the control is on, and the air is not seen
	unseenPatience    = 500  // only the heat is seen
	coolPatience      = 900  // the same, and the oil is far below its set point
	byHandPatience    = 1800 // the same, and people are stated to open it when they think fit
	byHandHabit       = 900  // the same, after a few good runs: they think differently from day to day
	coldPatience      = 5400 // the same, and the charge is far too cold to boil under vacuum
	leastRunsPatience = 55   // after a few good runs
	warmEnoughFor     = 60   // when the oil has got hot enough for the air
)

// Oil at which a control opens the air: by how much it varies, K, and the share of its way to the set point that it has
// come to at the most. Common practice, no source.
const (
	airAtVaries = 12
	airHalfWay  = 0.5
	coldBelow   = 15  // K below its boiling point at the target that a charge has no need of vacuum
	oilAhead    = 30  // K by which the oil may run ahead of it
	usualSetC   = 120 // °C, where no set point is stated
)

// airForgotten reports that the charge boils, or has been heated for longer than anybody waits with the air, and that the
// air is still off by its switch.
func (a *Analyser) airForgotten() bool {
	v, r, set := &a.run.vac, &a.r, a.still.Recipe.JacketC
	if v.moved || a.heaterOn() != yes {
		return false
	}
	oil, ok := r.get(sJacket)
	start := a.run.heat.startC
	long := r.t-a.run.start > max(byHandPatience, a.habitPatience()) && ok && set > 0 && oil > start+airHalfWay*(set-start)
	return long || a.run.distil.boiling && r.t-a.run.distil.boilingAt > boilsWithout
}

// boilsWithout the air for so long, s, nobody means to; common practice, no source.
const boilsWithout = 300

// airShut reports that the gauge of the compressed air, which stands behind a valve, shows that nobody has opened it
// yet: it shows next to nothing, and what people may take to open it has not passed.
func (a *Analyser) airShut() bool {
	v, r := &a.run.vac, &a.r
	air, ok := r.get(sAir)
	shut := ok && !r.ok[sAirOn] && !v.moved && air < airShutKPa && (a.run.start >= r.t || r.t-a.run.start < a.airPatience())
	if !shut && v.shut && ok && air >= airShutKPa {
		v.called, v.certain, v.calledAt, v.openLag = true, true, r.t, r.t-a.run.start
		if r.t-a.run.start > fallsLate {
			a.heatedFirst(r.t)
		}
	}
	v.shut = shut
	return shut
}

// airOpened reports that the gauge of the compressed air showed next to nothing until shortly before the run and shows
// enough now: it stands behind the valve, which somebody has opened for this run.
func (a *Analyser) airOpened() bool {
	return a.airStands() && a.run.start-a.idle.airShutAt < openedBefore
}

// airStands reports that the gauge of the compressed air, which stands behind a valve, shows that it is still open.
func (a *Analyser) airStands() bool {
	air, ok := a.r.get(sAir)
	return ok && a.idle.airShut && air > max(0.5*a.still.Air.MinimumKPa, 5*airShutKPa)
}

// The gauge of the supply rises at once when the ejector is shut off, by what line and regulator lost to its flow, and then
// stands. A compressor that comes on goes on raising it. Own experience with simulated stills, no source.
const (
	reliefOver  = 10   // s that it is smoothed over
	reliefFrom  = 20   // s after the control was called off in which it must have risen
	reliefShare = 0.02 // by that share,
	reliefUntil = 45   // to rise by less than half as much until then
)

// followAirStops sees the ejector's air stop with the control.
func (a *Analyser) followAirStops(air float64) {
	v, since := &a.run.vac, a.r.t-a.run.wantedUntil
	if v.supply == 0 {
		v.supply = air
	}
	v.supply += (air - v.supply) * min(1, a.r.dt/reliefOver)
	switch {
	case since == 0:
		v.supplyOn, v.supplyOff, v.stops, v.stopsKnown = v.supply, 0, false, false
	case since >= reliefFrom && v.supplyOff == 0:
		v.supplyOff = v.supply
	case since >= reliefUntil && v.supplyOff > 0 && !v.stopsKnown:
		rise := v.supplyOff - v.supplyOn
		v.stopsKnown = true
		v.stops = v.supplyOn > 0 && rise > reliefShare*v.supplyOn && math.Abs(v.supply-v.supplyOff) < rise/2
	}
}

// airStopped reports that the ejector's air is shut off: as its channel says, or its supply showed, or nothing contradicts.
func (a *Analyser) airStopped() bool {
	r, v := &a.r, &a.run.vac
	air, ok := r.get(sAir)
	return r.off(sAirOn) || !r.on(sAirOn) && !a.airStands() && (v.supplyOn == 0 || v.stops || ok && air < airShutKPa)
}

// openedBefore the heat, s, air is opened for a run; common practice, no source.
const openedBefore = 300

// airShutKPa is what compressed air that is shut off shows at the most, kPa gauge; common practice, no source.
const airShutKPa = 30

const (
	airFills      = 60   // s after it is opened in which the air may be filling hose and ejector: its gauge dips and comes back
	airFillsShare = 0.03 // of the minimum by which it is above its mean of the last few seconds; both common practice, no source
	airFollows    = 60   // s in which the heat is seen to be off as well when people shut both; common practice, no source
)

// stepAir judges the compressed air while the run needs it.
func (a *Analyser) stepAir() {
	air, ok := a.r.get(sAir)
	least := a.still.Air.MinimumKPa
	heated := a.heaterOn() == yes // then even a vacuum that is gone is wanted
	needs := a.run.vac.called && a.phase != CoolDown && (!a.run.vac.vented || heated) && !a.r.off(sAirOn)
	back := 0.0
	if a.faults.raised(AirSupplyLow) {
		back = 0.03 * least // deadband
	}
	if air < airShutKPa && (a.heaterOn() == no || a.phase == DryOut) && !a.r.on(sAirOn) {
		needs = false // shut off with the heat, or when it was dry: it ends
	}
	v := &a.run.vac
	fills := ok && a.r.t-v.calledAt < airFills && air > v.air+airFillsShare*least
	if ok {
		v.air += (air - v.air) * min(1, a.r.dt/3)
		a.followAirStops(air)
	}
	on := max(8, 1.5*a.poll.dt)
	if v.over && air < 0.5*least {
		on = max(on, airFollows) // shut, and not weak
		if !a.in.fitted(sPower) && !a.in.fitted(sHeaterOn) {
			on = 3 * airFollows // a counter takes its time to show that the heat is off
		}
	}
	a.judge(AirSupplyLow, ok && least > 0 && needs && !fills && air < least+back, on, 20, a.explainAir)
}
