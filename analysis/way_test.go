package analysis

import (
	"math"
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

// The way to a share is asked with whatever the gauge says: nothing is known of a share of nothing, of none at all
// or of one past the marks, and between two marks it is in proportion.
func TestWayTimes(t *testing.T) {
	run := make([]float64, wayMarks)
	for i := range run {
		run[i] = 10 * float64(i)
	}
	tests := []struct {
		name  string
		share float64
		want  []float64
	}{
		{"the first mark, which the short run passed too", wayFirst, []float64{0, 0}},
		{"between the fifth and sixth, by the logarithm", wayFirst * math.Pow(wayStep, 4.5), []float64{45}},
		{"above the first", 1, nil},
		{"at the last", wayMark(wayMarks-1) * 0.999, nil},
		{"nothing", 0, nil},
		{"less than nothing", -0.1, nil},
		{"next to nothing", math.SmallestNonzeroFloat64, nil},
		{"not a number", math.NaN(), nil},
		{"without end", math.Inf(1), nil},
		{"without end below", math.Inf(-1), nil},
	}
	for _, tt := range tests {
		var space [keptRuns]float64
		got := wayTimes([][]float64{run, run[:3]}, tt.share, &space)
		if !slices.EqualFunc(got, tt.want, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
			t.Errorf("%s: share %v: %v s, want %v", tt.name, tt.share, got, tt.want)
		}
	}
}

// A gauge that falls to nothing in the middle of the pump-down, as a shorted one does, is a faulty gauge to speak of,
// and no way to anywhere.
func TestGaugeFallsToNothing(t *testing.T) {
	for _, left := range []float64{0, math.SmallestNonzeroFloat64, 1e-9} {
		s := defaultScene("jacket_temperature", "still_pressure")
		scans := s.scans()
		var es []Event
		a := New(s.still, Memory{})
		for _, sc := range scans {
			if sc.At.Sub(scans[0].At).Seconds() > s.lead+20 {
				sc.Values[1].V = left
			}
			es = append(es, a.Step(sc)...)
		}
		if !slices.ContainsFunc(es, func(e Event) bool {
			return e.State == Raised && (e.Fault == SignalImplausible || e.Fault == SignalOutOfRange || e.Fault == SignalStuck)
		}) {
			t.Errorf("a gauge at %v kPa absolute: no signal fault among %d events", left, len(es))
		}
	}
}

// A pump-down of a hot pot whose charge has no thermometer may take longer than one of a cold pot, or of one that is known.
func TestSlowInAHotPot(t *testing.T) {
	for _, tt := range []struct {
		name     string
		channels []string
		startC   float64
		want     float64 // s
	}{
		{"cold", []string{"jacket_temperature", "still_vacuum"}, 22, 140},
		{"hot", []string{"jacket_temperature", "still_vacuum"}, 98, 245},
		{"hot, charge measured", []string{"jacket_temperature", "charge_temperature", "still_vacuum"}, 98, 140},
	} {
		a := New(defaultScene(tt.channels...).still, Memory{})
		a.run.heat.startC = tt.startC
		if got := a.slowBeyond(100, 2); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: slow beyond %g s, want %g s for 100 ± 2 s", tt.name, got, tt.want)
		}
	}
}

// What the way told of a worn ejector is not forgotten when the pressure has levelled off: the causes are weighed again then.
func TestWayToldStays(t *testing.T) {
	var ss []*scene
	for run := range 5 {
		s := shortScene(uint64(run+1), counted...)
		if run == 4 {
			s.tau, s.pu = 3*s.tau, 30
		}
		ss = append(ss, s)
	}
	a := New(ss[0].still, Memory{})
	levelled := false
	for _, sc := range days(ss...) {
		a.Step(sc)
		if a.memory.Runs == 5 && a.run.vac.over && a.phase != Idle {
			levelled = true
			if leak, pump, because := a.speedEvidence(); !a.run.vac.way.told.weak || pump <= 1 || leak >= 1 {
				t.Fatalf("levelled off: factors %g for a leak, %g for the pump, %q; want it still told from a leak", leak, pump, because)
			}
		}
	}
	if !levelled {
		t.Error("the fifth run never levelled off")
	}
}
