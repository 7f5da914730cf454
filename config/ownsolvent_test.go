package config

import (
	"testing"

	"luted/analysis/solvent"
)

// TestOwnSolvent describes a solvent of the table as if it were one's own: figures of toluene from the
// CRC Handbook of Chemistry and Physics, 95th ed. (2014): boiling point 110.63 °C, enthalpy of
// vaporisation 33.18 kJ/mol there, molar mass 92.139 g/mol; converted by hand to US units.
func TestOwnSolvent(t *testing.T) {
	c := mustParse(t, `
stills:
  north: {solvent: {shop-blend: 0.5, acetone: 0.5}}
  south: {solvent: shop-blend}
solvents:
  shop-blend: {boiling: 231.13 °F, heat_of_vaporization: 154.82 Btu/lb, molar_mass: 92.139 g/mol, density: 7.2 lb/gal, heat_capacity: 0.408 Btu/(lb·°F)}
`)
	own := c.Still("south").Equipment.Solvent
	table, ok := solvent.Find("toluene")
	if !ok {
		t.Fatal("no toluene")
	}
	for _, p := range []float64{10, 30, 101.325} {
		got, ok1 := own.BoilingC(p)
		want, ok2 := table.BoilingC(p)
		if !ok1 || !ok2 {
			t.Fatalf("no boiling point at %v kPa", p)
		}
		near(t, "boiling point, °C", got, want, 2) // Clausius–Clapeyron from one point, an order of magnitude down
	}
	density, _ := own.DensityKgPerL()
	near(t, "density, kg/L", density, 0.8628, 0.0005) // 7.2 × 0.45359237 / 3.785411784
	heat, _ := own.HeatCapacityKJPerKgK(25)
	near(t, "heat capacity, kJ/(kg·K)", heat, 1.708, 0.001) // 0.408 × 4.1868
	if m := c.Still("north").Equipment.Solvent; len(m.Parts) != 2 || m.Check() != nil || m.String() == "" {
		t.Errorf("blend %v: %v", m, m.Check())
	}
}
