package analysis

import (
	"math"
	"math/rand/v2"
	"testing"
)

// receiver is a receiver that a curve has filled, L, read once a minute.
func receiver(curve func(min float64) float64, minutes int) *course {
	c := &course{}
	for i := range minutes {
		s := spot{t: 60 * float64(i)}
		s.v[overL] = curve(float64(i))
		c.spots = append(c.spots, s)
	}
	return c
}

// A receiver that fills to 20 L, the last of it by and by, stands at 19.9 L for good after 30·ln(200) = 159 min.
func TestPasses(t *testing.T) {
	fills := func(min float64) float64 { return 20 * (1 - math.Exp(-min/30)) }
	want := 30 * math.Log(200)
	tests := []struct {
		name    string
		curve   func(min float64, rng *rand.Rand) float64
		within  float64 // min
		minutes int
		reason  string
	}{
		{"exact", func(min float64, _ *rand.Rand) float64 { return fills(min) }, 0.01, 400, "between spots by a line"},
		{"noisy", func(min float64, rng *rand.Rand) float64 { return fills(min) + 0.03*rng.NormFloat64() }, 8, 400,
			"0.03 L of noise where 0.0033 L/min comes over: one in two hundred later spots lies below, and decides nothing"},
		{"gaps", func(min float64, rng *rand.Rand) float64 {
			if rng.IntN(3) == 0 {
				return math.NaN()
			}
			return fills(min)
		}, 0.2, 400, "what was not read is not missed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			worst := 0.0
			for seed := range uint64(50) {
				rng := rand.New(rand.NewPCG(seed, 1))
				c := receiver(func(min float64) float64 { return tt.curve(min, rng) }, tt.minutes)
				at, ok := c.passes(overL, 19.9, 0, 1e9)
				if !ok {
					t.Fatal("it never comes there")
				}
				worst = max(worst, math.Abs(at/60-want))
			}
			if worst > tt.within {
				t.Errorf("off by %.2f min at worst, want %.2f (%s)", worst, tt.within, tt.reason)
			}
		})
	}
	if at, ok := receiver(fills, 150).passes(overL, 19.9, 0, 1e9); ok {
		t.Errorf("19.9 L after %.0f min, before it comes there", at/60)
	}
	if at, ok := receiver(func(float64) float64 { return 20 }, 9).passes(overL, 19.9, 120, 1e9); !ok || at != 120 {
		t.Errorf("always above: %.0f s, %v, want from the beginning, 120 s", at, ok)
	}
	if _, ok := (&course{}).passes(overL, 1, 0, 1); ok {
		t.Error("nothing was ever read, and it comes there")
	}
}
