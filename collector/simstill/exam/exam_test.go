package exam

import (
	"regexp"
	"testing"
)

// Part of the exam that any change of the analysis that matters should move.
var (
	shortHealthy = regexp.MustCompile(`^healthy$`)
	shortCases   = regexp.MustCompile(`^(second run on hot oil|noise fourfold|cold drum|open lid|open lid, 10 s|leak (0.8|1.6|2.2|3) mm|no air|weak air, new still|` +
		`element lost|contactor stuck|stopped wet|left on|broken wire of the gauge|device silent.*)$`)
)

// floor is what the short part must reach in a set: a little below what it has reached.
type floor struct {
	phases, recall, cause float64 // least
	spurious, false100    float64 // most
	lidS, least, dryMin   float64 // most, medians
}

var floors = map[string]floor{
	"two":     {phases: 0.96, recall: 0.97, cause: 0.95, lidS: 970, least: 2.5, dryMin: 6}, // in a first run the air may yet come by hand, or when the oil is warm
	"typical": {phases: 0.96, recall: 0.97, cause: 0.95, lidS: 30, least: 2.5, dryMin: 5},
	"full":    {phases: 0.97, recall: 0.97, cause: 0.95, lidS: 30, least: 2.5, dryMin: 2.5},
}

// TestShort sits a part of the exam and holds what was reached; the whole is for the command score.
func TestShort(t *testing.T) {
	seeds := 4
	if testing.Short() {
		seeds = 1
	}
	items, err := Items(Choice{Source: "first", Cases: shortCases, Seeds: 1})
	if err != nil {
		t.Fatal(err)
	}
	healthy, err := Items(Choice{Source: "first", Cases: shortHealthy, Seeds: seeds})
	if err != nil {
		t.Fatal(err)
	}
	marks, err := Sit(append(items, healthy...))
	if err != nil {
		t.Fatal(err)
	}
	if testing.Verbose() {
		for _, m := range marks.Misses() {
			t.Log(m)
		}
	}
	if err := WriteTable(t.Output(), marks); err != nil {
		t.Fatal(err)
	}
	for set, s := range marks.BySet {
		got := map[string]float64{}
		for _, f := range s.Figures(set) {
			if f.Value != nil {
				got[f.Name] = *f.Value
			}
		}
		least := func(name string, want float64) {
			if v, ok := got[name]; !ok || v < want {
				t.Errorf("%s: %s: %.3g, has been %g at the least", set, name, v, want)
			}
		}
		most := func(name string, want float64) {
			if v, ok := got[name]; !ok || v > want {
				t.Errorf("%s: %s: %.3g, has been %g at the most", set, name, v, want)
			}
		}
		fl := floors[set]
		least("runs found", 1)
		most("runs that were none", fl.spurious)
		least("phase agreement, observable", fl.phases)
		least("recall, all faults", fl.recall)
		least("top cause right", fl.cause)
		most("false faults per 100 healthy runs", fl.false100)
		most("open lid raised after, median", fl.lidS)
		most("leak alarm over least time, median", fl.least)
		most("dry point error, median", fl.dryMin)
	}
}
