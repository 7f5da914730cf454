package simstill

import (
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

var monday = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func newStill(t testing.TB, o Options) *Still {
	t.Helper()
	s, err := New(o, monday)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func one(name string) solvent.Mixture {
	return solvent.Mixture{Parts: []solvent.Part{{Name: name, Fraction: 1}}}
}

func start(t testing.TB, s *Still, b Batch) {
	t.Helper()
	if err := s.Start(b); err != nil {
		t.Fatal(err)
	}
}

// A toluene run of a full charge goes through all phases in order and takes the time and the energy that
// such stills take: three to four hours and 0.6 to 1.2 kWh a gallon (common experience, no source).
func TestRunTakesItsCourse(t *testing.T) {
	s := newStill(t, Options{Seed: 1})
	start(t, s, Batch{Solvent: one("toluene")})
	var phases []analysis.Phase
	var done Truth
	for at := monday; at.Before(monday.Add(6 * time.Hour)); at = at.Add(10 * time.Second) {
		s.Advance(at)
		tr := s.Truth()
		if len(phases) == 0 || phases[len(phases)-1] != tr.Phase {
			phases = append(phases, tr.Phase)
		}
		if tr.Phase == analysis.CoolDown {
			done = tr
		}
	}
	want := []analysis.Phase{analysis.PumpDown, analysis.HeatUp, analysis.Distilling, analysis.DryOut, analysis.CoolDown, analysis.Idle}
	if len(phases) < len(want) {
		t.Fatalf("phases %v, want %v", phases, want)
	}
	for i, p := range want {
		if got := phases[len(phases)-len(want)+i]; got != p {
			t.Fatalf("phases %v, want %v", phases, want)
		}
	}
	hours := done.HeatOffAt.Sub(done.RunStart).Hours()
	perGal := done.RunEnergyKWh / (done.RecoveredL / 3.785411784)
	t.Logf("%.2f h, %.1f L, %.3f kWh/gal", hours, done.RecoveredL, perGal)
	if hours < 2.5 || hours > 4.5 {
		t.Errorf("heat was on for %.2f h, want 2.5 to 4.5 h", hours)
	}
	if perGal < 0.6 || perGal > 1.2 {
		t.Errorf("%.3f kWh/gal, want 0.6 to 1.2", perGal)
	}
}

// What someone does while the still rests happens at that second, not at the last long step.
func TestStartIsPunctual(t *testing.T) {
	s := newStill(t, Options{})
	at := monday.Add(time.Hour + 7*time.Second)
	s.Advance(at)
	start(t, s, Batch{Solvent: one("toluene")})
	s.Advance(at.Add(time.Second))
	if tr := s.Truth(); !tr.RunStart.Equal(at) {
		t.Errorf("started at %s, the run began at %s", at.Format(time.TimeOnly), tr.RunStart.Format(time.TimeOnly))
	}
	if s.Now() != at.Add(time.Second) {
		t.Errorf("now is %v", s.Now())
	}
}

// Habits: a second run on a hot still is over sooner; a stop by hand leaves solvent behind; a lid opened on
// a hot wet charge lets vapour out that the gas detector smells; a still that rests long gets cold.
func TestHabits(t *testing.T) {
	run := func(s *Still, at time.Time, h Habit) Truth {
		s.Advance(at)
		start(t, s, Batch{Solvent: one("toluene"), Habit: h})
		var ended Truth
		for m := range 8 * 60 {
			s.Advance(at.Add(time.Duration(m) * time.Minute))
			if tr := s.Truth(); tr.Phase != analysis.Idle {
				ended = tr
			} else if m > 10 {
				break
			}
		}
		return ended
	}
	s := newStill(t, Options{Seed: 4})
	cold := run(s, monday, Habit{})
	hot := run(s, monday.Add(5*time.Hour), Habit{})
	if saved := cold.BoilAt.Sub(cold.RunStart) - hot.BoilAt.Sub(hot.RunStart); saved < 10*time.Minute {
		t.Errorf("on a hot still boiling began only %v sooner", saved)
	}
	if hot.RunEnergyKWh > cold.RunEnergyKWh-1 {
		t.Errorf("a hot still took %.1f kWh, a cold one %.1f kWh", hot.RunEnergyKWh, cold.RunEnergyKWh)
	}
	rested := run(s, monday.Add(60*time.Hour), Habit{})
	if d := rested.BoilAt.Sub(rested.RunStart) - cold.BoilAt.Sub(cold.RunStart); d < -4*time.Minute || d > 4*time.Minute {
		t.Errorf("after two days' rest boiling began %v later than on the first cold run", d)
	}

	smell := newStill(t, Options{Seed: 4, Sensors: Sensors{Set: Full}})
	stopped := run(smell, monday, Habit{Abort: 80 * time.Minute, Cool: time.Minute, OpenAfter: time.Minute})
	if stopped.LeftKg < 15 || !stopped.DryAt.IsZero() {
		t.Errorf("stopped by hand after 80 min, %.1f kg are left", stopped.LeftKg)
	}
	smell.Advance(stopped.At.Add(8 * time.Minute))
	if v, _ := smell.Value("gas_level"); v.V < 2 {
		t.Errorf("lid opened over hot solvent, the gas detector shows %.1f %% of LEL", v.V)
	}
}
