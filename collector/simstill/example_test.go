package simstill_test

import (
	"fmt"
	"time"

	"luted/analysis/solvent"
	"luted/collector/simstill"
)

// An ordinary run of toluene, and the same with the lid not locked.
func ExampleStill() {
	monday := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	toluene := simstill.Batch{Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}}
	for _, fault := range []simstill.Fault{"", simstill.OpenLid} {
		s, err := simstill.New(simstill.Options{Name: "north", Seed: 1}, monday)
		if err != nil {
			fmt.Println(err)
			return
		}
		if fault != "" {
			if err := s.Set(fault, 0); err != nil {
				fmt.Println(err)
				return
			}
		}
		if err := s.Start(toluene); err != nil {
			fmt.Println(err)
			return
		}
		for _, after := range []time.Duration{2 * time.Minute, 20 * time.Minute, time.Hour} {
			s.Advance(monday.Add(after))
			tr := s.Truth()
			fmt.Printf("after %v: %s, %.0f kPa, oil %.0f °C\n", after, tr.Phase, tr.PressureKPa, tr.JacketC)
		}
	}
	// Output:
	// after 2m0s: pump-down, 33 kPa, oil 25 °C
	// after 20m0s: heat-up, 11 kPa, oil 88 °C
	// after 1h0m0s: distilling, 11 kPa, oil 146 °C
	// after 2m0s: heat-up, 102 kPa, oil 25 °C
	// after 20m0s: heat-up, 102 kPa, oil 88 °C
	// after 1h0m0s: heat-up, 102 kPa, oil 147 °C
}

// The block that decodes a still's registers.
func ExampleStill_Channels() {
	s, err := simstill.New(simstill.Options{Name: "yard", Sensors: simstill.Sensors{Set: simstill.TwoChannel}}, time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(s.Channels(0))
	// Output:
	// channels:
	//   jacket_temperature: {holding: 0, as: int16, scale: 0.1, unit: °C}
	//   still_vacuum: {input: 4, as: uint16, raw: [4000, 20000], range: [0 kPa, 100 kPa], loop: true}
}
