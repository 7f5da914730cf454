package physics

import (
	"math"
	"testing"
)

const inHgKPa = 3.386388640341 // conventional inch of mercury, NIST SP 811, appendix B

// ATM-1 … ATM-8. The pressures at 0, 500, 1000, … m are those of the tables of the U.S. Standard
// Atmosphere, 1976 (NOAA-S/T 76-1562, table I); the one at 1609.344 m and the vacuum figures follow from them.
func TestAtmosphere(t *testing.T) {
	const source = "U.S. Standard Atmosphere, 1976, table I"
	for _, tt := range []struct {
		name       string
		metres, pa float64
		bestInHg   float64 // highest vacuum a gauge can show
		left25Mbar float64 // absolute pressure at 25 inHg of vacuum; negative: not possible
	}{
		{"ATM-1 sea level", 0, 101325.0, 29.92, 166.7},
		{"ATM-2", 500, 95460.8, 28.19, 108.0},
		{"ATM-3", 1000, 89874.6, 26.54, 52.1},
		{"ATM-4", 1500, 84556.0, 24.97, -1},
		{"ATM-5 one mile", 1609.344, 83427.6, 24.64, -1},
		{"ATM-6", 2000, 79495.2, 23.47, -1},
		{"ATM-7", 2500, 74682.5, 22.05, -1},
		{"ATM-8", 3000, 70108.5, 20.70, -1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			kPa := AtmosphericKPa(tt.metres)
			near(t, "pressure (Pa)", kPa*1000, tt.pa, 0.051, source) // printed to 0.1 Pa
			near(t, "highest vacuum (inHg)", kPa/inHgKPa, tt.bestInHg, 0.0051, source)
			left := (kPa - 25*inHgKPa) * 10
			if tt.left25Mbar < 0 {
				if left >= 0 {
					t.Errorf("25 inHg leaves %.2f mbar, want: not possible", left)
				}
			} else {
				near(t, "absolute pressure at 25 inHg (mbar)", left, tt.left25Mbar, 0.051, source)
			}
			back, ok := AltitudeM(kPa)
			if !ok {
				t.Fatalf("no altitude for %g kPa", kPa)
			}
			near(t, "altitude back (m)", back, tt.metres, 1e-6, "inverse")
		})
	}
	near(t, "exponent", atmosphereEx, 5.2558761, 5e-8, source)
}

func TestAtmosphereEnds(t *testing.T) {
	for _, tt := range []struct {
		name    string
		kPa     float64
		ok      bool
		because string
	}{
		{"nothing", 0, false, "no altitude of the lowest layer has no air"},
		{"below the layer", 200, false, "deeper than 5 km below the sea"},
		{"above the layer", 20, false, "higher than 11 km"},
		{"not a number", math.NaN(), false, "a bad reading must not become an altitude"},
		{"top", AtmosphericKPa(11000), true, "the ends belong to the layer"},
		{"bottom", AtmosphericKPa(-5000), true, "the ends belong to the layer"},
	} {
		if _, ok := AltitudeM(tt.kPa); ok != tt.ok {
			t.Errorf("%s: ok %v, want %v: %s", tt.name, ok, tt.ok, tt.because)
		}
	}
	if AtmosphericKPa(20000) != AtmosphericKPa(11000) || AtmosphericKPa(-9000) != AtmosphericKPa(-5000) {
		t.Error("altitudes outside the layer must be taken as its nearest end")
	}
}
