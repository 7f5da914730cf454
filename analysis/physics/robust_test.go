package physics

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestMedianMAD(t *testing.T) {
	for _, tt := range []struct {
		name       string
		v          []float64
		median, sd float64
	}{
		{"odd", []float64{3, 1, 2}, 2, madScale},
		{"even", []float64{4, 1, 3, 2}, 2.5, madScale},
		// Textbook example (e.g. the article on the median absolute deviation): MAD of 1 1 2 2 4 6 9 is 1.
		{"textbook", []float64{1, 1, 2, 2, 4, 6, 9}, 2, madScale},
		{"one", []float64{7}, 7, 0},
		{"a missing value", []float64{math.NaN(), 7, 7}, 7, 0},
	} {
		m, sd, ok := MAD(tt.v)
		if !ok || m != tt.median || math.Abs(sd-tt.sd) > 1e-12 {
			t.Errorf("%s: %g ± %g, want %g ± %g", tt.name, m, sd, tt.median, tt.sd)
		}
	}
	if _, ok := Median(nil); ok {
		t.Error("a median of nothing")
	}
	near(t, "scale", madScale*math.Sqrt2*math.Erfinv(0.5), 1, 1e-15, "1/Φ⁻¹(3/4)")
}

// Sen's own example, data and results typed from memory; the slope, the median of 21, is easily checked by hand.
func TestTheilSen(t *testing.T) {
	x := []float64{1, 2, 3, 4, 10, 12, 18}
	y := []float64{9, 15, 19, 20, 45, 55, 78}
	tr, err := TheilSen(x, y, 0.93)
	if err != nil {
		t.Fatal(err)
	}
	// b* = 4, interval (26/7, 35/8) with 93 % confidence.
	near(t, "slope", tr.Slope, 4, 1e-12, "Sen, J. Am. Stat. Assoc. 63 (1968) 1379, section 5")
	near(t, "low", tr.Low, 26.0/7, 0.1, "Sen (1968): exact tables there, the normal approximation here")
	near(t, "high", tr.High, 35.0/8, 0.1, "Sen (1968): exact tables there, the normal approximation here")
}

func TestTheilSenResists(t *testing.T) {
	x, y := make([]float64, 40), make([]float64, 40)
	for i := range x {
		x[i], y[i] = float64(i), 3+0.5*float64(i)
		if i%4 == 1 { // a quarter of the points are nonsense
			y[i] = 1000
		}
	}
	tr, err := TheilSen(x, y, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope with a quarter of nonsense", tr.Slope, 0.5, 1e-9, "breakdown point of 29 %")
	if _, err := TheilSen([]float64{1, 1}, []float64{2, 3}, 0.9); err == nil {
		t.Error("one x: want an error")
	}
}

// The interval covers the true slope as often as it says.
func TestTheilSenCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 9))
	const trials = 400
	var inside int
	for range trials {
		var x, y []float64
		for i := range 15 {
			x, y = append(x, float64(i)), append(y, 2*float64(i)+rng.NormFloat64())
		}
		tr, err := TheilSen(x, y, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		if tr.Low <= 2 && 2 <= tr.High {
			inside++
		}
	}
	// 400 trials of 0.9 have a standard deviation of 1.5 %.
	if share := float64(inside) / trials; share < 0.855 || share > 0.955 {
		t.Errorf("the 90 %% interval covered the slope in %.3f of %d trials", share, trials)
	}
}
