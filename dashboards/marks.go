package dashboards

import (
	"context"
	"slices"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// phaseMark is one phase of a run in a picture, idle left out.
type phaseMark struct {
	Name  analysis.Phase `json:"name"`
	Run   int            `json:"run"`
	Start time.Time      `json:"start"`
	End   *time.Time     `json:"end"` // null: it lasts
}

// faultMark is a fault in a picture.
type faultMark struct {
	Fault   analysis.Fault `json:"fault"`
	Channel string         `json:"channel,omitempty"`
	Run     int            `json:"run"`
	Raised  time.Time      `json:"raised"`
	Cleared *time.Time     `json:"cleared"` // null: it stands
}

// maxMarks bounds how many events a picture is marked with; at a year and three runs a day there are some
// ten thousand, too fine to be seen, and the newest are kept.
const maxMarks = 4000

// marks reads the phases and faults of a stretch of time from the journal: what began in it, and what
// began before and reached into it.
func (s *server) marks(ctx context.Context, still string, from, to time.Time) ([]phaseMark, []faultMark, error) {
	var events []analysis.Event
	q := archive.EntryQuery{Still: still, Kind: archive.EventEntry, To: to, Limit: 200, Newest: true}
	err := s.backwards(ctx, q, func(e archive.Entry) (bool, error) {
		ev, err := eventOf(e)
		if err != nil {
			return false, err
		}
		events = append(events, ev)
		// An idle still has nothing that reaches into the picture, so that is as far as one must look.
		rest := ev.Kind == analysis.PhaseEvent && ev.Phase == analysis.Idle && !ev.At.After(from)
		return !rest && len(events) < maxMarks, nil
	})
	if err != nil {
		return nil, nil, err
	}
	slices.Reverse(events)
	phases, faults := markEvents(events)
	overlaps := func(end *time.Time) bool { return end == nil || end.After(from) }
	phases = slices.DeleteFunc(phases, func(m phaseMark) bool { return !overlaps(m.End) })
	faults = slices.DeleteFunc(faults, func(m faultMark) bool { return !overlaps(m.Cleared) })
	return phases, faults, nil
}

// markEvents turns events in time order into stretches.
func markEvents(events []analysis.Event) ([]phaseMark, []faultMark) {
	phases, faults := []phaseMark{}, []faultMark{}
	for _, e := range events {
		at := stamp(e.At)
		switch {
		case e.Kind == analysis.PhaseEvent:
			if n := len(phases); n > 0 && phases[n-1].End == nil {
				phases[n-1].End = &at
			}
			if e.Phase != analysis.Idle {
				phases = append(phases, phaseMark{e.Phase, e.Run, at, nil})
			}
		case e.Kind == analysis.FaultEvent && e.State == analysis.Raised:
			faults = append(faults, faultMark{e.Fault, e.Channel, e.Run, at, nil})
		case e.Kind == analysis.FaultEvent:
			for i := len(faults) - 1; i >= 0; i-- {
				if f := &faults[i]; f.Fault == e.Fault && f.Channel == e.Channel && f.Cleared == nil {
					f.Cleared = &at
					break
				}
			}
		}
	}
	return phases, faults
}
