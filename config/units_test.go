package config

import (
	"math"
	"strings"
	"testing"

	"luted/analysis"
)

// TestExactFactors checks the table of units against definitions. Expected values are as printed in the
// source, in the unit of the source.
func TestExactFactors(t *testing.T) {
	const sp811 = "NIST Special Publication 811 (2008), appendix B"
	for _, tt := range []struct {
		id       string
		quantity string
		d        analysis.Dimension
		want     float64 // in the unit per, an inside unit times perInside
		per      float64 // inside units in one unit of want
		tol      float64 // relative
		source   string
	}{
		{"UNIT-1 atm", "1 atm", analysis.AbsolutePressure, 101325, 1e-3, 1e-15, sp811},
		{"UNIT-2 bar", "1 bar", analysis.AbsolutePressure, 100000, 1e-3, 1e-15, sp811},
		{"UNIT-2 mbar", "1 mbar", analysis.AbsolutePressure, 100, 1e-3, 1e-15, sp811},
		{"UNIT-3 torr", "1 torr", analysis.AbsolutePressure, 133.322368421, 1e-3, 1e-11, "101325/760 Pa by definition"},
		{"UNIT-4 mmHg", "1 mmHg", analysis.AbsolutePressure, 133.322387415, 1e-3, 1e-15, "13.5951 g/cm³ × 9.80665 m/s² × 1 mm, exact"},
		{"UNIT-5 inHg", "1 inHg", analysis.Vacuum, 3386.388640341, 1e-3, 1e-15, "25.4 mmHg, exact"},
		{"UNIT-5 inHg as printed", "1 inHg", analysis.Vacuum, 3386.389, 1e-3, 2e-7, sp811},
		{"UNIT-6 inH2O", "1 inH2O", analysis.Vacuum, 249.08891, 1e-3, 1e-15, "1000 kg/m³ × 9.80665 m/s² × 25.4 mm, exact"},
		{"UNIT-7 psi", "1 psi", analysis.GaugePressure, 6894.757293168, 1e-3, 1e-13, sp811},
		{"UNIT-8 atm in inHg", "1 atm", analysis.AbsolutePressure, 29.9212556, 3.386388640341, 1e-9, "101325 Pa / 3386.388640341 Pa"},
		{"UNIT-9 air supply", "100 psi", analysis.GaugePressure, 689.4757, 1, 1e-7, sp811},
		{"UNIT-10 gallon", "1 gal", analysis.Volume, 3.785411784, 1, 1e-15, "231 in³, exact"},
		{"UNIT-11 kWh", "1 kWh", analysis.Energy, 3600000, 1 / 3.6e6, 1e-15, sp811},
		{"UNIT-11 joule", "3600000 J", analysis.Energy, 1, 1, 1e-15, sp811},
		{"UNIT-12 Btu", "1 Btu", analysis.Energy, 1055.05585262, 1 / 3.6e6, 1e-15, "International Table Btu, exact"},
		{"UNIT-12 kWh in Btu", "3412.141633 Btu", analysis.Energy, 1, 1, 1e-10, sp811},
		{"UNIT-12 Btu/h", "3412.141633 Btu/h", analysis.Power, 1, 1, 1e-10, sp811},
		{"pound", "1 lb", analysis.Mass, 0.45359237, 1, 1e-15, "international pound, exact"},
		{"foot", "1 ft", Length, 0.3048, 1, 1e-15, "international foot, exact"},
		{"horsepower", "1 hp", analysis.Power, 745.6999, 1e-3, 1e-7, sp811},
		{"water boils", "212 °F", analysis.Temperature, 100, 1, 1e-14, "Fahrenheit's scale"},
		{"scales meet", "-40 °F", analysis.Temperature, -40, 1, 1e-14, "Fahrenheit's scale"},
		{"kelvin", "273.15 K", analysis.Temperature, 0, 1, 0, "ITS-90"},
		{"difference", "9 °F", TemperatureDifference, 5, 1, 1e-15, "Fahrenheit's scale: no offset in a difference"},
	} {
		t.Run(tt.id, func(t *testing.T) {
			q, err := ParseQuantity(tt.quantity, tt.d)
			if err != nil {
				t.Fatal(err)
			}
			got := q.Inside() / tt.per
			if math.Abs(got-tt.want) > tt.tol*math.Max(math.Abs(tt.want), 1e-300) {
				t.Errorf("%s = %.15g, want %.15g (%s)", tt.quantity, got, tt.want, tt.source)
			}
			if back := q.Unit.FromInside(q.Inside()); math.Abs(back-q.Value) > 1e-13*math.Max(math.Abs(q.Value), 1) {
				t.Errorf("and back: %.17g, want %.17g", back, q.Value)
			}
		})
	}
}

// TestBtuIsInternational holds UNIT-13: the thermochemical Btu (1054.350264 J) is another unit.
func TestBtuIsInternational(t *testing.T) {
	q, err := ParseQuantity("1 Btu", analysis.Energy)
	if err != nil {
		t.Fatal(err)
	}
	if j := q.Inside() * 3.6e6; math.Abs(j-1054.350264) < 0.5 {
		t.Errorf("a Btu is %v J, the thermochemical one", j)
	}
}

// TestGaugeVacuum is the table of gauge readings at sea level: p_abs = 101325 Pa − vacuum (recomputed
// from the exact inHg of UNIT-5).
func TestGaugeVacuum(t *testing.T) {
	for _, tt := range []struct {
		id, vacuum, unit string
		want, tol        float64
	}{
		{"UNIT-14", "20 inHg", "mbar", 335.972, 5e-4},
		{"UNIT-15", "25 inHg", "mbar", 166.653, 5e-4},
		{"UNIT-15", "25 inHg", "torr", 125.000, 5e-4},
		{"UNIT-16", "26 inHg", "mbar", 132.789, 5e-4},
		{"UNIT-16", "26 inHg", "torr", 99.600, 5e-4},
		{"UNIT-17", "28 inHg", "mbar", 65.061, 5e-4},
		{"UNIT-18", "29.92 inHg", "mbar", 0.0425, 5e-5},
	} {
		c := mustParse(t, "stills: {a: {vacuum: {target: "+tt.vacuum+"}}}")
		u, err := ParseUnit(tt.unit, analysis.AbsolutePressure)
		if err != nil {
			t.Fatal(err)
		}
		near(t, tt.id+" "+tt.vacuum+" in "+tt.unit+" absolute", u.FromInside(c.Stills[0].Equipment.Vacuum.TargetKPa), tt.want, tt.tol)
	}
}

func TestParseUnitSpellings(t *testing.T) {
	for _, tt := range []struct {
		written string
		d       analysis.Dimension
		want    string
	}{
		{"degF", analysis.Temperature, "°F"},
		{"ºC", analysis.Temperature, "°C"},
		{"℉", analysis.Temperature, "°F"},
		{"psia", analysis.AbsolutePressure, "psi abs"},
		{"kPa(abs)", analysis.AbsolutePressure, "kPa abs"},
		{"mbar  absolute", analysis.AbsolutePressure, "mbar abs"},
		{"psig", analysis.GaugePressure, "psi gauge"},
		{"barg", analysis.GaugePressure, "bar gauge"},
		{"inHg vacuum", analysis.Vacuum, "inHg vac"},
		{"\"Hg", analysis.Vacuum, "inHg"},
		{"gpm", analysis.Flow, "gal/min"},
		{"l", analysis.Volume, "L"},
		{"% LEL", analysis.Percent, "%LEL"},
		{" rpm ", analysis.Other, "rpm"},
		{"1/min", analysis.Other, "1/min"},
		{"", analysis.Switch, ""},
	} {
		u, err := ParseUnit(tt.written, tt.d)
		if err != nil || u.Symbol != tt.want || u.Dimension != tt.d {
			t.Errorf("ParseUnit(%q, %s) = %+v, %v; want %s", tt.written, tt.d, u, err, tt.want)
		}
		if again, err := ParseUnit(u.Symbol, tt.d); err != nil || again != u {
			t.Errorf("ParseUnit(%q, %s) = %+v, %v; want itself", u.Symbol, tt.d, again, err)
		}
	}
}

// TestUnitTable looks for mistakes in the table itself.
func TestUnitTable(t *testing.T) {
	for d, rows := range unitTable {
		seen := map[string]string{}
		for _, r := range rows {
			if r.factor <= 0 {
				t.Errorf("%s: %s has factor %v", d, r.symbol, r.factor)
			}
			for _, s := range append([]string{r.symbol}, r.aliases...) {
				if other, again := seen[s]; again {
					t.Errorf("%s: %q is both %s and %s", d, s, other, r.symbol)
				}
				seen[s] = r.symbol
				if s != strings.Join(strings.Fields(s), " ") {
					t.Errorf("%s: %q is never matched: spaces are folded first", d, s)
				}
			}
		}
		if len(commonUnits(d)) == 0 {
			t.Errorf("%s: no unit to name in messages", d)
		}
		if _, err := ParseQuantity(example(d), d); err != nil {
			t.Errorf("%s: the example %q is refused: %v", d, example(d), err)
		}
		for _, disp := range []analysis.Display{analysis.US, analysis.Metric} {
			if u := DisplayUnit(d, disp); u.Symbol == "" || u.Dimension != d {
				t.Errorf("%s, %s: display unit %+v", d, disp, u)
			}
		}
		if inside := d.InsideUnit(); inside != "" {
			if u, err := ParseUnit(inside, d); err != nil || u.Factor != 1 || u.Offset != 0 {
				t.Errorf("%s: inside unit %s is %+v, %v", d, inside, u, err)
			}
		}
	}
}

func TestParseUnitRefuses(t *testing.T) {
	for _, tt := range []struct {
		written string
		d       analysis.Dimension
		says    string
	}{
		{"inhg", analysis.Vacuum, `no unit "inhg"; did you mean inHg? (inHg, kPa, mbar, psi)`},
		{"kw", analysis.Power, "did you mean kW?"},
		{"furlong", analysis.Power, "write one of kW, W"},
		{"kPa abs", analysis.Vacuum, "an absolute pressure"},
		{"psig", analysis.AbsolutePressure, "above the surroundings"},
		{"inHg vac", analysis.GaugePressure, "below the surroundings"},
		{"", analysis.Temperature, "no unit"},
		{"°C", analysis.Switch, "a switch has no unit"},
		{"a]b", analysis.Other, "brackets"},
		{"3x", analysis.Other, "like a number"},
		{"m", "speed", "no units of speed"},
	} {
		u, err := ParseUnit(tt.written, tt.d)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("ParseUnit(%q, %s) = %+v, %v; want an error with %q", tt.written, tt.d, u, err, tt.says)
		}
	}
}
