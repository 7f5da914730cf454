package analysis

import (
	"math"
	"slices"
	"testing"
)

// A bag that gives off its last solvent slowly goes on taking heat after the charge has left its boiling temperature: with
// the heater's power measured the dry point is found far nearer to where the scene's own books have it, and drying begins
// where the books have a tenth of the best rate.
func TestBagBoilsOutSlowly(t *testing.T) {
	for _, slowS := range []float64{900, 1500} {
		var errs []float64
		for _, channels := range [][]string{{"jacket_temperature", "still_pressure", "charge_temperature"},
			{"jacket_temperature", "still_pressure", "charge_temperature", "heater_power"}} {
			s := defaultScene(channels...)
			s.slowS, s.hold, s.coolFor = slowS, 5*3600, 1200
			before, rate, best, fades := 0.0, 0.0, 0.0, 0.0 // L, L in half a second, the same, s
			s.see = func(w *world) {
				rate += (w.over - before - rate) / 120
				before = w.over
				if best = math.Max(best, rate); rate > best/10 {
					fades = w.t - s.lead
				}
			}
			sum := lastSummary(fold(s.still, s.scans()))
			if sum.DryAt == nil {
				t.Fatalf("%v: no dry point, want one", channels)
			}
			errs = append(errs, sum.DryAt.Sub(sceneStart).Seconds()-s.lead-s.dryAt)
			i := slices.IndexFunc(sum.Phases, func(p PhaseSpan) bool { return p.Name == DryOut })
			if len(errs) < 2 {
				continue
			}
			if i < 0 {
				t.Fatalf("phases %v, want a %s", sum.Phases, DryOut)
			}
			if off := sum.Phases[i].Start.Sub(sceneStart).Seconds() - s.lead - fades; math.Abs(off) > 900 {
				t.Errorf("solvent that leaves in %g s: drying begins %.0f s from where only a tenth comes over, want within 900 s", slowS, off)
			}
		}
		if math.Abs(errs[1]) > math.Abs(errs[0])/2 {
			t.Errorf("solvent that leaves in %g s: the dry point is %.0f s off with the power, %.0f s without; want half at the most", slowS, errs[1], errs[0])
		}
	}
}
