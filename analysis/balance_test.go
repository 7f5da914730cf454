package analysis

import (
	"testing"
	"time"
)

// TestBalance: a heater that cannot bring the oil to its set point while the charge boils shows no flank of full
// boiling; what the pot takes falls all the same when it is dry.
func TestBalance(t *testing.T) {
	two, power := []string{"jacket_temperature", "still_vacuum"}, []string{"jacket_temperature", "still_vacuum", "heater_power"}
	for _, tt := range []struct {
		name     string
		channels []string
		give     func(s *scene)
		dry      bool
		reason   string
	}{
		{"jacket alone", two, func(s *scene) {}, true, "the oil rests at 80 °C, runs up to 125 °C when nothing boils, and is held there"},
		{"jacket and power", power, func(s *scene) {}, true, "the same with the power measured"},
		{"power taken back near the set point", power, func(s *scene) { s.throttle = 10 }, true, "no ripple at all, but the power shows what goes in"},
		{"jacket alone, power taken back", two, func(s *scene) { s.throttle = 10; s.still.Recipe.JacketC = 75 }, false, "nothing shows what goes in"},
		{"stopped while it boils", two, func(s *scene) { s.still.Recipe.JacketC = 75; s.hold = 1200 }, false, "the cool-down begins with boiling"},
		{"stopped while it boils, power", power, func(s *scene) { s.still.Recipe.JacketC = 75; s.hold = 1200 }, false, "the same with the power measured"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene(tt.channels...)
			s.still.Heater.RatedKW, s.still.Recipe.JacketC, s.still.Recipe.Hold = 3.5, 125, 0
			s.hold, s.coolFor = 1800, 1800
			tt.give(s)
			es := fold(s.still, s.scans())
			sum := es[len(es)-1].Summary
			for _, e := range es {
				if e.Kind == RunEvent {
					sum = e.Summary
				}
			}
			if sum == nil {
				t.Fatalf("no run\n%s", lines(t, es))
			}
			if !tt.dry {
				if sum.DryAt != nil {
					t.Errorf("dry at %v by %s, want none (%s); left dry after %.1f min\n%s", sum.DryAt, sum.DryBasis, tt.reason, s.dryAt/60, lines(t, es))
				}
				return
			}
			if sum.DryAt == nil {
				t.Fatalf("no dry point, want %.1f min (%s)\n%s", s.dryAt/60, tt.reason, lines(t, es))
			}
			got := sum.DryAt.Sub(sceneStart.Add(time.Duration(s.lead * 1e9))).Minutes()
			if off := got - s.dryAt/60; off < -10 || off > 10 || sum.DryBasis != byBalance {
				t.Errorf("dry after %.1f min by %s, want %.1f by %s (%s)", got, sum.DryBasis, s.dryAt/60, byBalance, tt.reason)
			}
		})
	}
}
