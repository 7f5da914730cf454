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
