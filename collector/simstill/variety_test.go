package simstill

import (
	"fmt"
	"testing"
	"time"

	"luted/analysis"
)

// A healthy case runs as planned: every run pumps down to where its charge lets it, boils, comes over,
// ends dry, and nothing much is lost.
func TestHealthyRunsAreHealthy(t *testing.T) {
	seeds := 12
	if testing.Short() {
		seeds = 4
	}
	solvents, sets := map[string]bool{}, map[SensorSet]bool{}
	for seed := range seeds {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			c, err := Healthy(uint64(seed), monday, 2)
			if err != nil {
				t.Fatal(err)
			}
			s, err := New(c.Options, c.Start)
			if err != nil {
				t.Fatal(err)
			}
			parsed(t, s)
			s.Schedule(c.Plan)
			solvents[c.Options.Stated.Solvent], sets[c.Options.Sensors.Set] = true, true
			last := s.Truth()
			for at := c.Start; at.Before(c.End); at = at.Add(time.Minute) {
				s.Advance(at)
				tr := s.Truth()
				if tr.Phase == analysis.Idle && last.Phase != analysis.Idle {
					checkHealthy(t, last)
				}
				last = tr
			}
			if last.Run != c.Runs || last.Phase != analysis.Idle || s.Skipped() != 0 {
				t.Errorf("%d of %d runs done, %s, %d steps skipped", last.Run, c.Runs, last.Phase, s.Skipped())
			}
		})
	}
	if seeds >= 12 && (len(solvents) < 6 || len(sets) < 3) {
		t.Errorf("little variety: solvents %v, sensors %v", solvents, sets)
	}
}

func checkHealthy(t *testing.T, tr Truth) {
	t.Helper()
	total := tr.LoadedL
	switch {
	case tr.BoilAt.IsZero():
		t.Errorf("run %d never boiled: %+v", tr.Run, tr)
	case tr.LeftKg > 0.01*(tr.RecoveredKg+tr.LeftKg):
		t.Errorf("run %d ended with %.2f kg in the bag", tr.Run, tr.LeftKg)
	case tr.RecoveredL < 0.93*total:
		t.Errorf("run %d: %.1f L of %.1f L recovered, %.2f kg lost", tr.Run, tr.RecoveredL, total, tr.LostKg)
	case !tr.DryAt.IsZero() && tr.HeatOffAt.Sub(tr.DryAt) > 45*time.Minute:
		t.Errorf("run %d was heated %v after it was dry", tr.Run, tr.HeatOffAt.Sub(tr.DryAt))
	}
	if h := tr.HeatOffAt.Sub(tr.RunStart); h < time.Hour || h > 8*time.Hour {
		t.Errorf("run %d was heated for %v", tr.Run, h)
	}
	if len(tr.Faults) != 0 {
		t.Errorf("faults %v", tr.Faults)
	}
}
