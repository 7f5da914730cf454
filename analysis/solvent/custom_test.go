package solvent

import (
	"math"
	"strings"
	"testing"
)

// A solvent made from a boiling point and a heat of vaporisation alone (both from CRC's tables, as a data
// sheet would give them) against the whole vapour pressure curve of the handbook.
func TestCustomAgainstTable(t *testing.T) {
	worst := map[float64]float64{}
	worstAt := map[float64]string{}
	var sum2, n float64
	for _, row := range tsv(t, "testdata/property_checks.tsv") {
		tbK, ok1 := number(t, row, "tb_K_crc")
		hvap, ok2 := number(t, row, "hvap_crc_tb_kJ_mol")
		name := row["name"]
		if !ok1 || !ok2 {
			continue
		}
		known := find(t, name)
		c, err := NewCustom(Custom{
			Name: "from the data sheet", MolarMass: known.MolarMassGMol(), BoilingC: tbK - zeroCelsiusK,
			HeatOfVaporizationKJPerKg: hvap / known.MolarMassGMol() * 1000,
		})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		atBoiling, ok := c.BoilingC(101.325)
		if !ok {
			t.Fatalf("%s: does not boil at sea level", name)
		}
		near(t, name+" (°C)", atBoiling, tbK-zeroCelsiusK, 1e-9, "its own data sheet")
		for _, kPa := range []float64{5, 10, 20, 50} {
			want, ok := known.BoilingC(kPa)
			if !ok {
				continue
			}
			got, ok := c.BoilingC(kPa)
			if !ok {
				t.Errorf("%s at %g kPa: refused", name, kPa)
			}
			// What the two boiling points at sea level differ by is not the method's doing.
			own, _ := known.BoilingC(101.325)
			d := math.Abs((got - want) - (atBoiling - own))
			if d > worst[kPa] {
				worst[kPa], worstAt[kPa] = d, name
			}
			if kPa == 20 {
				sum2 += d * d
				n++
			}
		}
	}
	for _, kPa := range []float64{50, 20, 10, 5} {
		limit := map[float64]float64{50: 0.9, 20: 1.6, 10: 2.4, 5: 3.2}[kPa]
		t.Logf("at %g kPa: worst %.2f K (%s)", kPa, worst[kPa], worstAt[kPa])
		if worst[kPa] > limit || worst[kPa] == 0 {
			t.Errorf("at %g kPa: worst %.2f K (%s), want at most %g", kPa, worst[kPa], worstAt[kPa], limit)
		}
	}
	rms := math.Sqrt(sum2 / n)
	t.Logf("at 20 kPa: %.2f K rms over %g solvents", rms, n)
	if rms > 0.55 || n < 30 {
		t.Errorf("at 20 kPa: %.2f K rms over %g solvents, want at most 0.55 over 30 and more", rms, n)
	}
}

// Antoine coefficients as printed in many handbooks (log10, mmHg, °C), typed from memory.
func TestCustomAntoine(t *testing.T) {
	for _, tt := range []struct {
		like    string
		a, b, c float64
	}{
		{"water", 8.07131, 1730.63, 233.426},
		{"toluene", 6.95464, 1344.800, 219.482},
		{"acetone", 7.02447, 1161.0, 224.0},
		{"methanol", 7.89750, 1474.08, 229.13},
	} {
		known := find(t, tt.like)
		s, err := NewCustom(Custom{Name: "like " + tt.like, MolarMass: known.MolarMassGMol(), Antoine: &Antoine{A: tt.a, B: tt.b, C: tt.c}})
		if err != nil {
			t.Fatal(err)
		}
		for _, kPa := range []float64{10, 20, 50, 101.325} {
			got, ok := s.BoilingC(kPa)
			if !ok {
				t.Fatalf("%s at %g kPa: refused", tt.like, kPa)
			}
			want, _ := known.BoilingC(kPa)
			near(t, tt.like+" (°C)", got, want, 0.6, "Antoine coefficients of the handbooks, from memory")
		}
		tb, _ := s.BoilingC(101.325)
		got, _ := s.HeatOfVaporizationKJPerKg(tb)
		want, _ := known.HeatOfVaporizationKJPerKg(tb)
		near(t, tt.like+": heat of vaporisation from the slope (kJ/kg)", got, want, 0.07*want, "Clausius–Clapeyron, ideal vapour")
		kWh, ok := Pure(s).MinimumEnergyKWhPerGal(20, 101.325)
		if !ok || !(kWh > 0.2 && kWh < 4) {
			t.Errorf("%s: %g kWh/gal, ok %v", tt.like, kWh, ok)
		}
	}
}

func TestCustomInBlend(t *testing.T) {
	glycol, err := NewCustom(Custom{Name: "slow thinner", BoilingC: 160, HeatOfVaporizationKJPerKg: 330, MolarMass: 118, DensityKgL: 0.9})
	if err != nil {
		t.Fatal(err)
	}
	m := Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.5}, {Name: "slow thinner", Fraction: 0.5, Own: glycol}}}
	if err := m.Check(); err != nil {
		t.Fatal(err)
	}
	b, ok := m.BubbleC(20)
	tol, _ := find(t, "toluene").BoilingC(20)
	slow, _ := glycol.BoilingC(20)
	if !ok || !(b > tol && b < slow) {
		t.Errorf("boils at %.2f °C, ok %v; its parts at %.2f and %.2f °C", b, ok, tol, slow)
	}
	if !glycol.Equal(glycol) || glycol.Equal(find(t, "toluene")) || glycol.Equal(Solvent{}) || !(Solvent{}).Equal(Solvent{}) {
		t.Error("Equal")
	}
}

func TestCustomRefuses(t *testing.T) {
	good := Custom{Name: "x", BoilingC: 120, HeatOfVaporizationKJPerKg: 350}
	if _, err := NewCustom(good); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		c    Custom
		want string
	}{
		{"no name", Custom{BoilingC: 120, HeatOfVaporizationKJPerKg: 350}, "needs a name"},
		{"nothing", Custom{Name: "x"}, "Antoine coefficients, or its boiling point"},
		{"no heat", Custom{Name: "x", BoilingC: 120}, "kJ/kg"},
		{"no boiling point", Custom{Name: "x", BoilingC: -80, HeatOfVaporizationKJPerKg: 300}, "-50 °C to 400 °C"},
		{"negative density", Custom{Name: "x", BoilingC: 120, HeatOfVaporizationKJPerKg: 350, DensityKgL: -1}, "density"},
		{"not a number", Custom{Name: "x", BoilingC: math.NaN(), HeatOfVaporizationKJPerKg: 350}, "NaN °C"},
		{"Antoine in bar", Custom{Name: "x", MolarMass: 92, Antoine: &Antoine{A: 4.07827, B: 1343.943, C: -53.773}}, "Antoine"},
		{"Antoine without mass", Custom{Name: "x", Antoine: &Antoine{A: 6.95464, B: 1344.8, C: 219.482}}, "molar mass"},
		{"Antoine, no B", Custom{Name: "x", MolarMass: 92, Antoine: &Antoine{A: 6.95464, C: 219.482}}, "B from 0 to"},
		{"Antoine, range reversed", Custom{Name: "x", MolarMass: 92, Antoine: &Antoine{A: 6.95464, B: 1344.8, C: 219.482, MinC: 100, MaxC: 50}}, "no boiling point between"},
	} {
		s, err := NewCustom(tt.c)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q in the error", tt.name, err, tt.want)
		}
		if s.Known() {
			t.Errorf("%s: a solvent and an error", tt.name)
		}
	}
}

func FuzzCustom(f *testing.F) {
	f.Add(120.0, 350.0, 92.0, 0.0, 0.0, 0.0, false)
	f.Add(0.0, 0.0, 92.0, 6.95464, 1344.8, 219.482, true)
	f.Fuzz(func(t *testing.T, boiling, heat, mass, a, b, c float64, use bool) {
		in := Custom{Name: "x", BoilingC: boiling, HeatOfVaporizationKJPerKg: heat, MolarMass: mass}
		if use {
			in.Antoine = &Antoine{A: a, B: b, C: c}
		}
		s, err := NewCustom(in)
		if err != nil {
			return
		}
		last := math.Inf(-1)
		for _, kPa := range []float64{1, 5, 20, 101.325, 150} {
			v, ok := s.BoilingC(kPa)
			if math.IsNaN(v) || math.IsInf(v, 0) || v < last {
				t.Fatalf("%+v: boils at %g °C at %g kPa, after %g", in, v, kPa, last)
			}
			last = v
			if !ok {
				continue
			}
			p, _ := s.VaporPressureKPa(v)
			if math.Abs(p/kPa-1) > 1e-6 {
				t.Fatalf("%+v: %g kPa at its boiling point of %g °C at %g kPa", in, p, v, kPa)
			}
		}
	})
}
