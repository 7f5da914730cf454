package analysis

import (
	"slices"
	"testing"
)

// What the good runs looked like decides whether this one is short: a two-stage ejector, which slows down on the
// way as if it were to level off, is taken for a leak in its first run at the most, an ejector that is a little
// slower than usual in none, and a leak stands out from both while the pressure is still high.
func TestShortAgainstGoodRuns(t *testing.T) {
	tests := []struct {
		name   string
		change func(run int, s *scene)
		short  bool
		within float64 // s from the start of the run to the alarm
		reason string
	}{
		{"two stages", func(_ int, s *scene) { s.stageKPa = 30 }, false, 0, "as in every run before"},
		{"two stages and a leak", func(run int, s *scene) { s.stageKPa = 30; leakIn(5, 1.6, run, s) }, true, 45, "slower than in the runs before"},
		{"leak", func(run int, s *scene) { leakIn(5, 1.8, run, s) }, true, 35, "slower than in the runs before"},
		{"leak that leaves the target in reach", func(run int, s *scene) { leakIn(5, 0.9, run, s) }, false, 0, "the ejector takes it"},
		{"weaker air", func(run int, s *scene) {
			if run == 5 {
				s.tau *= 1.12
			}
		}, false, 0, "the target is reached all the same"},
	}
	for _, tt := range tests {
		es, _ := history(5, counted, tt.change)
		raised, _ := when(es, VacuumShort)
		if got := slices.Contains(raised, 5); got != tt.short {
			t.Errorf("%s: raised in runs %v, want it in run 5: %v (%s)", tt.name, raised, tt.short, tt.reason)
		}
		for _, run := range raised {
			if run > 1 && run < 5 {
				t.Errorf("%s: raised in run %d, which is like those before", tt.name, run)
			}
		}
		if after := alarmAfter(es, 5); tt.short && after > tt.within {
			t.Errorf("%s: raised %.0f s after the start, want %.0f s at the most", tt.name, after, tt.within)
		}
	}
}

func leakIn(which int, mm float64, run int, s *scene) {
	if run == which {
		s.holeMM = mm
	}
}

// alarmAfter is how long after the start of a run its vacuum was called short, s.
func alarmAfter(es []Event, run int) float64 {
	for _, e := range es {
		if e.Fault != VacuumShort || e.Run != run || e.State != Raised {
			continue
		}
		for _, p := range es {
			if p.Kind == PhaseEvent && p.Run == run {
				return e.At.Sub(p.At).Seconds()
			}
		}
	}
	return 0
}

// The vapour of a charge in a pot that is hot from the run before may hold the pressure up, until runs as warm have
// come to their target all the same.
func TestLeakInHotPot(t *testing.T) {
	hot := func(leaks int) func(int, *scene) {
		return func(run int, s *scene) {
			s.hotC = 80
			s.still.Solvent.Parts[0].Name = "ethyl acetate"
			leakIn(leaks, 1.15, run, s)
		}
	}
	for _, tt := range []struct {
		leaks  int
		raised bool
		reason string
	}{
		{1, false, "nobody knows what a charge holds here when the pot is hot"},
		{5, true, "four runs as hot came to the target"},
		{0, false, "no leak"},
	} {
		es, _ := history(5, nil, hot(tt.leaks))
		raised, _ := when(es, VacuumShort)
		if got := slices.Contains(raised, max(1, tt.leaks)); got != tt.raised || len(raised) > 1 {
			t.Errorf("leak in run %d: raised in %v, want it there: %v (%s)", tt.leaks, raised, tt.raised, tt.reason)
		}
	}
}

// A slow pump-down is told from a leak by where it falls behind: an ejector that is worn or fouled does so from the
// first, a leak only as the pressure falls. The causes are those named in the first alarm of the vacuum.
func TestCauseAgainstGoodRuns(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(run int, s *scene)
		want   Cause
	}{
		{"clogged silencer", func(run int, s *scene) {
			if run == 5 {
				s.tau *= 2.2
			}
		}, Ejector},
		{"worn nozzle", func(run int, s *scene) {
			if run == 5 {
				s.tau, s.pu = 1.8*s.tau, s.pu+9
			}
		}, Ejector},
		{"leak", func(run int, s *scene) { leakIn(5, 1.8, run, s) }, OpenToAir},
		{"large leak", func(run int, s *scene) { leakIn(5, 2.6, run, s) }, OpenToAir},
	} {
		es, _ := history(5, append([]string{"air_supply_pressure"}, counted...), tt.change)
		var first *Event
		for i, e := range es {
			if e.Run == 5 && e.State == Raised && (e.Fault == VacuumShort || e.Fault == VacuumSlow || e.Fault == VacuumNotPulled) {
				first = &es[i]
				break
			}
		}
		if first == nil || len(first.Likely) == 0 || first.Likely[0].Cause != tt.want {
			t.Errorf("%s: first alarm %+v, want its top cause to be %s", tt.name, first, tt.want)
		}
	}
}
