package solvent

import (
	"strings"
	"testing"
)

// SAFE-1 … SAFE-3: temperature classes of IEC 60079 for lowest published autoignition temperatures; the
// class is the hottest whose limit is strictly below.
func TestTemperatureClass(t *testing.T) {
	for _, tt := range []struct {
		name  string
		ait   float64
		class string
	}{
		{"toluene", 480, "T1"}, {"acetone", 465, "T1"}, {"n-butyl acetate", 390, "T2"},
		{"THF", 230, "T3"}, {"n-heptane", 204, "T3"}, {"1,4-dioxane", 180, "T4"},
	} {
		h := find(t, tt.name).Hazards()
		if h.AutoignitionC == nil || *h.AutoignitionC != tt.ait {
			t.Errorf("%s: autoignition %v, want %g °C", tt.name, h.AutoignitionC, tt.ait)
		}
		if class, _, ok := h.TemperatureClass(); !ok || class != tt.class {
			t.Errorf("%s: class %q, want %s (IEC 60079-0)", tt.name, class, tt.class)
		}
	}
	exactly := func(c float64) Hazards { return Hazards{AutoignitionC: &c} }
	for _, tt := range []struct {
		ait   float64
		class string
		ok    bool
	}{{450, "T2", true}, {450.1, "T1", true}, {200, "T4", true}, {85.1, "T6", true}, {85, "", false}, {20, "", false}} {
		if class, _, ok := exactly(tt.ait).TemperatureClass(); class != tt.class || ok != tt.ok {
			t.Errorf("autoignition %g °C: class %q, want %q: strictly below", tt.ait, class, tt.class)
		}
	}
	for _, name := range []string{"water", "dichloromethane"} {
		if class, _, ok := find(t, name).Hazards().TemperatureClass(); ok {
			t.Errorf("%s: class %s without an autoignition temperature", name, class)
		}
	}
}

// SAFE-5: the peroxide formers of the table, from the usual laboratory list (class B).
func TestPeroxideFormers(t *testing.T) {
	want := map[string]bool{"tetrahydrofuran": true, "1,4-dioxane": true, "2-propanol": true, "methyl isobutyl ketone": true, "cumene": true}
	for _, name := range Names() {
		s := find(t, name)
		if got := s.Hazards().PeroxideFormer; got != want[name] {
			t.Errorf("%s: peroxide former %v, want %v", name, got, want[name])
		}
		text := strings.Join(s.Cautions(), "\n")
		if strings.Contains(text, "never run it to dryness") != want[name] {
			t.Errorf("%s: the caution on peroxides is missing or misplaced:\n%s", name, text)
		}
	}
}

// Every list of cautions defers to those who decide, names the figures it has, and invents none.
func TestCautions(t *testing.T) {
	for _, name := range Names() {
		s := find(t, name)
		c := s.Cautions()
		text := strings.Join(c, "\n")
		if c[len(c)-1] != DeferSentence {
			t.Errorf("%s: ends with %q", name, c[len(c)-1])
		}
		h := s.Hazards()
		if (h.FlashPointC != nil) != strings.Contains(text, "lowest published flash point") {
			t.Errorf("%s: flash point known %v, yet:\n%s", name, h.FlashPointC != nil, text)
		}
		if (h.AutoignitionC != nil) != strings.Contains(text, "lowest published autoignition temperature is") {
			t.Errorf("%s: autoignition known %v, yet:\n%s", name, h.AutoignitionC != nil, text)
		}
		if h.Halogenated != strings.Contains(text, "is halogenated") {
			t.Errorf("%s: halogenated %v, yet:\n%s", name, h.Halogenated, text)
		}
		for _, l := range []*float64{h.LowerLimitPct, h.UpperLimitPct} {
			if l != nil && !(*l > 0 && *l <= 100) {
				t.Errorf("%s: flammable limit %g %%", name, *l)
			}
		}
	}
	if c := (Solvent{}).Cautions(); len(c) != 2 || c[1] != DeferSentence {
		t.Errorf("an unknown solvent: %v", c)
	}
}
