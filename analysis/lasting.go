package analysis

import "slices"

// Lasting faults are found from run to run, not from scan to scan: they stand until a later run, or a
// person, takes them back. They live in Memory, so a still with a worn seal can still come to rest.

// lastsBeyondRun reports whether a fault is of that kind.
func lastsBeyondRun(f Fault) bool {
	switch f {
	case SealWear, HeatTransferFalling, EnergyHigh, YieldLow, UpkeepDue:
		return true
	}
	return false
}

// lasting raises the fault when cond is true and it does not stand, and clears it when cond is false.
// Called once a run, after its figures are known and before they are summed up.
func (a *Analyser) lasting(f Fault, channel string, cond bool, explain func() account) {
	stands := a.stands(f, channel)
	switch {
	case cond && !stands:
		a.raise(f, channel, explain())
		a.memory.Standing = append(slices.Clip(slices.Clone(a.memory.Standing)), a.faults.list[len(a.faults.list)-1])
	case cond:
		a.run.note(f)
	case stands:
		a.memory.Standing = slices.DeleteFunc(slices.Clone(a.memory.Standing), func(s StandingFault) bool {
			return s.Fault == f && s.Channel == channel
		})
		if len(a.memory.Standing) == 0 {
			a.memory.Standing = nil
		}
		a.clear(f, channel)
	}
}

// stands reports whether a lasting fault stands.
func (a *Analyser) stands(f Fault, channel string) bool {
	for i := range a.memory.Standing {
		if s := &a.memory.Standing[i]; s.Fault == f && s.Channel == channel {
			return true
		}
	}
	return false
}

// concernsBatch reports whether a fault says something about the batch; wear and upkeep do not.
func concernsBatch(f Fault) bool {
	switch f {
	case SealWear, HeatTransferFalling, UpkeepDue:
		return false
	}
	return true
}
