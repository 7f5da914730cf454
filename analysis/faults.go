package analysis

import "slices"

// faults holds the standing of every fault that belongs to the still as a whole. Faults of single
// channels are kept by sensors and limits.
type faults struct {
	held  [len(stillFaults)]hold
	again [len(stillFaults)]float64 // when the causes of what stands are weighed again, s
	first [len(stillFaults)]Cause   // the most likely when it was raised
	list  []StandingFault           // raised and not cleared, oldest first; channel faults included
}

// stillFaults are the faults that this part of the program decides from the still's state.
var stillFaults = [...]Fault{
	VacuumNotPulled, VacuumShort, VacuumLost, AirSupplyLow, HeatingStalled, OverTemperature, GasLevelHigh,
	VacuumSlow,
	HeatingSlow, HeaterPhaseLost, CondenserWarm, BoilingPointOff, PastDry, NotDry,
}

// faultIndex is the place of a fault in stillFaults. It is asked for dozens of times a scan; written out
// like this the compiler inlines it and, for a fault named in the code, is left with a number.
func faultIndex(f Fault) int {
	switch f {
	case VacuumNotPulled:
		return 0
	case VacuumShort:
		return 1
	case VacuumLost:
		return 2
	case AirSupplyLow:
		return 3
	case HeatingStalled:
		return 4
	case OverTemperature:
		return 5
	case GasLevelHigh:
		return 6
	case VacuumSlow:
		return 7
	case HeatingSlow:
		return 8
	case HeaterPhaseLost:
		return 9
	case CondenserWarm:
		return 10
	case BoilingPointOff:
		return 11
	case PastDry:
		return 12
	case NotDry:
		return 13
	}
	panic("analysis: no such fault of a still: " + string(f))
}

// quiet reports that no fault stands or is about to be raised, but for the lasting ones.
func (f *faults) quiet(lasting int) bool {
	if len(f.list) > lasting {
		return false
	}
	for i := range f.held {
		if !f.held[i].quiet() {
			return false
		}
	}
	return true
}

// latest is the fault of the present moment that was raised last, nil if there is none.
func (f *faults) latest() *StandingFault {
	for i := len(f.list) - 1; i >= 0; i-- {
		if !lastsBeyondRun(f.list[i].Fault) {
			return &f.list[i]
		}
	}
	return nil
}

// raised reports whether the fault stands.
func (f *faults) raised(fault Fault) bool { return f.held[faultIndex(fault)].raised }

// account is what a raised fault tells people.
type account struct {
	text   string
	likely []Likely
}

// judge feeds the condition of a fault through its delays (s) and emits what changes. explain is called when the
// fault is raised, and while it stands a minute later, and then after twice as long each time: by then more is known.
func (a *Analyser) judge(f Fault, cond bool, on, off float64, explain func() account) {
	i := faultIndex(f)
	h := &a.faults.held[i]
	cond = cond && !(a.run.tentative.on && slices.Contains(runFaults, f))
	up, down := h.update(a.r.t, cond, on, off)
	switch {
	case up:
		acc := explain()
		a.raise(f, "", acc)
		a.faults.again[i], a.faults.first[i] = a.r.t+weighAfter, topCause(acc.likely)
	case down:
		how := goneWords
		switch {
		case f != GasLevelHigh && (a.phase == CoolDown || a.phase == Idle): // the air of the room has no run
			how = closedWords
		case f == BoilingPointOff && a.phase != Distilling:
			how = "Nothing boils any more, and nobody has mended it: it stood for "
		case a.run.vac.vented && slices.Contains([]Fault{VacuumNotPulled, VacuumShort, VacuumSlow, VacuumLost}, f):
			how = "The still was let in, and nobody has mended it: it stood for "
		}
		a.clearAs(f, "", a.peak(f)+how, a.faults.first[i])
	case h.raised && cond && a.r.t >= a.faults.again[i]:
		if since := a.weighAgain(f, explain()); since > 0 {
			a.faults.again[i] = a.r.t + since
		}
	}
}

// weighAfter is how long after a fault was raised its causes are weighed again, s.
const weighAfter = 60

// weighAgain puts what is known now into a fault that stands, and returns for how long it has stood, s.
func (a *Analyser) weighAgain(f Fault, acc account) float64 {
	for i := range a.faults.list {
		if s := &a.faults.list[i]; s.Fault == f && s.Channel == "" {
			a.faults.list = slices.Clone(a.faults.list) // others may be reading the list as it was
			s = &a.faults.list[i]
			t := a.w.tell(acc.text)
			s.Text, s.TextUS, s.TextMetric, s.Likely = t.text, t.us, t.metric, a.w.tellLikely(acc.likely)
			return a.r.at.Sub(s.Since).Seconds()
		}
	}
	return 0
}

// raise puts a fault on the list and emits it.
func (a *Analyser) raise(f Fault, channel string, acc account) {
	t, likely := a.w.tell(acc.text), a.w.tellLikely(acc.likely)
	a.faults.list = append(a.faults.list, StandingFault{
		Fault: f, Channel: channel, Since: a.r.at, Run: a.runNumber(), Text: t.text, Likely: likely, TextUS: t.us, TextMetric: t.metric,
	})
	if a.phase != Idle {
		a.run.note(f)
	}
	a.emit(a.r.t, Event{Run: a.runNumber(), Kind: FaultEvent, Fault: f, Channel: channel, State: Raised,
		Likely: likely, Text: t.text, TextUS: t.us, TextMetric: t.metric})
}

func topCause(l []Likely) Cause {
	if len(l) == 0 {
		return ""
	}
	return l[0].Cause
}

// clear takes a fault off the list and emits it; nothing happens if it does not stand.
func (a *Analyser) clear(f Fault, channel string) { a.clearAs(f, channel, goneWords, "") }

const (
	goneWords   = "Gone after "
	closedWords = "Closed with its run, not mended: it stood for "
	atEndWords  = "Closed with its run, of which it was said at the end."
)

// clearAs is clear with the words that come before how long it stood. If another cause than first has become the most
// likely, they are told.
func (a *Analyser) clearAs(f Fault, channel, how string, first Cause) {
	for i, s := range a.faults.list {
		if s.Fault != f || s.Channel != channel {
			continue
		}
		a.faults.list = append(a.faults.list[:i:i], a.faults.list[i+1:]...)
		words := how + span(a.r.at.Sub(s.Since).Seconds()) + "."
		if !a.r.at.After(s.Since) { // seen only when the run was summed up
			words = atEndWords
		}
		t := a.w.tell(words)
		e := Event{Run: s.Run, Kind: FaultEvent, Fault: f, Channel: channel, State: Cleared, Text: t.text, TextUS: t.us, TextMetric: t.metric}
		if first != "" && topCause(s.Likely) != first {
			e.Likely = s.Likely
		}
		a.emit(a.r.t, e)
		return
	}
}

// drop closes faults that end with the run, whatever their delays: nothing says that their cause is gone.
func (a *Analyser) drop(fs ...Fault) {
	for _, f := range fs {
		i := faultIndex(f)
		a.faults.held[i] = hold{}
		a.clearAs(f, "", a.peak(f)+closedWords, a.faults.first[i])
	}
}

// peak is what a fault that is over came to, where its first words gave only its beginning.
func (a *Analyser) peak(f Fault) string {
	if f != OverTemperature {
		return ""
	}
	return "The oil came to " + a.w.temp(a.run.heat.max) + " at the most. "
}
