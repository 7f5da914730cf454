package analysis

import (
	"encoding/json"
	"fmt"
	"testing"
)

func dump(es []Event) string {
	out := ""
	for _, e := range es {
		b, _ := json.Marshal(e)
		out += fmt.Sprintln(string(b))
	}
	return out
}

func TestLook(t *testing.T) {
	for _, f := range []struct {
		name string
		mod  func(*scene)
	}{
		{"clean", func(*scene) {}},
		{"open", func(s *scene) { s.holeMM = 40 }},
		{"5mm", func(s *scene) { s.holeMM = 5 }},
		{"2mm", func(s *scene) { s.holeMM = 2 }},
		{"1.5mm", func(s *scene) { s.holeMM = 1.5 }},
		{"1mm", func(s *scene) { s.holeMM = 1 }},
		{"stall", func(s *scene) { s.events[1200] = func(w *world) { w.heatShare = 0 } }},
		{"lost", func(s *scene) { s.events[5400] = func(w *world) { w.hole = 30 } }},
		{"acetone", func(s *scene) { s.still.Solvent.Parts[0].Name = "acetone" }},
	} {
		for _, chans := range [][]string{nil, {"jacket_temperature", "still_vacuum", "heater_power", "energy_counter", "distillate_volume", "air_supply_pressure", "air_on", "charge_temperature"}} {
			s := defaultScene(chans...)
			f.mod(s)
			fmt.Println("=====", f.name, len(s.channels))
			fmt.Print(dump(fold(s.still, s.scans())))
		}
	}
}
