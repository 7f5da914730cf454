package physics

import (
	"math"
	"testing"
)

// ST-1 … ST-3: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, worked example.
func TestEWMA(t *testing.T) {
	const source = "NIST/SEMATECH e-Handbook 6.3.2.4"
	e := EWMA{Center: 50, SD: 2.0539, Lambda: 0.3, K: 3}
	x := []float64{52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99}
	for i := range x {
		near(t, "EWMA", e.Add(x[i]), want[i], 0.0051, source)
		if e.Signal() {
			t.Errorf("signal at %d; %s has none", i+1, source)
		}
	}
	low, high := e.Limits()
	near(t, "ST-1 upper limit", high, 52.5884, 0.00006, source)
	near(t, "ST-2 lower limit", low, 47.4115, 0.0001, source+" (cut, not rounded)")
	before := e.Value()
	if e.Add(math.NaN()) != before {
		t.Error("a missing value moved the average")
	}
	e.Add(60)
	e.Add(60)
	if !e.Signal() {
		t.Error("no signal far outside the limits")
	}
}

// ST-4 … ST-7: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3, worked example.
func TestCUSUM(t *testing.T) {
	const source = "NIST/SEMATECH e-Handbook 6.3.2.3"
	c := CUSUM{Target: 325, K: 0.3175, H: 4.1959}
	x := []float64{
		324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
		324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
	}
	high := []float64{0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.9400, 7.4475, 10.6300, 11.9875, 14.4450, 16.0025, 19.0350}
	low := []float64{0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.7150, 0.1725, 0.2550, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0}
	sums := map[int]float64{1: -0.0750, 12: -2.5000, 20: 19.0750}
	first := 0
	for i := range x {
		c.Add(x[i])
		near(t, "ST-4 S_hi", c.High, high[i], 5e-5, source)
		near(t, "ST-5 S_lo", c.Low, low[i], 5e-5, source)
		if want, ok := sums[i+1]; ok {
			near(t, "ST-6 plain sum", c.Sum, want, 1e-9, source)
		}
		if first == 0 && c.Signal() != 0 {
			first = i + 1
		}
	}
	if first != 14 {
		t.Errorf("ST-7: first signal at %d, want 14 (%s)", first, source)
	}
	if c.Signal() != 1 || c.HighRun != 8 {
		t.Errorf("signal %d, shift began %d values ago; want 1 and 8", c.Signal(), c.HighRun)
	}
}

// EB table: the CUSUM of an energy baseline by hand, in the way of ISO 50006 (actual minus expected).
func TestCUSUMEnergy(t *testing.T) {
	var c CUSUM
	x := []float64{8, 10, 12, 6, 10, 8}
	e := []float64{7.3, 8.9, 10.6, 6.9, 9.4, 8.2}
	want := []float64{-0.1276, 0.1333, 0.8829, 1.5667, 2.3276, 3.1000}
	for i := range x {
		c.Add(e[i] - (2711.0/1050 + 106.0/175*x[i]))
		near(t, "CUSUM (kWh)", c.Sum, want[i], 0.00006, "exact fractions")
	}
}
