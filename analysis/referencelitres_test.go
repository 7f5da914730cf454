package analysis

import (
	"math"
	"testing"
)

// The condensate leaves 15 K colder than a litre is stated at: toluene has 0.8669 kg/L at 20 °C and 0.8809 kg/L at
// 5 °C (CRC Handbook of Chemistry and Physics, from memory), so a metered litre is 1.016 of trade, less what it
// warms in the receiver.
func TestLitersAreStatedAt20(t *testing.T) {
	channels := []string{"jacket_temperature", "charge_temperature", "still_vacuum", "energy_counter", "distillate_volume", "ambient_temperature"}
	liters := func(condensate float64, fitted bool) (l, u, shown float64) {
		chs := channels
		if fitted {
			chs = append(chs[:len(chs):len(chs)], "condensate_temperature")
		}
		s := shortScene(3, chs...)
		s.hold, s.room = 3600, 20
		s.events[0] = func(w *world) { w.condensate = condensate }
		scans := s.scans()
		for i, c := range s.channels {
			if c == "distillate_volume" {
				shown = scans[len(scans)-1].Values[i].V
			}
		}
		for _, e := range fold(s.still, scans) {
			if e.Kind == RunEvent {
				return *e.Summary.RecoveredL, *e.Summary.RecoveredLU, shown
			}
		}
		t.Fatal("no run")
		return
	}
	cold, uCold, shown := liters(5, true)
	if ratio := cold / shown; math.Abs(ratio-1-0.75*0.016) > 0.0015 {
		t.Errorf("condensate at 5 °C in a room of 20 °C: %.4f of what is metered, want 1.012", ratio)
	}
	warm, uWarm, _ := liters(20, true)
	if math.Abs(warm/shown-1) > 0.001 {
		t.Errorf("condensate at 20 °C: %.4f of what is metered, want 1", warm/shown)
	}
	none, uNone, _ := liters(5, false)
	if math.Abs(none-shown) > 1e-9 {
		t.Errorf("no thermometer: %.3f L of %.3f L metered; nothing is known to correct by", none, shown)
	}
	if !(uWarm < uCold && uCold < uNone) {
		t.Errorf("u %.3f, %.3f, %.3f L: the less is known of the temperature, the larger", uWarm, uCold, uNone)
	}
}

// A solvent nobody knows expands as organic liquids do.
func TestUnknownLiquidExpands(t *testing.T) {
	var a Analyser
	a.run.distil.cooled.take(10, 10, true)
	f, u := a.atReference(true)
	if math.Abs(f-1.012) > 1e-9 {
		t.Errorf("ten kelvin are %.4f, want 1.012", f)
	}
	// By hand: 2 K of 0.12 %/K and 30 % of the correction, rectangular.
	if want := math.Hypot(0.0024, 0.0036) / math.Sqrt(3); math.Abs(u-want) > 1e-9 {
		t.Errorf("u %.6f, want %.6f", u, want)
	}
}
