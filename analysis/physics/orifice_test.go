package physics

import (
	"math"
	"testing"
)

// VAC-8 … VAC-14: isentropic flow of air (γ = 1.4, M = 28.9647 g/mol) from 1013.25 mbar and 20 °C, Cd = 1.
// 0.528 and 0.0404 are the figures of the gas-dynamics texts, "about 20 L/(s·cm²)" that of the vacuum
// handbooks (from memory); the further digits are plain arithmetic with the same formulae.
func TestHole(t *testing.T) {
	const source = "gas-dynamics texts, recomputed"
	const out, temp = 101.325, 20.0
	near(t, "VAC-8 critical ratio", CriticalRatio, math.Pow(2/2.4, 1.4/0.4), 1e-15, source)
	near(t, "VAC-8 critical ratio", CriticalRatio, 0.528282, 5e-7, source)
	near(t, "choked factor", chokedFactor, math.Sqrt(1.4)*math.Pow(2/2.4, 2.4/0.8), 1e-15, source)
	perArea := flowPerAreaMbarLS(0, out, temp) / 10 / (out * 1000) // m³/s per m² at the inlet condition
	near(t, "VAC-9 volume flow per area (m/s)", perArea, 198.631, 5e-4, source)
	// ṁ = q·M/(R·T)
	massFlow := func(q float64) float64 { return q / 10 * 0.0289647 / (GasConstant * 293.15) } // kg/s
	constant := massFlow(flowPerAreaMbarLS(0, out, temp)) * math.Sqrt(293.15) / (out * 1000)
	near(t, "VAC-10 mass flow constant (√K·s/m)", constant, 0.040415, 1e-6, source)
	q := Hole{1, 1}.FlowMbarLS(0, out, temp)
	near(t, "VAC-11 1.0 mm (mbar·L/s)", q, 158.07, 0.005, source)
	near(t, "VAC-11 1.0 mm (g/s)", massFlow(q)*1000, 0.18784, 5e-6, source)
	near(t, "VAC-11 1.0 mm (L/min of free air)", q/1013.25*60, 9.360, 5e-4, source)
	near(t, "VAC-12 0.5 mm (mbar·L/s)", Hole{0.5, 1}.FlowMbarLS(0, out, temp), 39.518, 5e-4, source)
	near(t, "VAC-12 0.1 mm (mbar·L/s)", Hole{0.1, 1}.FlowMbarLS(0, out, temp), 1.5807, 5e-5, source)
	near(t, "VAC-12 2.0 mm (mbar·L/s)", Hole{2, 1}.FlowMbarLS(0, out, temp), 632.29, 0.006, source)
	for _, tt := range []struct{ ratio, want float64 }{{0.6, 0.98859}, {0.7, 0.93222}, {0.8, 0.81880}, {0.9, 0.61715}} {
		near(t, "VAC-13 share of the choked flow", relativeFlow(tt.ratio), tt.want, 5e-6, source)
	}
	near(t, "VAC-14 1 mm into 100 L (mbar/min)", q/100*60, 94.84, 0.005, source)
}

func TestHoleInverse(t *testing.T) {
	for _, inside := range []float64{0, 5, 25, 53, 54, 70, 90, 101} {
		for _, mm := range []float64{0.1, 0.5, 1, 5} {
			q := Hole{mm, SharpEdgeCd}.FlowMbarLS(inside, 101.325, 20)
			back, ok := HoleForLeak(q, inside, 101.325, 20, SharpEdgeCd)
			if !ok {
				t.Fatalf("no hole for %g mbar·L/s at %g kPa", q, inside)
			}
			near(t, "hole (mm)", back, mm, 1e-12, "inverse")
		}
	}
	if mm, ok := HoleForLeak(10, 102, 101.325, 20, 1); ok {
		t.Errorf("a hole of %g mm lets air out of the surroundings into a higher pressure", mm)
	}
	if q := (Hole{1, 1}).FlowMbarLS(102, 101.325, 20); q != 0 {
		t.Errorf("%g mbar·L/s against the pressure", q)
	}
}

// The flow never grows with the pressure inside, and its slope is its derivative.
func TestFlowFactorShape(t *testing.T) {
	last := math.Inf(1)
	for r := 0.0; r <= 1.2; r += 0.001 {
		f := FlowFactor(r)
		if f > last || f < 0 || math.IsNaN(f) {
			t.Fatalf("ψ(%g) = %g after %g", r, f, last)
		}
		last = f
		if r > 0.54 && r < 0.999 {
			const h = 1e-6
			slope := (relativeFlow(r+h) - relativeFlow(r-h)) / (2 * h)
			near(t, "slope", relativeFlowSlope(r), slope, 1e-4*math.Abs(slope)+1e-6, "central difference")
		}
	}
}
