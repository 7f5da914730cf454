package analysis

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A flow meter that shows a little of nothing, or cannot show less than none, adds no litres; and takes none away from
// what flows, least of all from the trickle at the end.
func TestFlowMeterAtNought(t *testing.T) {
	for _, tt := range []struct {
		name string
		show func(flow, noise float64) float64 // L/min
		most float64                           // error, share
	}{
		{"cannot show less than none", func(flow, noise float64) float64 { return math.Max(0, flow+noise) }, 0.002},
		{"shows a little of nothing", func(flow, noise float64) float64 { return flow + noise + 0.006 }, 0.025}, // it may stand while it flows: 2 % of 0.3 L/min
		{"exact", func(flow, noise float64) float64 { return flow }, 0.001},
	} {
		rng := rand.New(rand.NewPCG(3, 5))
		var z nought
		var said, real float64 // L
		for s := range 4 * 3600 {
			flow := 0.0
			if boils := s - 1800; boils > 0 {
				flow = 0.3 / (1 + math.Exp(float64(boils-7200)/400)) // bulk, then a tail
			}
			said += z.flows(tt.show(flow, 0.004*rng.NormFloat64()), s > 300) / 60
			real += flow / 60
		}
		if math.Abs(said-real) > tt.most*real {
			t.Errorf("%s: %.2f L, truly %.2f L", tt.name, said, real)
		}
	}
}
