package physics

import "testing"

// VAC-1 … VAC-3: the worked example of 40 CFR 1065.644 (inputs as printed there). The regulation prints
// its result as an image; 0.00030 mol/s is from memory, the digits below are plain arithmetic with R.
func TestLeakFromRise(t *testing.T) {
	const source = "40 CFR 1065.644, example"
	const seconds = 70 // 10:56:25 to 10:57:35
	n, ok := LeakMolPerS(2.0000, 25.300, 20, 50.600, 20, seconds)
	if !ok {
		t.Fatal("refused")
	}
	near(t, "VAC-1 (mol/s)", n, 2.96571e-4, 5e-10, source)
	near(t, "VAC-1 with the regulation's R (mol/s)", n*GasConstant/8.314472, 2.96570e-4, 5e-10, source)
	q, ok := LeakMbarLS(2.0000, 25.300, 20, 50.600, 20, seconds, 20)
	if !ok {
		t.Fatal("refused")
	}
	near(t, "VAC-2 (mbar·L/s)", q, 7.228571, 5e-7, source+", as V·Δp/Δt")
	near(t, "VAC-2 (Torr·L/s)", q*100/133.322368421, 5.421874, 5e-7, source)
	near(t, "VAC-2 (cm³/min at 0 °C, 101325 Pa)", n*GasConstant*273.15/101325*1e6*60, 398.84, 0.005, source)
	near(t, "VAC-3 (mbar·L/s)", MolPerSToMbarLS(n, 20), 7.228571, 5e-7, "identity q = n·R·T")
}

func TestLeakRefuses(t *testing.T) {
	for _, tt := range []struct {
		name                            string
		volume, p1, t1, p2, t2, seconds float64
	}{
		{"no volume", 0, 25, 20, 50, 20, 70},
		{"no time", 2, 25, 20, 50, 20, 0},
		{"backwards", 2, 25, 20, 50, 20, -1},
		{"below absolute zero", 2, 25, -300, 50, 20, 70},
	} {
		if q, ok := LeakMolPerS(tt.volume, tt.p1, tt.t1, tt.p2, tt.t2, tt.seconds); ok {
			t.Errorf("%s: %g mol/s, want a refusal", tt.name, q)
		}
	}
}

// A still that warms while it is closed gains pressure without a leak; the temperatures take it out.
func TestLeakWarming(t *testing.T) {
	q, ok := LeakMbarLS(85, 20, 20, 20*(323.15/293.15), 50, 600, 20)
	if !ok {
		t.Fatal("refused")
	}
	near(t, "leak of a tight still that warms (mbar·L/s)", q, 0, 1e-12, "ideal gas")
}
