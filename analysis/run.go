package analysis

import (
	"slices"
	"time"
)

// run is everything about the run in progress.
type run struct {
	start       float64 // s on the analyser's clock
	by          began
	marks       []mark  // phases entered
	faults      []Fault // each once, in the order raised
	blind       float64 // time of the run that nobody watched, s
	wantedUntil float64 // last time that the control said that it is on, or the air while nothing was pulled, s
	over        bool    // the recording ends, and so it seems did the run

	tentative tentative
	vac       vacuum
	isolation isolation
	heat      heat
	draw      draw
	distil    distil
	energy    energy
	goods     shares
}

type mark struct {
	phase Phase
	t     float64
}

func (r *run) enter(p Phase, t float64) { r.marks = append(r.marks, mark{p, t}) }

// note remembers a fault for the summary.
func (r *run) note(f Fault) {
	if !slices.Contains(r.faults, f) {
		r.faults = append(r.faults, f)
	}
}

// shares counts how many readings of the needed channels were bad.
type shares struct{ bad, all int }

// beginRun starts a run that was seen to have begun at t.
func (a *Analyser) beginRun(t float64, by began) {
	r := &a.r
	if d := &a.idle.dip; d.standing(r.t) && d.at < t && (by == byOil || by == byHeater) {
		t = d.at // the ejector has been pulling at an opening since then
	}
	a.memory.Runs++
	a.run = run{start: t, by: by}
	a.run.vac.begin(a, t, by)
	a.run.heat.begin(a)
	a.run.energy.begin(a)
	a.course.begin(t)
	a.beginTentatively()
	if a.in.pressureFitted() && by != byRecording {
		a.enter(PumpDown, t)
		if !a.run.tentative.on {
			a.judgeGaugeZero()
		}
	} else {
		a.enter(HeatUp, t)
	}
	r.dt = 0 // the step before the run is not part of it
}

// stepRun takes one scan of a run.
func (a *Analyser) stepRun() {
	g := &a.run.goods
	g.all += 2
	if !a.r.pOK && !a.jumps[nSig].held {
		g.bad++
	}
	if !a.r.ok[sJacket] && !a.r.ok[sCharge] && !a.r.ok[sVapor] {
		g.bad++
	}
	if a.r.on(sRunOn) || a.r.on(sAirOn) && !a.in.fitted(sRunOn) && a.pullsAtNothing() || (a.r.on(sAirOn) || a.airStands()) && a.r.off(sRunOn) && !a.run.vac.vented {
		a.run.wantedUntil = a.r.t
	}
	a.stepHeat()
	a.stepVacuum()
	if !a.stepTentative() {
		return
	}
	a.stepAir()
	a.stepDistil()
	a.stepEnergy()
	a.stepPhase()
	if end, ok := a.ended(); ok {
		a.endRun(end, false)
	}
}

// stepPhase moves on through the phases.
func (a *Analyser) stepPhase() {
	v, d := &a.run.vac, &a.run.distil
	if a.phase == PumpDown && v.over {
		a.enter(HeatUp, max(v.overAt, a.phaseSince))
	}
	if (a.phase == PumpDown || a.phase == HeatUp) && d.boiling {
		a.enter(Distilling, max(d.boilingAt, a.phaseSince))
	}
	switch {
	case a.phase != Distilling:
	case d.drying:
		a.enter(DryOut, max(d.dryingAt, a.phaseSince))
	case d.dry:
		a.enter(DryOut, max(a.dryingFrom(d.dryAt), a.phaseSince))
	}
	if a.phase != CoolDown {
		if t, over := a.heatingOver(); over {
			a.enter(CoolDown, max(t, a.phaseSince))
		}
	} else if a.heatsAgain() {
		a.resume()
	}
}

// heatsAgain reports that what was taken for the end of the heating was a pause: the heater is at work again and
// the vacuum is still there.
func (a *Analyser) heatsAgain() bool {
	v, h, r := &a.run.vac, &a.run.heat, &a.r
	if v.vented || r.off(sRunOn) || !v.pulled() && a.in.pressureFitted() || a.gaugeStuck() && r.t-a.phaseSince > stuckWait {
		return false
	}
	switch a.heaterOn() {
	case yes:
		return a.run.draw.on && r.t-a.run.draw.since > 30 || !a.in.fitted(sPower) && r.t-h.lastOn < 1
	case unknown:
		return a.in.warm == sJacket && h.rises && h.slopeOK && h.slope > leastRise && r.t-a.phaseSince > 300
	}
	return false
}

// resume goes back to the phase that was left.
func (a *Analyser) resume() {
	n := len(a.run.marks)
	if n < 2 || a.run.marks[n-1].phase != CoolDown {
		return
	}
	before := a.run.marks[n-2]
	a.run.distil.endJudged = false
	a.backTo(before.phase, before.t)
}

// backTo takes back the phase that was entered last: it is still the one before, since t.
func (a *Analyser) backTo(p Phase, t float64) {
	a.run.marks = a.run.marks[:len(a.run.marks)-1]
	a.phase, a.phaseSince = p, t
	a.emit(a.r.t, Event{Run: a.runNumber(), Kind: PhaseEvent, Phase: p})
}

// ended decides whether the run is over: nothing heats any more, and the vacuum is gone or was never
// there. end is when that came to be, s.
func (a *Analyser) ended() (end float64, ok bool) {
	if a.phase != CoolDown {
		return 0, false
	}
	r, v, h := &a.r, &a.run.vac, &a.run.heat
	over := max(a.phaseSince, a.run.wantedUntil)
	if r.on(sRunOn) {
		return 0, false
	}
	if a.pullsAtNothing() { // it goes on pulling at nothing: somebody has yet to come and see
		return r.t, r.t-over > longestCoolDown
	}
	switch {
	case r.off(sRunOn) && a.airStopped() && a.heaterOn() == no && r.t-over > letInAtOnce:
		return over, true // all is off: what vacuum may stand is nobody's any more
	case r.off(sRunOn) && !r.on(sAirOn) && !a.airStands() && a.heaterOn() == no && !v.vented && r.t-over > letInLate:
		return over, true // its air has not been seen to stop: it may pull on what cools, until somebody lets that in
	case !a.in.pressureFitted():
		return over, true
	case a.gaugeStuck(): // it may yet show the vent
		return over, r.t-over > 2*stuckWait || r.t-over > stuckWait && a.heaterOn() == yes
	case v.vented && a.lostHot() && !a.atAir(v.smooth) && r.t-over < letInLate:
		return 0, false // an ejector that pulls at an opening: it has yet to be shut off
	case v.vented && a.lostHot() && v.airAt > v.ventedAt+letInFor:
		return max(over, v.airAt), true
	case v.vented && a.in.fitted(sRunOn) && v.keptAt < a.run.wantedUntil+letInAtOnce:
		return over, true // called off and let in at once: however long the air takes
	case v.vented:
		return max(over, v.ventedAt), true
	case !v.pulled() && r.pOK && a.atAir(r.p):
		return max(over, v.airAt), true
	}
	if oil, ok := r.get(sJacket); ok && oil < coldC && h.max > coldC+10 {
		if h.coldAt == 0 {
			h.coldAt = r.t
		}
		return max(over, h.coldAt), r.t-h.coldAt > coldWait
	}
	h.coldAt = 0
	return r.t, r.t-over > longestCoolDown
}

const (
	letInAtOnce     = 60        // s after the control was called off
	letInLate       = 5400      // s after the heat that a still which has lost its vacuum, or cools under it, is let in; common practice, no source
	coldC           = 45        // °C: a pot below this is idle whatever its pressure; common practice, no source
	coldWait        = 2 * 3600  // s that a cold pot may stand under vacuum and yet be heated again or let in; common practice, no source
	longestCoolDown = 16 * 3600 // s: overnight; a well-lagged pot takes as long
	stuckWait       = 1800      // s of cool-down after which heat is no pause any more, where the gauge cannot show a vent
)

// pullsAtNothing reports that the air is on although there never was a vacuum, or it was lost.
func (a *Analyser) pullsAtNothing() bool {
	return a.r.on(sAirOn) && (!a.run.vac.pulled() || slices.Contains(a.run.faults, VacuumLost))
}

// endedBefore is for a recording that stops before the end of the run could be certain: the vacuum has
// been let go and nothing has heated since.
func (a *Analyser) endedBefore() (float64, bool) {
	v, h := &a.run.vac, &a.run.heat
	if !v.vented || !v.moved {
		return 0, false
	}
	if a.phase == CoolDown {
		return max(a.phaseSince, v.ventedAt), true
	}
	if h.onSince(v.ventedAt) {
		return 0, false
	}
	return v.ventedAt, true
}

// judgeRun decides what shows only from run to run, before the run is summed up.
func (a *Analyser) judgeRun(end float64) {
	if a.run.by != byRecording {
		a.noteWear()
		a.judgeWear()
		a.judgeEnergy()
		a.judgeTransfer()
		a.judgeGauge()
	}
	a.countUpkeep(end)
}

// runFaults end with the run that they are about.
var runFaults = []Fault{VacuumNotPulled, VacuumShort, VacuumSlow, VacuumLost, AirSupplyLow, HeatingStalled,
	HeatingSlow, HeaterPhaseLost, CondenserWarm, BoilingPointOff, PastDry, NotDry}

// endRun sums the run up and goes back to idle.
func (a *Analyser) endRun(end float64, open bool) {
	a.makeCertain()
	end = min(max(end, a.phaseSince), a.r.t)
	a.settleDry(a.heatEnd(end), end)
	a.settleEnergy(a.heatEnd(end))
	a.judgeWetEnd()
	a.judgePastEnd(a.heatEnd(end))
	if !open {
		a.judgeRun(end)
	}
	a.drop(runFaults...)
	s := a.summary(end, open)
	number := a.runNumber()
	a.learn(s)
	a.phase, a.phaseSince = Idle, end
	a.memory.IdleSince = a.time(end)
	a.emit(a.r.t, Event{Run: number, Kind: RunEvent, Summary: s})
	if !open {
		a.emit(a.r.t, Event{Run: 0, Kind: PhaseEvent, Phase: Idle})
	}
	a.phaseSince = a.r.t // idle counts from when it was known
	a.run = run{}
	a.idle.reset(a.memory.Learned)
	a.idle.armed = false // what the elements still hold may warm the oil a little more
	a.idle.quietAt = a.r.t
	if a.r.pOK {
		a.idle.level = a.r.p
	}
	a.idle.after = true
}

// spans are the phases of the run as people read them.
func (a *Analyser) spans(end float64) []PhaseSpan {
	out := make([]PhaseSpan, 0, len(a.run.marks))
	for i, m := range a.run.marks {
		to := end
		if i+1 < len(a.run.marks) {
			to = a.run.marks[i+1].t
		}
		out = append(out, PhaseSpan{Name: m.phase, Start: a.time(m.t), End: a.time(to)})
	}
	return out
}

func seconds(d time.Duration) float64 { return d.Seconds() }
