package analysis

import (
	"slices"
	"time"
)

// Analyser folds the scans of one still into events. Not safe for concurrent use.
type Analyser struct {
	still  Still
	in     inputs
	w      words
	liquid liquid

	answers []Answer // the same for every run

	memory   Memory    // counted and learned so far
	rested   Memory    // memory at the last rest point
	restedAt time.Time // scan of the last rest point; zero if none since New

	state
	course  course    // of the run; its memory is used again by the next
	flanks  []flank   // the same
	takes   []float64 // the same
	warms   []float64 // the same
	sorted  []float64 // the same
	medians medians   // figures worked out before, as long as they hold
	scatter scatter
	events  []Event
}

// state is everything that the next rest point forgets. Whatever decides an event and is not in here,
// in Memory or in Still would break the promise that recovery is exact.
type state struct {
	epoch   time.Time // time zero of r.t
	started bool
	r       reading
	poll    poll

	jumps      [nSig + 1]jump // of the temperatures, and of the still pressure last
	seenAt     float64        // last scan that showed anything, s
	lastEvent  time.Time      // events never go back in time
	phase      Phase
	phaseSince float64

	idle    idle
	run     run
	faults  faults
	sensors sensors
	limits  limits
}

// New returns an analyser for the still, resting at m. A Memory of another version is not used.
func New(s Still, m Memory) *Analyser {
	if m.Version != memoryVersion {
		m = Memory{Version: memoryVersion}
	}
	m = m.forSolvent(s.Solvent.String()).forUpkeep(s.Upkeep)
	a := &Analyser{
		still:   s,
		in:      newInputs(&s),
		w:       words{us: s.Display == US, both: true},
		liquid:  newLiquid(s.Solvent),
		answers: s.Answers(),
		memory:  m,
		rested:  m,
	}
	a.forget()
	return a
}

// forget puts the analyser into the state that New gives it.
func (a *Analyser) forget() {
	sensors, limits := a.sensors, a.limits
	a.state = state{phase: Idle}
	a.faults.list = slices.Clip(a.memory.Standing) // whoever adds or takes away makes a list of his own
	a.idle.reset(a.memory.Learned)
	a.sensors = sensors.cleared(len(a.still.Channels))
	a.limits = limits.cleared(len(a.still.Channels))
}

// Step takes the next scan and returns the events it caused, oldest first; the slice is valid until
// the next Step; s is not kept. A scan that is not later than the one before changes nothing. Step never
// panics.
func (a *Analyser) Step(s Scan) []Event {
	a.events = a.events[:0]
	if !s.At.After(a.r.at) {
		return nil
	}
	if !a.started {
		a.started, a.epoch, a.r.at = true, s.At, s.At
	}
	r := &a.r
	r.dt = s.At.Sub(r.at).Seconds()
	r.at, r.t = s.At, s.At.Sub(a.epoch).Seconds()
	a.in.read(s, r)
	a.poll.add(r.dt)
	r.far = a.farKPa()
	a.disbelieve()
	a.holdBack()
	a.stepGap()

	if a.phase == Idle {
		a.stepIdle()
	}
	if a.phase != Idle {
		a.stepRun()
	}
	a.stepSensors(s)
	a.stepLimits(s)
	if a.phase == Idle {
		a.rest()
	}
	return a.events
}

// Finish says that no more scans will come: a run still open is summed up with Summary.Open set, even
// one that looks over, for a live watch would still wait for certainty.
// It is for recordings; a live still never needs it. The analyser must not be used afterwards.
func (a *Analyser) Finish() []Event {
	a.events = a.events[:0]
	if a.phase == Idle {
		return nil
	}
	if a.run.tentative.on {
		a.takeBack()
		return nil
	}
	end, over := a.endedBefore() // over, and only the wait for certainty was cut off
	if !over {
		end = a.r.t
	}
	a.run.over = over
	a.endRun(end, true)
	// Nothing has happened but the end of the paper: only the summary is told.
	a.events = slices.DeleteFunc(a.events, func(e Event) bool { return e.Kind != RunEvent })
	return a.events
}

// Memory returns what the analyser carried over its last rest point, and the time of that scan: the
// zero time if it has not rested since New. New(still, m), fed all scans later than that time, gives
// the events this analyser gives.
func (a *Analyser) Memory() (Memory, time.Time) { return a.rested, a.restedAt }

// restAfter is how long a still must have been idle with nothing pending before the state is
// forgotten, and how often from then on: long enough for the gauges at rest to be known again.
const restAfter = 600 // s

// rest makes a rest point when the still has been idle for long enough and nothing is standing or
// about to be.
func (a *Analyser) rest() {
	if a.r.t-a.phaseSince < restAfter || !a.faults.quiet(len(a.memory.Standing)) || !a.sensors.quiet() || !a.limits.quiet() || !a.idle.calm(a.r.t) || a.jumping() {
		return
	}
	a.memory.Learned.RestKPa, a.memory.Learned.BaseKPa = a.idle.level, a.idle.base
	a.memory.Learned.GaugeSD = a.idle.gauge.sd(0.02)
	a.memory.Learned.GaugeStep = a.gaugeStep()
	a.memory.Learned.OilSD = a.idle.oilNoise.sd(0.02)
	a.memory.Learned.OilSway = a.idle.sway.sd(restSway)
	a.memory.Lively = a.sensors.livelyNow(a.memory.Lively, a.still.Channels)
	at := a.r.at
	a.rested, a.restedAt = a.memory, at
	a.forget()
	a.r.at = at
	a.started = false // the next scan sets the epoch, as it does after New
}

// emit appends an event; its time is at seconds on the analyser's clock, never earlier than the event
// before.
func (a *Analyser) emit(at float64, e Event) {
	e.At = a.time(at)
	if e.At.Before(a.lastEvent) {
		e.At = a.lastEvent
	}
	a.lastEvent = e.At
	e.Still = a.still.Name
	a.events = append(a.events, e)
}

// time turns seconds on the analyser's clock into a time of day, to the millisecond.
func (a *Analyser) time(t float64) time.Time {
	return a.epoch.Add(time.Duration(t * float64(time.Second)).Round(time.Millisecond))
}

// enter begins a phase at time t (s), which may lie a little in the past: when it was seen to have begun.
func (a *Analyser) enter(p Phase, t float64) {
	if p == a.phase {
		return
	}
	a.run.enter(p, t)
	a.phase, a.phaseSince = p, t
	if a.run.tentative.on {
		return
	}
	a.emit(t, Event{Run: a.runNumber(), Kind: PhaseEvent, Phase: p})
}

func (a *Analyser) runNumber() int {
	if a.phase == Idle || a.run.tentative.on {
		return 0
	}
	return a.memory.Runs
}

// poll learns how often scans come.
type poll struct {
	dt float64 // s, typical
	n  int
}

func (p *poll) add(dt float64) {
	if dt <= 0 {
		return
	}
	p.n++
	switch {
	case p.n == 1 || dt < p.dt:
		p.dt = dt
	default:
		p.dt += 0.05 * (min(dt, 4*p.dt) - p.dt)
	}
}
