package analysis

import (
	"math"
	"testing"
)

// No dirty solvent gives all of itself: an estimate by the heat that comes out near the charge or above it is brought down,
// and is no surer for it. One that is well below is left alone.
func TestWithinCharge(t *testing.T) {
	for _, tt := range []struct{ liters, u, most, least, leastU float64 }{
		{30, 5, 30, 30, 5},
		{51, 5, 51, 51, 5},    // 0.85 of it
		{58, 6, 55, 53, 6},    // half way: as good as what is usual
		{80, 8, 57, 57, 13.2}, // 0.95 at the most, and the rest of the way as a rectangular doubt (GUM 4.3.7): 23/√3
		{60.5, 1, 57, 57, 2},  // however sure
	} {
		liters, u := withinCharge(tt.liters, tt.u, 60)
		if liters > tt.most+1e-9 || liters < tt.least-1e-9 || u < tt.leastU || math.IsNaN(u) {
			t.Errorf("%g ± %g L of 60 L: %g ± %g L, want %g to %g ± %g at the least", tt.liters, tt.u, liters, u, tt.least, tt.most, tt.leastU)
		}
	}
}
