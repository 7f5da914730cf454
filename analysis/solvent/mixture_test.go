package solvent

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// kelvinAntoine makes a substance of ln p = A − B/(t + C), p in kPa, t in °C, whose volume fractions in a
// blend are its mole fractions.
func textbook(t *testing.T, name string, a, b, c float64) Solvent {
	t.Helper()
	s, err := NewCustom(Custom{
		Name: name, MolarMass: 50, DensityKgL: 1, HeatOfVaporizationKJPerKg: 600,
		Antoine: &Antoine{A: a / math.Ln10, B: b / math.Ln10, C: c, UnitKPa: 1, MinC: 0, MaxC: 150},
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Raoult's law: Smith, Van Ness and Abbott, Introduction to Chemical Engineering Thermodynamics, example
// 10.1 (acetonitrile 1, nitromethane 2, Antoine equations as printed there); figures typed from memory,
// confirmed by their agreement to four digits.
func TestRaoultTextbook(t *testing.T) {
	const source = "Smith, Van Ness and Abbott, example 10.1"
	one := textbook(t, "acetonitrile, textbook", 14.2724, 2945.47, 224.00)
	two := textbook(t, "nitromethane, textbook", 14.2043, 2972.64, 209.00)
	blend := func(x float64) Mixture {
		return Mixture{Parts: []Part{{"1", x, one}, {"2", 1 - x, two}}}
	}
	get := func(v float64, ok bool) float64 {
		t.Helper()
		if !ok {
			t.Fatal("refused")
		}
		return v
	}
	near(t, "p1 at 75 °C (kPa)", get(one.VaporPressureKPa(75)), 83.21, 0.0051, source)
	near(t, "p2 at 75 °C (kPa)", get(two.VaporPressureKPa(75)), 41.98, 0.0051, source)
	near(t, "bubble pressure at 75 °C, x 0.6 (kPa)", get(blend(0.6).VaporPressureKPa(75)), 66.72, 0.0051, source)
	near(t, "bubble point at 70 kPa, x 0.6 (°C)", get(blend(0.6).BubbleC(70)), 76.42, 0.0051, source)
	near(t, "dew point at 70 kPa, y 0.6 (°C)", get(blend(0.6).DewC(70)), 79.58, 0.0051, source)
	b, ok := blend(0.6).resolve()
	if !ok {
		t.Fatal("refused")
	}
	lnDew, _, _ := b.lnDew(75 + zeroCelsiusK)
	near(t, "dew pressure at 75 °C, y 0.6 (kPa)", math.Exp(lnDew)/1000, 59.74, 0.0051, source)
}

// Boiling points of solvents lying on water, from the tables of azeotropes in Lange's Handbook of Chemistry
// (from memory; two-phase azeotropes at 760 mmHg). The pairs are nearly insoluble in each other; 0.8 K.
func TestWetBoiling(t *testing.T) {
	for _, tt := range []struct {
		name string
		tC   float64
	}{{"toluene", 84.1}, {"n-heptane", 79.2}, {"cyclohexane", 69.5}, {"n-hexane", 61.6}, {"m-xylene", 92.7}} {
		m := Pure(find(t, tt.name))
		got, ok := m.WetBoilingC(101.325)
		if !ok {
			t.Fatalf("%s: refused", tt.name)
		}
		near(t, tt.name+" on water (°C)", got, tt.tC, 0.8, "Lange's Handbook of Chemistry, azeotropes, from memory")
		dry, _ := m.BubbleC(101.325)
		if got >= dry {
			t.Errorf("%s: boils at %.2f °C wet, %.2f °C dry", tt.name, got, dry)
		}
	}
	for _, name := range []string{"acetone", "MEK", "water", "ethanol"} {
		if c, ok := Pure(find(t, name)).WetBoilingC(101.325); ok {
			t.Errorf("%s: boils at %.2f °C on water it mixes with", name, c)
		}
	}
}

func TestMoleFractions(t *testing.T) {
	// By hand: density at 20 °C over molar mass.
	m := Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}}
	tol, ace := find(t, "toluene"), find(t, "acetone")
	rt, _ := tol.DensityKgPerL(20)
	ra, _ := ace.DensityKgPerL(20)
	nt, na := 0.6*rt/tol.MolarMassGMol(), 0.4*ra/ace.MolarMassGMol()
	x := m.MoleFractions()
	near(t, "x toluene", x[0], nt/(nt+na), 1e-15, "by hand")
	near(t, "sum", x[0]+x[1], 1, 1e-15, "by hand")
	rho, _ := m.DensityKgPerL()
	near(t, "density (kg/L)", rho, 0.6*rt+0.4*ra, 1e-12, "volumes add up")
	if (Mixture{Parts: []Part{{Name: "paint", Fraction: 1}}}).MoleFractions() != nil {
		t.Error("mole fractions of paint")
	}
}

func TestMixtureString(t *testing.T) {
	for _, tt := range []struct {
		m    Mixture
		want string
	}{
		{Mixture{}, "unknown"},
		{Mixture{Parts: []Part{{Name: "toluene", Fraction: 1}}}, "toluene"},
		{Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}}, "60 % toluene, 40 % acetone"},
		{Mixture{Parts: []Part{{Name: "MEK", Fraction: 1. / 3}, {Name: "acetone", Fraction: 2. / 3}}}, "33.3 % MEK, 66.7 % acetone"},
	} {
		if got := tt.m.String(); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}

func TestMixtureCheck(t *testing.T) {
	many := Mixture{}
	for range MaxParts + 1 {
		many.Parts = append(many.Parts, Part{Name: "water", Fraction: 0.1})
	}
	for _, tt := range []struct {
		name string
		m    Mixture
		want string // in the error; empty: none
	}{
		{"unknown", Mixture{}, ""},
		{"pure", Pure(find(t, "toluene")), ""},
		{"blend", Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}}, ""},
		{"rounded thirds", Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.333}, {Name: "acetone", Fraction: 0.333}, {Name: "MEK", Fraction: 0.333}}}, ""},
		{"misspelt", Mixture{Parts: []Part{{Name: "toulene", Fraction: 1}}}, "did you mean toluene"},
		{"not a whole", Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.3}}}, "sum to 0.9"},
		{"nothing of it", Mixture{Parts: []Part{{Name: "toluene", Fraction: 0}}}, "above 0"},
		{"not a number", Mixture{Parts: []Part{{Name: "toluene", Fraction: math.NaN()}}}, "above 0"},
		{"too many", many, "at most 8"},
	} {
		err := tt.m.Check()
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
	for _, m := range []Mixture{{}, many, {Parts: []Part{{Name: "paint", Fraction: 1}}}} {
		if _, ok := m.BubbleC(100); ok {
			t.Errorf("%s boils", m)
		}
		if _, err := NewSaturation(m); err == nil {
			t.Errorf("%s has a boiling line", m)
		}
	}
}

// A blend of one substance, whole or in halves, is that substance.
func TestBlendOfOne(t *testing.T) {
	for _, name := range Names() {
		s := find(t, name)
		half := Mixture{Parts: []Part{{Name: name, Fraction: 0.5}, {Name: name, Fraction: 0.5}}}
		for _, p := range []float64{5, 20, 101.325} {
			want, ok := s.BoilingC(p)
			if !ok {
				continue
			}
			for what, f := range map[string]func(float64) (float64, bool){"bubble": half.BubbleC, "dew": half.DewC, "pure": Pure(s).BubbleC, "dryness": half.DrynessC} {
				got, ok := f(p)
				if !ok {
					t.Errorf("%s, %s at %g kPa: refused", name, what, p)
				}
				near(t, name+", "+what+" (°C)", got, want, 1e-8, "the pure substance")
			}
		}
		a, _ := half.MinimumEnergyKWhPerGal(20, 101.325)
		b, _ := Pure(s).MinimumEnergyKWhPerGal(20, 101.325)
		near(t, name+" (kWh/gal)", a, b, 1e-9, "the pure substance")
	}
}

// For random blends: the bubble point lies below the dew point and between the boiling points of the parts,
// rises with pressure, and is the inverse of the bubble pressure.
func TestBlendShapes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 41))
	names := Names()
	for range 400 {
		var m Mixture
		n := 2 + rng.IntN(MaxParts-1)
		for range n {
			m.Parts = append(m.Parts, Part{Name: names[rng.IntN(len(names))], Fraction: 1 / float64(n)})
		}
		last := math.Inf(-1)
		for _, p := range []float64{5, 10, 20, 50, 101.325, 200} {
			bubble, ok := m.BubbleC(p)
			if !ok {
				continue
			}
			dew, ok := m.DewC(p)
			if !ok {
				t.Errorf("%s at %g kPa: a bubble point and no dew point", m, p)
			}
			lowest, highest := math.Inf(1), math.Inf(-1)
			for _, part := range m.Parts {
				c, _ := part.Solvent().BoilingC(p)
				lowest, highest = min(lowest, c), max(highest, c)
			}
			if !(bubble > last && bubble <= dew+1e-9 && bubble >= lowest-1e-9 && dew <= highest+1e-9) {
				t.Errorf("%s at %g kPa: bubble %.4f, dew %.4f °C; parts %.4f to %.4f; at lower pressure %.4f", m, p, bubble, dew, lowest, highest, last)
			}
			last = bubble
			back, ok := m.VaporPressureKPa(bubble)
			if !ok {
				t.Errorf("%s: no pressure at its boiling point of %.2f °C", m, bubble)
			}
			near(t, m.String()+" (kPa)", back, p, 1e-9*p, "inverse")
			if dry, ok := m.DrynessC(p); ok && dry < bubble-1e-9 {
				t.Errorf("%s at %g kPa: dry at %.3f °C, below its bubble point of %.3f °C", m, p, dry, bubble)
			}
		}
	}
}

// The tabulated line agrees with the functions it stands for.
func TestSaturationError(t *testing.T) {
	mixtures := []Mixture{
		{Parts: []Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}},
		{Parts: []Part{{Name: "dichloromethane", Fraction: 0.3}, {Name: "DMF", Fraction: 0.7}}}, // as wide as blends get
		{Parts: []Part{{Name: "methanol", Fraction: 0.2}, {Name: "MEK", Fraction: 0.5}, {Name: "xylene", Fraction: 0.3}}},
	}
	for _, name := range Names() {
		mixtures = append(mixtures, Pure(find(t, name)))
	}
	var worstK, worstRel float64
	for _, m := range mixtures {
		s, err := NewSaturation(m)
		if err != nil {
			t.Fatal(err)
		}
		for p := 0.02; p < 900; p *= 1.0173 { // beyond the table at both ends
			want, wantOK := m.BubbleC(p)
			got, ok := s.BoilingC(p)
			if ok != wantOK {
				t.Errorf("%s at %g kPa: ok %v, want %v", m, p, ok, wantOK)
			}
			worstK = max(worstK, math.Abs(got-want))
		}
		for c := -60.0; c < 300; c += 0.73 {
			want, wantOK := m.VaporPressureKPa(c)
			got, ok := s.VaporPressureKPa(c)
			if ok != wantOK {
				t.Errorf("%s at %g °C: ok %v, want %v", m, c, ok, wantOK)
			}
			worstRel = max(worstRel, math.Abs(got/want-1))
		}
		for _, bad := range []float64{math.NaN(), -1, 0} {
			if _, ok := s.BoilingC(bad); ok {
				t.Errorf("%s boils at %g kPa", m, bad)
			}
		}
	}
	t.Logf("worst: %.2g K, %.2g of the pressure", worstK, worstRel)
	if worstK > 0.001 || worstRel > 1e-5 {
		t.Errorf("the table is off by %.2g K and %.2g of the pressure, want 0.001 K and 1e-5", worstK, worstRel)
	}
}

func FuzzMixture(f *testing.F) {
	f.Add(uint8(4), uint8(0), 0.6, 20.0, 50.0)
	f.Add(uint8(34), uint8(30), 1e-9, 1e-6, -100.0)
	f.Add(uint8(1), uint8(2), 0.5, 1e9, 1e9)
	f.Fuzz(func(t *testing.T, i, j uint8, fraction, pKPa, tC float64) {
		names := Names()
		m := Mixture{Parts: []Part{
			{Name: names[int(i)%len(names)], Fraction: fraction},
			{Name: names[int(j)%len(names)], Fraction: 1 - fraction},
		}}
		s, err := NewSaturation(m)
		for what, get := range map[string]func() (float64, bool){
			"bubble":   func() (float64, bool) { return m.BubbleC(pKPa) },
			"dew":      func() (float64, bool) { return m.DewC(pKPa) },
			"pressure": func() (float64, bool) { return m.VaporPressureKPa(tC) },
			"wet":      func() (float64, bool) { return m.WetBoilingC(pKPa) },
			"dry":      func() (float64, bool) { return m.DrynessC(pKPa) },
			"energy":   func() (float64, bool) { return m.MinimumEnergyKWhPerGal(tC, pKPa) },
			"density":  func() (float64, bool) { return m.DensityKgPerL() },
			"table": func() (float64, bool) {
				if err != nil {
					return 0, false
				}
				return s.BoilingC(pKPa)
			},
		} {
			v, ok := get()
			if ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
				t.Fatalf("%s of %s at %g kPa, %g °C: %g and ok", what, m, pKPa, tC, v)
			}
		}
		bubble, ok1 := m.BubbleC(pKPa)
		dew, ok2 := m.DewC(pKPa)
		if ok1 && ok2 && bubble > dew+1e-6 {
			t.Fatalf("%s at %g kPa: bubble %g above dew %g °C", m, pKPa, bubble, dew)
		}
	})
}

func BenchmarkBoiling(b *testing.B) {
	pure := Mixture{Parts: []Part{{Name: "toluene", Fraction: 1}}}
	three := Mixture{Parts: []Part{{Name: "toluene", Fraction: 0.5}, {Name: "acetone", Fraction: 0.3}, {Name: "MEK", Fraction: 0.2}}}
	for _, m := range []Mixture{pure, three} {
		s, err := NewSaturation(m)
		if err != nil {
			b.Fatal(err)
		}
		for _, f := range []struct {
			name string
			f    func(float64) (float64, bool)
		}{
			{"Mixture.BoilingC", m.BoilingC}, {"Mixture.VaporPressureKPa", m.VaporPressureKPa},
			{"Saturation.BoilingC", s.BoilingC}, {"Saturation.VaporPressureKPa", s.VaporPressureKPa},
		} {
			b.Run(fmt.Sprintf("%s/parts=%d", f.name, len(m.Parts)), func(b *testing.B) {
				b.ReportAllocs()
				x := 10.0
				for b.Loop() {
					if x += 0.01; x > 90 {
						x = 10
					}
					f.f(x)
				}
			})
		}
	}
}
