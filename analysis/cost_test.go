package analysis

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
)

// TestCostWorkedExample, worked out by hand with a pocket calculator:
//
//	15 gal at 1 %, 12 kWh ± 0.07; 0.14 USD/kWh, 9.50 and 4.10 USD/gal, liner 6.50 USD
//	energy    12 · 0.14                     =   1.68 ± 0.07 · 0.14 = 0.0098
//	purchase  15 · 9.50                     = 142.50 ± 1.425
//	disposal  15 · 4.10                     =  61.50 ± 0.615
//	saving    142.50 + 61.50 − 1.68 − 6.50  = 195.82 ± √((1.425 + 0.615)² + 0.0098²) = 2.04002
//	per gal   195.82 / 15                   = 13.05467 ± √((0.0098/15)² + (8.18/15 · 0.01)²) = 0.0054923
func TestCostWorkedExample(t *testing.T) {
	const gal = 231 * 2.54 * 2.54 * 2.54 / 1000 // litres, NIST SP 811
	p := Prices{Currency: "USD", PerKWh: 0.14, Fresh: UnitPrice{PerL: 9.5 / gal}, Waste: UnitPrice{PerL: 4.1 / gal}, Liner: 6.5}
	liters, u := 15*gal, 0.15*gal
	s := &Summary{EnergyKWh: new(12.0), EnergyKWhU: new(0.07), EnergyBasis: "counter", RecoveredL: &liters, RecoveredLU: &u, RecoveredBasis: "volume"}
	c := p.CostOf(s, US)
	for _, tt := range []struct {
		name    string
		f       *CostFigure
		want, u float64
		basis   string
	}{
		{"energy", c.Energy, 1.68, 0.0098, "12.0 kWh (counter) at 0.14 USD/kWh"},
		{"liner", c.Liner, 6.5, 0, "one liner bag a run"},
		{"purchase", c.Purchase, 142.5, 1.425, "15.0 gal recovered (by volume) at 9.50 USD/gal"},
		{"disposal", c.Disposal, 61.5, 0.615, "15.0 gal recovered (by volume) at 4.10 USD/gal"},
		{"saving", c.Saving, 195.82, 2.04002, "purchase avoided + disposal avoided − energy − liner"},
		{"saving per gal", c.SavingPerGal, 13.05467, 0.0054923, "the saving over 15.0 gal recovered"},
	} {
		if tt.f == nil {
			t.Errorf("%s is absent", tt.name)
			continue
		}
		if math.Abs(tt.f.Value-tt.want) > 1e-5*tt.want || math.Abs(value(tt.f.U)-tt.u) > 1e-4*tt.u || tt.f.Basis != tt.basis {
			t.Errorf("%s: %v ± %v %q, want %v ± %v %q", tt.name, tt.f.Value, value(tt.f.U), tt.f.Basis, tt.want, tt.u, tt.basis)
		}
	}
	if want := []string{assumeFresh, assumeWaste, assumeLeft}; c.Currency != "USD" || !slices.Equal(c.Assumes, want) {
		t.Errorf("in %s, assumes %q", c.Currency, c.Assumes)
	}
}

// TestCostAsFarAsKnown: what is not stated or not measured is absent, and what a saving leaves out is said.
func TestCostAsFarAsKnown(t *testing.T) {
	all := Prices{Currency: "EUR", PerKWh: 0.3, Fresh: UnitPrice{PerKg: 2.2}, Waste: UnitPrice{PerL: 0.5}, Liner: 4}
	run := func(change func(*Summary)) *Summary {
		s := &Summary{EnergyKWh: new(10.0), EnergyBasis: "power", RecoveredL: new(46.0), RecoveredKg: new(40.0), RecoveredBasis: "mass"}
		change(s)
		return s
	}
	without := func(change func(*Prices)) Prices {
		p := all
		change(&p)
		return p
	}
	for _, tt := range []struct {
		name    string
		p       Prices
		s       *Summary
		has     string // of energy, liner, purchase, disposal, saving, gal
		saving  float64
		assumes string // contained
	}{
		{"all", all, run(func(*Summary) {}), "energy liner purchase disposal saving gal", 40*2.2 + 46*0.5 - 10*0.3 - 4, "amount for amount"},
		{"nothing stated", Prices{}, run(func(*Summary) {}), "", 0, ""},
		{"open", all, run(func(s *Summary) { s.Open = true }), "", 0, ""},
		{"nothing measured", all, run(func(s *Summary) { *s = Summary{} }), "", 0, ""},
		{"no energy", all, run(func(s *Summary) { s.EnergyKWh = nil }), "liner purchase disposal", 0, "amount for amount"},
		{"no energy price", without(func(p *Prices) { p.PerKWh = 0 }), run(func(*Summary) {}), "liner purchase disposal", 0, "amount for amount"},
		{"nothing came over", all, run(func(s *Summary) { s.RecoveredL = new(0.0) }), "energy liner", 0, ""},
		{"no density", all, run(func(s *Summary) { s.RecoveredKg = nil }), "energy liner disposal saving gal", 46*0.5 - 10*0.3 - 4, "not counted: the density is not known"},
		{"only energy", without(func(p *Prices) { p.Fresh, p.Waste, p.Liner = UnitPrice{}, UnitPrice{}, 0 }), run(func(*Summary) {}), "energy", 0, ""},
		{"no waste, no liner", without(func(p *Prices) { p.Waste, p.Liner = UnitPrice{}, 0 }), run(func(*Summary) {}), "energy purchase saving gal", 40*2.2 - 10*0.3,
			"disposal is not counted: no price is stated; the liner bag is not counted"},
		{"by heat", all, run(func(s *Summary) { s.RecoveredBasis = byHeat }), "energy liner purchase disposal saving gal", 40*2.2 + 46*0.5 - 10*0.3 - 4, "an estimate from the heat"},
		{"a loss", without(func(p *Prices) { p.Fresh = UnitPrice{} }), run(func(s *Summary) { s.RecoveredL = new(2.0) }), "energy liner disposal saving gal", 2*0.5 - 10*0.3 - 4,
			"fresh solvent is not counted: no price is stated"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := tt.p.CostOf(tt.s, Metric)
			if (c == nil) != (tt.has == "") {
				t.Fatalf("cost %+v, want %q", c, tt.has)
			}
			if c == nil {
				return
			}
			var has []string
			for _, f := range []struct {
				name string
				f    *CostFigure
			}{{"energy", c.Energy}, {"liner", c.Liner}, {"purchase", c.Purchase}, {"disposal", c.Disposal}, {"saving", c.Saving}, {"gal", c.SavingPerGal}} {
				if f.f != nil {
					has = append(has, f.name)
				}
			}
			if got := strings.Join(has, " "); got != tt.has {
				t.Errorf("has %q, want %q", got, tt.has)
			}
			if c.Saving != nil && math.Abs(c.Saving.Value-tt.saving) > 1e-9 {
				t.Errorf("saving %v, want %v", c.Saving.Value, tt.saving)
			}
			if got := strings.Join(c.Assumes, "; "); !strings.Contains(got, tt.assumes) || tt.assumes == "" && got != "" {
				t.Errorf("assumes %q, want %q", got, tt.assumes)
			}
		})
	}
	if b := all.CostOf(run(func(*Summary) {}), Metric).Purchase.Basis; b != "40.0 kg recovered (by mass) at 2.20 EUR/kg" {
		t.Errorf("basis %q", b)
	}
	if b := all.CostOf(run(func(*Summary) {}), US).Purchase.Basis; b != "88.2 lb recovered (by mass) at 0.998 EUR/lb" {
		t.Errorf("basis %q", b)
	}
}

// TestCostInSummary: the run event carries the cost, and a still without prices has none.
func TestCostInSummary(t *testing.T) {
	events, _ := history(1, counted, func(_ int, s *scene) {
		s.still.Prices = Prices{Currency: "USD", PerKWh: 0.1, Fresh: UnitPrice{PerL: 2}}
	})
	s := events[len(events)-1].Summary
	for i := len(events) - 1; s == nil; i-- {
		s = events[i].Summary
	}
	if s.Cost == nil || s.Cost.Energy == nil || s.Cost.Saving == nil {
		t.Fatalf("cost %+v", s.Cost)
	}
	if want := 2**s.RecoveredL - 0.1**s.EnergyKWh; math.Abs(s.Cost.Saving.Value-want) > 1e-4*want {
		t.Errorf("saving %v, want %v", s.Cost.Saving.Value, want)
	}
	b, err := json.Marshal(s.Cost)
	if err != nil || !strings.HasPrefix(string(b), `{"currency":"USD","energy":{"value":`) {
		t.Errorf("%s, %v", b, err)
	}
}
