package analysis

// A pressure that falls by little may be an ejector at an opening, or no run at all: a cold charge poured into a hot pot,
// or a hot pot that is shut, draws the pressure down by some kPa, and it is back within a minute or two. Until it is seen
// which, nobody is told of the run; one that was none is taken back without a word.
const (
	puffDeep    = 6.5 // kPa below the surroundings: no cooling gas does that, an ejector does; common practice, no source
	puffStays   = 10  // s at about its lowest: an ejector holds it there, cooling gas does not; common practice, no source
	puffLowest  = 0.1 // of the fall: still at about its lowest
	puffIsBack  = 0.2 // of the fall: back where it came from
	puffLongest = 240 // s that it takes to come back; common practice, no source
)

// tentative is a run of which nobody has been told yet.
type tentative struct {
	on       bool
	lowest   float64 // kPa absolute, of the readings themselves
	lowestAt float64 // s
}

// beginTentatively keeps a run that has just begun back until it is certain.
func (a *Analyser) beginTentatively() {
	if r := &a.r; a.run.by == byPressure && !a.calledFor() {
		a.run.tentative = tentative{on: true, lowest: r.p, lowestAt: r.t}
	}
}

// calledFor reports that heat, air or the control itself say that this is a run.
func (a *Analyser) calledFor() bool {
	return a.heaterOn() == yes || a.r.on(sAirOn) || a.r.on(sRunOn)
}

// stepTentative decides; it reports false if the run was none, and is taken back.
func (a *Analyser) stepTentative() bool {
	w, r, v := &a.run.tentative, &a.r, &a.run.vac
	if !w.on {
		return true
	}
	if !r.pOK {
		return true
	}
	scatter := max(3*a.pressureSD(), 1.5*a.gaugeStep())
	if r.p < w.lowest {
		w.lowest, w.lowestAt = r.p, r.t
	}
	fall := v.p0 - w.lowest
	low := w.lowest + max(puffLowest*fall, scatter)
	switch {
	case a.calledFor(), fall > puffDeep+scatter, r.p < low && r.t-w.lowestAt > puffStays+2*a.poll.dt, r.t-a.run.start > puffLongest:
		a.makeCertain()
	case r.p > v.p0-max(puffIsBack*fall, scatter) && r.p > low:
		a.takeBack()
		return false
	}
	return true
}

// makeCertain tells of the run.
func (a *Analyser) makeCertain() {
	if !a.run.tentative.on {
		return
	}
	a.run.tentative.on = false
	for _, m := range a.run.marks {
		a.emit(m.t, Event{Run: a.runNumber(), Kind: PhaseEvent, Phase: m.phase})
	}
	a.judgeGaugeZero()
}

// takeBack makes a run that was none unsaid.
func (a *Analyser) takeBack() {
	a.memory.Runs--
	a.phase, a.phaseSince = Idle, a.r.t
	a.run = run{}
	a.idle.low, a.idle.offAt = 0, a.r.t
}
