package analysis

import (
	"slices"
	"strings"
	"time"
)

// ActKind is what a person did that the analysis must know of.
type ActKind string

// The acts: an upkeep was done, so its counter begins anew; or what was learned about the present solvent
// is to be forgotten, because the still is no longer the one it was learned on.
const (
	ActDone  ActKind = "done"
	ActReset ActKind = "reset"
)

// Act is one thing a person did, with its place among the scans: after the scan of time After and before
// the next. With it a replay of the scans does the same thing at the same place.
type Act struct {
	Kind   ActKind   `json:"act"`
	Upkeep string    `json:"upkeep,omitempty"` // which, for done
	By     string    `json:"by"`
	Why    string    `json:"why,omitempty"`
	At     time.Time `json:"at"`             // by the clock
	After  time.Time `json:"after,omitzero"` // the last scan before it; zero: none
}

// Act takes what a person did, between two scans, and returns the events it caused, as Step does: faults
// that the act takes back are cleared. They have the time of the act.
func (a *Analyser) Act(act Act) []Event {
	a.events = a.events[:0]
	before := a.memory.Standing
	because := ""
	switch act.Kind {
	case ActDone:
		a.memory = a.memory.Done(act.Upkeep)
		a.memory.Upkeep = append(a.memory.Upkeep, Counter{Name: act.Upkeep, Since: act.At})
		because = "Done by " + act.By
	case ActReset:
		a.memory = a.memory.Reset()
		because = "Taken back with what was learned, by " + act.By
	}
	if act.Why != "" {
		because += ": " + strings.TrimSuffix(act.Why, ".")
	}
	if len(a.memory.Standing) == 0 {
		a.memory.Standing = nil
	}
	for _, s := range before {
		if a.stands(s.Fault, s.Channel) {
			continue
		}
		a.faults.list = slices.DeleteFunc(slices.Clone(a.faults.list), func(f StandingFault) bool {
			return f.Fault == s.Fault && f.Channel == s.Channel
		})
		a.events = append(a.events, Event{At: act.At, Still: a.still.Name, Run: s.Run, Kind: FaultEvent,
			Fault: s.Fault, Channel: s.Channel, State: Cleared, Text: because + "."})
	}
	return a.events
}

// Now is what the analyser would carry over a rest point made now: for looking at. What it refers to must
// not be changed.
func (a *Analyser) Now() Memory { return a.memory }
