package solvent_test

import (
	"fmt"

	"luted/analysis/solvent"
)

// What toluene does in a still that holds 25 inHg of vacuum at sea level.
func ExampleSolvent_BoilingC() {
	toluene, _ := solvent.Find("Toluol")
	boils, ok := toluene.BoilingC(16.665) // kPa absolute
	floor, _ := toluene.VaporPressureKPa(20)
	fmt.Printf("%s boils at %.1f °C (%v); at 20 °C it holds the pressure at %.1f kPa\n", toluene.Name(), boils, ok, floor)
	// Output: toluene boils at 57.4 °C (true); at 20 °C it holds the pressure at 2.9 kPa
}

func ExampleLookup() {
	_, err := solvent.Lookup("toulene")
	fmt.Println(err)
	_, err = solvent.Lookup("lacquer thinner")
	fmt.Println(err)
	// Output:
	// no solvent "toulene"; did you mean toluene?
	// "lacquer thinner" is a mixture whose make-up varies from drum to drum: write `unknown`, or a custom solvent with the boiling point from its data sheet
}

func ExampleMixture() {
	m := solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}}
	begins, _ := m.BubbleC(20)
	ends, _ := m.DrynessC(20)
	least, _ := m.MinimumEnergyKWhPerGal(20, 20)
	fmt.Printf("%s: boils from %.0f °C, dry near %.0f °C, at least %.2f kWh/gal\n", m, begins, ends, least)
	// Output: 60 % toluene, 40 % acetone: boils from 29 °C, dry near 62 °C, at least 0.42 kWh/gal
}

func ExampleNewCustom() {
	s, err := solvent.NewCustom(solvent.Custom{Name: "slow thinner", BoilingC: 160, HeatOfVaporizationKJPerKg: 330, MolarMass: 118, DensityKgL: 0.9})
	if err != nil {
		fmt.Println(err)
		return
	}
	boils, _ := s.BoilingC(20)
	fmt.Printf("%s boils at %.0f °C under 20 kPa\n", s.Name(), boils)
	// Output: slow thinner boils at 107 °C under 20 kPa
}
