package analysis

// Time that nobody watched (the computer slept, the device was off) proves nothing: no delay runs on
// through it, no pause of the heater grows by it, and a figure of a run is never spread over it.

const (
	// blindS between two looks at the still is more than any sensible polling: what lay between is
	// unknown, s. Idle stills may be recorded once a minute.
	blindS = 150

	// longestBlind is how long a run may go unseen and still be taken for the same run, s. After that
	// it is closed at the last look, marked open, and whatever goes on is a run of its own.
	longestBlind = 1800

	// longestSame is the same where the vacuum stands as before and the oil is about as hot: in an hour nobody ends a run,
	// lets the still cool, empties and loads it and has it under vacuum and hot again. Common practice, no source.
	longestSame = 3600
	sameOilK    = 25
)

// sees reports that the scan shows anything at all.
func (r *reading) sees() bool {
	for _, ok := range r.ok {
		if ok {
			return true
		}
	}
	return false
}

// stepGap takes notice of the time since the still was last seen. Called for every scan once it is read.
func (a *Analyser) stepGap() {
	r := &a.r
	if !r.sees() {
		return
	}
	gap := r.t - a.seenAt
	last := a.seenAt
	a.seenAt = r.t
	if gap <= max(blindS, 15*a.poll.dt) || a.phase == Idle {
		return
	}
	if a.run.tentative.on {
		a.takeBack()
		return
	}
	a.run.blind += gap
	for i := range a.sensors.ch {
		c := &a.sensors.ch[i]
		c.changedAt = min(c.changedAt+gap, r.t) // nobody saw whether it moved
	}
	h := &a.run.heat
	h.lastOn += gap
	h.risingUntil += gap
	h.turns.topAt += gap
	if gap > longestBlind && !(gap < longestSame && a.goesOn(last)) {
		a.endRun(last, true)
		a.emit(r.t, Event{Run: 0, Kind: PhaseEvent, Phase: Idle})
		a.idle.level, a.idle.after = 0, false // learned anew: the scans may be from the middle of the next run
	}
}

// goesOn reports that the still is as it was when it was last seen, s: under the same vacuum, with oil as hot or hotter.
func (a *Analyser) goesOn(last float64) bool {
	v, r := &a.run.vac, &a.r
	oil, ok := r.get(sJacket)
	before, okBefore := a.course.mean(oilC, last-150, last)
	return okBefore && v.pulled() && !v.vented && r.pOK && r.p < 1.5*v.smooth+a.gaugeStep() && ok && oil > before-sameOilK
}
