package physics

import (
	"math"
	"testing"
)

// ST-18 … ST-21: GUM (JCGM 100:2008), example H.1, calibration of an end gauge. The contributions are those
// of its table H.1, in nm; the freedom of each as printed there.
func TestGUMH1(t *testing.T) {
	const source = "JCGM 100:2008, H.1"
	u, freedom := Combined(
		Contribution{25, 18},    // standard
		Contribution{9.7, 25.6}, // measured difference
		Contribution{2.9, 50},   // difference of expansion coefficients
		Contribution{16.6, 2},   // difference of temperatures
	)
	near(t, "ST-19 u_c (nm)", u, 32, 0.5, source)
	near(t, "ST-19 u_c of the rounded contributions (nm)", u, 31.67, 0.005, "recomputed")
	near(t, "ST-20 ν_eff", freedom, 16.7, 0.1, source+" (from unrounded contributions; cut to 16 there)")
	k := CoverageFactor(0.99, math.Floor(freedom))
	near(t, "k for 99 %", k, 2.92, 0.005, source)
	near(t, "ST-21 U99 (nm)", k*u, 92.6, 0.2, source+" prints 93")
	near(t, "length (mm)", 50.000623+215e-6, 50.000838, 1e-9, source+", ST-18")
}

// Student's distribution: table G.2 of the GUM.
func TestCoverageFactor(t *testing.T) {
	const source = "JCGM 100:2008, table G.2"
	for _, tt := range []struct{ probability, freedom, want float64 }{
		{0.95, 1, 12.71}, {0.95, 2, 4.30}, {0.95, 5, 2.57}, {0.95, 10, 2.23}, {0.95, 20, 2.09}, {0.99, 10, 3.17}, {0.90, 3, 2.35},
	} {
		near(t, "k", CoverageFactor(tt.probability, tt.freedom), tt.want, 0.0051, source)
	}
	near(t, "k, infinite", CoverageFactor(0.95, math.Inf(1)), 1.960, 0.0005, source)
}

func TestTypeB(t *testing.T) {
	near(t, "rectangular", RectangularU(0.5), 0.5/math.Sqrt(3), 1e-15, "GUM 4.3.7")
	near(t, "triangular", TriangularU(0.5), 0.5/math.Sqrt(6), 1e-15, "GUM 4.3.9")
	if u, f := Combined(Contribution{U: 3}, Contribution{U: 4}); u != 5 || !math.IsInf(f, 1) {
		t.Errorf("3 and 4 combine to %g with %g degrees of freedom, want 5 and infinity", u, f)
	}
}
