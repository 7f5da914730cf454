package analysis

import (
	"math"
	"testing"
)

func TestWithEntered(t *testing.T) {
	s := Summary{EnergyKWh: new(16.0), EnergyKWhU: new(0.2), RecoveredL: new(40.0), RecoveredLU: new(8.0), RecoveredKg: new(35.0), RecoveredBasis: "heat",
		KWhPerGal: new(1.5), KWhPerGalU: new(0.3), KWhPerKg: new(0.46), KWhPerKgU: new(0.1), MinimumKWhPerGal: new(0.4), RatioToMinimum: new(3.8)}
	got := s.WithEntered(50, 0.867)
	for _, tt := range []struct {
		name      string
		got       *float64
		want, tol float64
	}{
		{"litres", got.RecoveredL, 50, 0},
		// By hand: max(0.5, 2 % of 50)/√3 = 0.57735 and 1.2 % of 50/√3 = 0.34641; root of the squares 0.67330.
		{"their uncertainty", got.RecoveredLU, 0.67330, 1e-5},
		{"kilograms", got.RecoveredKg, 43.35, 1e-9},
		// 16 kWh / 50 L · 3.785411784 L/gal (NIST SP 811, appendix B.8).
		{"kWh/gal", got.KWhPerGal, 1.21133, 1e-5},
		// Relative: √((0.2/16)² + (0.67330/50)²) = 0.0183734 of that.
		{"its uncertainty", got.KWhPerGalU, 0.0222563, 1e-7},
		{"kWh/kg", got.KWhPerKg, 16 / 43.35, 1e-6},
		{"ratio to the minimum", got.RatioToMinimum, 1.21133 / 0.4, 1e-4},
	} {
		if tt.got == nil || math.Abs(*tt.got-tt.want) > tt.tol {
			t.Errorf("%s: %v, want %g ± %g", tt.name, deref(tt.got), tt.want, tt.tol)
		}
	}
	if got.RecoveredBasis != "entered" || *s.RecoveredL != 40 || s.RecoveredBasis != "heat" {
		t.Errorf("basis %q; the summary itself now says %g L from %s", got.RecoveredBasis, *s.RecoveredL, s.RecoveredBasis)
	}
	bare := Summary{RecoveredKg: new(1.0)}.WithEntered(12, 0)
	if bare.KWhPerGal != nil || bare.RecoveredKg != nil || bare.KWhPerKg != nil {
		t.Errorf("without energy and density: %v %v %v", bare.KWhPerGal, bare.RecoveredKg, bare.KWhPerKg)
	}
	if few := s.WithEntered(0.3, 0.867); few.KWhPerGal != nil || few.RatioToMinimum != nil {
		t.Error("a third of a litre says nothing about energy per gallon")
	}
	// By hand: the baseline of 0.3 kWh/L moves by 3 kWh for ten litres more, and u is √(0.4² + (0.3 · 0.67330)²).
	s.ExpectedKWh, s.ExpectedKWhU, s.ExpectedPerL = new(15.0), new(0.4), new(0.3)
	if e := s.WithEntered(50, 0.867); math.Abs(*e.ExpectedKWh-18) > 1e-9 || math.Abs(*e.ExpectedKWhU-0.448107) > 1e-6 || *s.ExpectedKWh != 15 {
		t.Errorf("to be expected for 50 L: %v ± %v kWh, want 18 ± 0.448107", deref(e.ExpectedKWh), deref(e.ExpectedKWhU))
	}
	s.ExpectedPerL = nil
	if e := s.WithEntered(50, 0.867); *e.ExpectedKWh != 15 {
		t.Errorf("a baseline that does not go by the volume: %v kWh, want 15", deref(e.ExpectedKWh))
	}
	if u := EnteredLU(5); math.Abs(u-math.Hypot(0.5, 0.06)/math.Sqrt(3)) > 1e-12 {
		t.Errorf("of five litres: %g L", u)
	}
}

func deref(v *float64) any {
	if v == nil {
		return "nothing"
	}
	return *v
}
