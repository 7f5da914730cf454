package simstill

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The same seed, plan and commands give the same readings to the last bit, however Advance is called; and
// reading changes nothing.
func TestSameHoweverAdvanced(t *testing.T) {
	plan := []Step{
		{At: monday.Add(20 * time.Minute), Batch: &Batch{Solvent: one("toluene"), Litres: 50, Habit: Habit{Prepare: 7 * time.Minute}}},
		{At: monday.Add(90*time.Minute + 300*time.Millisecond), Fault: Leak, Size: 1.2},
		{At: monday.Add(2 * time.Hour), Fault: NoiseSpikes, Size: 0.1},
		{At: monday.Add(3 * time.Hour), Clear: Leak},
		{At: monday.Add(26*time.Hour + 3*time.Second), Batch: &Batch{Solvent: one("m-xylene"), JacketC: 165}},
	}
	build := func() *Still {
		s := newStill(t, Options{Seed: 42, Sensors: Sensors{Set: Full}})
		s.Schedule(plan)
		return s
	}
	whole := build()
	rng := rand.New(rand.NewPCG(1, 2))
	cut := build()
	at := monday
	for _, hours := range []float64{0.1, 0.5, 2.5, 5, 9, 25.9, 26.2, 29, 36} {
		end := monday.Add(time.Duration(hours * float64(time.Hour)))
		whole.Advance(end)
		for at.Before(end) {
			at = at.Add(time.Duration(rng.Int64N(int64(90 * time.Second))))
			if at.After(end) {
				at = end
			}
			cut.Advance(at)
			cut.Truth()
			if _, err := cut.Read(t.Context(), 1, 3, 0, 20); err != nil {
				t.Fatal(err)
			}
		}
		cut.Advance(end.Add(-time.Hour)) // back in time: nothing happens
		for _, c := range whole.Layout() {
			a, _ := whole.Value(c.Name)
			b, _ := cut.Value(c.Name)
			if math.Float64bits(a.V) != math.Float64bits(b.V) || a.Quality != b.Quality {
				t.Fatalf("after %g h: %s is %v in one go and %v in pieces", hours, c.Name, a, b)
			}
		}
	}
	if whole.Skipped() != 0 {
		t.Errorf("%d planned steps were skipped", whole.Skipped())
	}
}

func TestSeedsDiffer(t *testing.T) {
	a, b := newStill(t, Options{Seed: 1}), newStill(t, Options{Seed: 2})
	same := 0
	for i := range 100 {
		a.Advance(monday.Add(time.Duration(i) * 10 * time.Second))
		b.Advance(monday.Add(time.Duration(i) * 10 * time.Second))
		va, _ := a.Value("jacket_temperature")
		vb, _ := b.Value("jacket_temperature")
		if va.V == vb.V {
			same++
		}
	}
	if same > 5 {
		t.Errorf("%d of 100 readings are the same with another seed", same)
	}
}

func TestScheduleSkipsWhatCannotBe(t *testing.T) {
	s := newStill(t, Options{})
	s.Schedule([]Step{
		{At: monday.Add(time.Minute), Batch: &Batch{Solvent: one("toluene")}},
		{At: monday.Add(2 * time.Minute), Batch: &Batch{Solvent: one("toluene")}},     // a run is going on
		{At: monday.Add(3 * time.Minute), Fault: "gremlins"},                          // no such fault
		{At: monday.Add(4 * time.Minute), Fault: BrokenWire + ":barometric_pressure"}, // not fitted
	})
	s.Advance(monday.Add(5 * time.Minute))
	if s.Skipped() != 3 {
		t.Errorf("%d steps skipped, want 3", s.Skipped())
	}
	if err := s.Start(Batch{Solvent: one("toluene")}); err == nil {
		t.Error("a second batch was started during a run")
	}
}

func TestStartRefusesNonsense(t *testing.T) {
	s := newStill(t, Options{})
	for name, b := range map[string]Batch{
		"no solvent":      {},
		"unknown solvent": {Solvent: one("dragon's breath")},
		"overfull":        {Solvent: one("toluene"), Litres: 80},
		"all dirt":        {Solvent: one("toluene"), Dirt: 0.95},
		"beyond the oil":  {Solvent: one("toluene"), JacketC: 400},
	} {
		if err := s.Start(b); err == nil {
			t.Errorf("%s: started", name)
		}
	}
	if _, err := New(Options{Equipment: Equipment{Phases: 2, HeaterKW: 1000}}, monday); err == nil {
		t.Error("a still with two supply phases and a megawatt heater was made")
	}
}
