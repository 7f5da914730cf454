package config

import (
	"math"
	"strings"
	"testing"

	"luted/analysis"
	"luted/analysis/solvent"
)

func TestParsePrice(t *testing.T) {
	energy, fluid := []analysis.Dimension{analysis.Energy}, []analysis.Dimension{analysis.Volume, analysis.Mass}
	for _, tt := range []struct {
		written string
		per     []analysis.Dimension
		want    Price
	}{
		{"0.14 USD/kWh", energy, Price{"USD", 0.14, analysis.Energy}},
		{"0.31 EUR / kWh", energy, Price{"EUR", 0.31, analysis.Energy}},
		{"140 USD/MWh", energy, Price{"USD", 0.14, analysis.Energy}},
		{"2.50 EUR/L", fluid, Price{"EUR", 2.5, analysis.Volume}},
		{"3.785411784 USD/gal", fluid, Price{"USD", 1, analysis.Volume}}, // 231 in³, exact: NIST SP 811, appendix B
		{"0.45359237 USD/lb", fluid, Price{"USD", 1, analysis.Mass}},     // exact: NIST SP 811, appendix B
		{"6.50 USD", nil, Price{Currency: "USD", Amount: 6.5}},
		{"6.50 USD/run", nil, Price{Currency: "USD", Amount: 6.5}},
	} {
		got, err := ParsePrice(tt.written, tt.per...)
		if err != nil || got.Currency != tt.want.Currency || got.Per != tt.want.Per || math.Abs(got.Amount-tt.want.Amount) > 1e-15 {
			t.Errorf("ParsePrice(%q) = %v, %v; want %v", tt.written, got, err, tt.want)
		}
	}
	for _, tt := range []struct {
		written string
		per     []analysis.Dimension
		says    string
	}{
		{"0.14", energy, "no currency; write for instance 0.14 USD/kWh"},
		{"0.14 $/kWh", energy, `no currency "$"`},
		{"0.14 USD", energy, "no unit of energy; write for instance 0.14 USD/kWh"},
		{"0.14 USD/kW", energy, `no unit of energy "kW"; did you mean kWh?`},
		{"-1 USD/kWh", energy, "negative"},
		{"0 USD/kWh", energy, "leave it out"},
		{"free", energy, "no number"},
		{"0,14 EUR/kWh", energy, "comma"},
		{"9.50 USD", fluid, "no unit of volume or mass; write for instance 9.50 USD/gal"},
		{"9.50 USD/kWh", fluid, `no unit of volume or mass "kWh"`},
		{"6.50 USD/kg", nil, "for each run; write for instance 6.50 USD"},
		{"1e308 USD/mL", fluid, "no such price"},
	} {
		if got, err := ParsePrice(tt.written, tt.per...); err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("ParsePrice(%q) = %v, %v; want an error with %q", tt.written, got, err, tt.says)
		}
	}
}

// TestPricesFor: which price of fresh solvent one still is told.
func TestPricesFor(t *testing.T) {
	c := mustParse(t, `
stills:
  pure: {solvent: toluene}
  other: {solvent: ethanol}
  blend: {solvent: {toluene: 0.75, MEK: 0.25}}
  half: {solvent: {toluene: 0.5, ethanol: 0.5}}
  unknown: {}
prices:
  solvents: {108-88-3: 4 EUR/L, 78-93-3: 2 EUR/kg}
  waste: 0.5 EUR/L
`)
	mek, _ := solvent.Find("MEK")
	density, _ := mek.DensityKgPerL(20)
	for still, want := range map[string]analysis.UnitPrice{
		"pure": {PerL: 4}, "other": {}, "half": {}, "unknown": {}, // a part without a price leaves the whole without
		"blend": {PerL: 0.75*4 + 0.25*2*density},
	} {
		p := c.Still(still).Equipment.Prices
		if math.Abs(p.Fresh.PerL-want.PerL) > 1e-12 || p.Fresh.PerKg != want.PerKg || p.Currency != "EUR" || p.Waste.PerL != 0.5 {
			t.Errorf("%s: %+v, want fresh %+v", still, p, want)
		}
	}
	// CRC Handbook: 2-butanone, 0.8049 g/cm³ at 20 °C (from memory).
	near(t, "density of MEK, kg/L", density, 0.8049, 0.003)
}

// TestMetersUpkeep: what is written arrives in the inside units.
func TestMetersUpkeep(t *testing.T) {
	c := mustParse(t, `
stills:
  a:
    meters: {energy_counter: 0.5 %, heater_power: 2 %, distillate: 1.5 %}
    upkeep: {Thermal oil: {hours: 41 d 16 h}, gasket: {runs: 150, days: 8 weeks}}
`)
	e := c.Still("a").Equipment
	if e.Meters != (analysis.Meters{EnergyPct: 0.5, PowerPct: 2, DistillatePct: 1.5}) {
		t.Errorf("meters %+v", e.Meters)
	}
	if len(e.Upkeep) != 2 || e.Upkeep[0] != (analysis.Upkeep{Name: "Thermal oil", Hours: 1000}) || e.Upkeep[1] != (analysis.Upkeep{Name: "gasket", Runs: 150, Days: 56}) {
		t.Errorf("upkeep %+v", e.Upkeep)
	}
}

func TestMoney(t *testing.T) {
	for v, want := range map[float64]string{0.14: "0.14 USD", 0.1234: "0.123 USD", 6.5: "6.50 USD", 0: "0.00 USD", 1234.567: "1234.57 USD", -0.001: "-0.00100 USD", 0.5: "0.50 USD", 0.999: "0.999 USD"} {
		if got := Money(v, "USD"); got != want {
			t.Errorf("Money(%v) = %q, want %q", v, got, want)
		}
	}
}
