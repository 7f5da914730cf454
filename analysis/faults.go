package analysis

// faults holds the standing of every fault that belongs to the still as a whole. Faults of single
// channels are kept by sensors and limits.
type faults struct {
	held [len(stillFaults)]hold
	list []StandingFault // raised and not cleared, oldest first; channel faults included
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

// judge feeds the condition of a fault through its delays (s) and emits what changes. explain is only
// called when the fault is raised.
func (a *Analyser) judge(f Fault, cond bool, on, off float64, explain func() account) {
	up, down := a.faults.held[faultIndex(f)].update(a.r.t, cond, on, off)
	if up {
		acc := explain()
		a.raise(f, "", acc)
	}
	if down {
		a.clearAs(f, "", "Closed with its run, not mended: it stood for ")
	}
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

// clear takes a fault off the list and emits it; nothing happens if it does not stand.
func (a *Analyser) clear(f Fault, channel string) { a.clearAs(f, channel, "Gone after ") }

// clearAs is clear with the words that come before how long it stood.
func (a *Analyser) clearAs(f Fault, channel, how string) {
	for i, s := range a.faults.list {
		if s.Fault != f || s.Channel != channel {
			continue
		}
		a.faults.list = append(a.faults.list[:i:i], a.faults.list[i+1:]...)
		a.emit(a.r.t, Event{Run: s.Run, Kind: FaultEvent, Fault: f, Channel: channel, State: Cleared,
			Text: how + span(a.r.at.Sub(s.Since).Seconds()) + "."})
		return
	}
}

// drop closes faults that end with the run, whatever their delays: nothing says that their cause is gone.
func (a *Analyser) drop(fs ...Fault) {
	for _, f := range fs {
		a.faults.held[faultIndex(f)] = hold{}
		a.clearAs(f, "", "Closed with its run, not mended: it stood for ")
	}
}
