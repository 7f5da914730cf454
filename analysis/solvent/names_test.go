package solvent

import (
	"slices"
	"strings"
	"testing"
)

func TestFind(t *testing.T) {
	for _, tt := range []struct{ name, want string }{
		{"toluene", "toluene"}, {"Toluene", "toluene"}, {"TOLUOL", "toluene"}, {"108-88-3", "toluene"},
		{"MEK", "methyl ethyl ketone"}, {"mek", "methyl ethyl ketone"}, {"2-Butanone", "methyl ethyl ketone"}, {"butanone", "methyl ethyl ketone"},
		{"MIBK", "methyl isobutyl ketone"}, {"4-methyl-2-pentanone", "methyl isobutyl ketone"},
		{"THF", "tetrahydrofuran"}, {"IPA", "2-propanol"}, {"isopropanol", "2-propanol"}, {"isopropyl alcohol", "2-propanol"},
		{"iso-propyl alcohol", "2-propanol"}, {"propan-2-ol", "2-propanol"},
		{"xylene", "m-xylene"}, {"Xylenes", "m-xylene"}, {"mixed xylenes", "m-xylene"}, {"o-xylene", "o-xylene"}, {"para-xylene", "p-xylene"},
		{"ethyl alcohol", "ethanol"}, {"EtOH", "ethanol"}, {"methyl alcohol", "methanol"},
		{"butyl acetate", "n-butyl acetate"}, {"propyl acetate", "n-propyl acetate"}, {"EtOAc", "ethyl acetate"},
		{"DMF", "N,N-dimethylformamide"}, {"dimethylformamide", "N,N-dimethylformamide"},
		{"DCM", "dichloromethane"}, {"methylene chloride", "dichloromethane"}, {"methylene_chloride", "dichloromethane"},
		{"TCE", "trichloroethylene"}, {"perc", "tetrachloroethylene"}, {"PCE", "tetrachloroethylene"},
		{"isobutanol", "2-methyl-1-propanol"}, {"n-butanol", "1-butanol"}, {"hexane", "n-hexane"}, {"heptane", "n-heptane"},
		{"acetonitrile", "acetonitrile"}, {"ACN", "acetonitrile"}, {"dioxane", "1,4-dioxane"}, {"pseudocumene", "1,2,4-trimethylbenzene"},
		{"water", "water"}, {"h2o", "water"}, {"MCH", "methylcyclohexane"},
	} {
		if s, ok := Find(tt.name); !ok || s.Name() != tt.want {
			t.Errorf("%q is %q, want %q", tt.name, s.Name(), tt.want)
		}
	}
	for _, name := range []string{"", " ", "-", "unknown", "tolueen", "paint", strings.Repeat("x", 1000)} {
		if s, ok := Find(name); ok {
			t.Errorf("%q is %q, want nothing", name, s.Name())
		}
	}
	if len(Names()) != 35 || !slices.IsSorted(Names()) {
		t.Errorf("%d names: %v", len(Names()), Names())
	}
	for _, name := range Names() {
		if s := find(t, name); s.Name() != name {
			t.Errorf("%q is %q", name, s.Name())
		}
	}
}

func TestFindAllocatesNothing(t *testing.T) {
	m := Mixture{Parts: []Part{{Name: "Toluene", Fraction: 0.5}, {Name: "acetone", Fraction: 0.3}, {Name: "MEK", Fraction: 0.2}}}
	sat, err := NewSaturation(m)
	if err != nil {
		t.Fatal(err)
	}
	for what, f := range map[string]func(){
		"Find":                      func() { Find("Iso-Propyl Alcohol") },
		"Solvent.BoilingC":          func() { s, _ := Find("toluene"); s.BoilingC(20) },
		"Mixture.BoilingC":          func() { m.BoilingC(20) },
		"Mixture.DewC":              func() { m.DewC(20) },
		"Mixture.VaporPressureKPa":  func() { m.VaporPressureKPa(20) },
		"Mixture.DensityKgPerL":     func() { m.DensityKgPerL() },
		"Mixture.MinimumEnergy":     func() { m.MinimumEnergyKWhPerGal(20, 20) },
		"Saturation.BoilingC":       func() { sat.BoilingC(20) },
		"Saturation.VaporPressure":  func() { sat.VaporPressureKPa(20) },
		"Saturation outside":        func() { sat.BoilingC(2000) },
		"Mixture.WetBoilingC":       func() { m.WetBoilingC(20) },
		"Mixture.DrynessC":          func() { m.DrynessC(20) },
		"Hazards.TemperatureClass":  func() { s, _ := Find("toluene"); s.Hazards().TemperatureClass() },
		"Mixture.HeatCapacityKJ...": func() { m.HeatCapacityKJPerKgK(20) },
	} {
		if n := testing.AllocsPerRun(100, f); n != 0 {
			t.Errorf("%s: %g allocations", what, n)
		}
	}
}

func TestSuggest(t *testing.T) {
	for _, tt := range []struct{ name, first string }{
		{"toulene", "toluene"}, {"aceton", "acetone"}, {"metyl ethyl keton", "methyl ethyl ketone"}, {"xylen", "m-xylene"},
		{"isopropil alcohol", "2-propanol"}, {"ethanl", "ethanol"}, {"perchlorethylene", "tetrachloroethylene"},
		{"dichlormethane", "dichloromethane"}, {"cyclohexanon", "cyclohexanone"}, {"MKE", "methyl ethyl ketone"}, {"watre", "water"},
	} {
		got := Suggest(tt.name)
		if len(got) == 0 || got[0] != tt.first {
			t.Errorf("%q: suggests %v, want %q first", tt.name, got, tt.first)
		}
		if len(got) > 3 {
			t.Errorf("%q: %d suggestions", tt.name, len(got))
		}
	}
	for _, name := range []string{"", "zzzzzzzz", "paint sludge"} {
		if got := Suggest(name); len(got) != 0 {
			t.Errorf("%q: suggests %v, want nothing", name, got)
		}
	}
}

func TestLookup(t *testing.T) {
	for _, tt := range []struct{ name, want string }{
		{"toulene", `no solvent "toulene"; did you mean toluene?`},
		{"lacquer thinner", "`unknown`"},
		{"mineral spirits", "varies from drum to drum"},
		{"NMP", "only one source"},
		{"qqq", "data sheet"},
	} {
		_, err := Lookup(tt.name)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: %v, want %q in it", tt.name, err, tt.want)
		}
	}
	if s, err := Lookup("MEK"); err != nil || s.Name() != "methyl ethyl ketone" {
		t.Errorf("MEK: %v, %v", s.Name(), err)
	}
}

// A note is for the name that was asked for, and every name with a note must be one that is found.
func TestNameNotes(t *testing.T) {
	if !strings.Contains(NameNote("Mixed Xylenes"), "m-xylene") {
		t.Error("no note on mixed xylenes")
	}
	if NameNote("m-xylene") != "" || NameNote("") != "" || NameNote("paint") != "" {
		t.Error("a note where there is nothing to say")
	}
	for name := range nameNotes {
		if _, ok := Find(name); !ok {
			t.Errorf("a note on %q, which is not found", name)
		}
	}
	for name := range notInTable {
		if s, ok := Find(name); ok {
			t.Errorf("%q is said not to be in the table, but is %s", name, s.Name())
		}
		if key, _ := fold(nil, name); string(key) != name {
			t.Errorf("%q is not folded: it cannot be found", name)
		}
	}
}

func TestEditDistance(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"abc", "abc", 0}, {"abc", "acb", 1}, {"abc", "ab", 1}, {"kitten", "sitting", 3}, {"", "abc", 3}} {
		if got := editDistance(tt.a, tt.b); got != tt.want {
			t.Errorf("%q to %q: %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}

func FuzzFind(f *testing.F) {
	for _, s := range []string{"toluene", "MEK", "1,4-dioxane", "\x00", "ÄÖ", "isopropyl-alcohol 99 %"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		s, ok := Find(name)
		if ok != s.Known() {
			t.Fatalf("%q: ok %v, known %v", name, ok, s.Known())
		}
		_, err := Lookup(name)
		if (err == nil) != ok {
			t.Fatalf("%q: found %v, error %v", name, ok, err)
		}
		for _, near := range Suggest(name) {
			if _, ok := Find(near); !ok {
				t.Fatalf("%q: suggests %q, which does not exist", name, near)
			}
		}
	})
}
