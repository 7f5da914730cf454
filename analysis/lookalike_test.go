package analysis

import (
	"math"
	"slices"
	"testing"
)

// Each fault here has a look-alike that is in perfect health, and both are told by what the physics leaves open.
func TestLookalikes(t *testing.T) {
	full := []string{"jacket_temperature", "still_vacuum", "heater_power", "heater_on", "air_on"}
	tests := []struct {
		name     string
		channels []string
		change   func(s *scene)
		raised   []Fault // these and no others of ask
		ask      []Fault
		reason   string
	}{
		{"the air is opened minutes after the heat", []string{"jacket_temperature", "still_vacuum", "run_on", "air_supply_pressure"}, func(s *scene) {
			s.events[0] = func(w *world) { w.air = 0 }
			s.events[240] = func(w *world) { w.air = 600 }
		}, nil, []Fault{AirSupplyLow, VacuumNotPulled}, "its gauge stands behind the valve"},
		{"the air fails in the run", []string{"jacket_temperature", "still_vacuum", "run_on", "air_supply_pressure"}, func(s *scene) {
			s.events[900] = func(w *world) { w.air = 0 }
		}, []Fault{AirSupplyLow}, []Fault{AirSupplyLow}, "it was there"},
		{"the air is never opened", []string{"jacket_temperature", "still_vacuum", "run_on", "air_supply_pressure"}, func(s *scene) {
			s.events[0] = func(w *world) { w.air = 0 }
		}, []Fault{AirSupplyLow, VacuumNotPulled}, []Fault{AirSupplyLow, VacuumNotPulled}, "nobody takes so long"},
		{"a fifth of the vacuum goes", full, func(s *scene) {
			s.events[5000] = func(w *world) { w.hole = 1.9 }
		}, []Fault{VacuumLost}, []Fault{VacuumLost}, "above its target for hours"},
		{"a little of the vacuum goes", full, func(s *scene) {
			s.events[5000] = func(w *world) { w.hole = 0.8 }
		}, nil, []Fault{VacuumLost}, "its target is kept"},
		{"called for and no heat from the start", full, func(s *scene) {
			s.events[0] = func(w *world) { w.heatShare = 0 }
		}, []Fault{HeatingStalled}, []Fault{HeatingStalled}, "the switch calls for it"},
		{"vacuum first, heat half an hour later", full, func(s *scene) {
			s.events[0] = func(w *world) { w.heat = false }
			s.events[1800] = func(w *world) { w.heat = true }
		}, nil, []Fault{HeatingStalled}, "not called for"},
		{"heat fails while it boils, still called for", full, func(s *scene) {
			s.events[5400] = func(w *world) { w.heatShare = 0 }
		}, []Fault{HeatingStalled}, []Fault{HeatingStalled}, "a hand would have turned the switch"},
		{"a controller that throttles, and no set point stated", []string{"jacket_temperature", "still_vacuum", "heater_power"}, func(s *scene) {
			s.throttle = 25
		}, nil, []Fault{HeaterPhaseLost}, "the power follows the oil"},
	}
	for _, tt := range tests {
		s := defaultScene(tt.channels...)
		tt.change(s)
		scans := s.scans()
		if s.throttle > 0 { // its owner states nothing
			s.still.Recipe = Recipe{}
		}
		raised := raisedFaults(fold(s.still, scans))
		for _, f := range tt.ask {
			if got, want := slices.Contains(raised, f), slices.Contains(tt.raised, f); got != want {
				t.Errorf("%s: %s raised: %v, want %v (%s); all: %v", tt.name, f, got, want, tt.reason, raised)
			}
		}
	}
}

// A heater that good runs have shown to be full on or off takes a part of its power only when a part of it is lost,
// however near the set point; one that its controller throttles does so every day.
func TestPartOfTheHeaterNearTheSetPoint(t *testing.T) {
	channels := []string{"jacket_temperature", "still_vacuum", "heater_power", "charge_temperature"}
	for _, tt := range []struct {
		name   string
		change func(run int, s *scene)
		want   bool
	}{
		{"an element lost before a run on a hot still", func(run int, s *scene) {
			s.hotC = 140
			if run == 5 {
				s.events[-s.lead] = func(w *world) { w.heatShare = 2. / 3 }
			}
		}, true},
		{"every run on a hot still", func(_ int, s *scene) { s.hotC = 140 }, false},
		{"throttled in every run", func(_ int, s *scene) { s.hotC, s.throttle = 140, 20 }, false},
	} {
		es, _ := history(5, channels, tt.change)
		if raised, _ := when(es, HeaterPhaseLost); (len(raised) > 0) != tt.want || tt.want && raised[0] != 5 {
			t.Errorf("%s: %s raised in runs %v, want it in the fifth: %v", tt.name, HeaterPhaseLost, raised, tt.want)
		}
	}
}

// A vacuum that is let in over two minutes ends its run half way, or where the control was called off at once before.
func TestSlowVent(t *testing.T) {
	for _, tt := range []struct {
		channels []string
		from, to float64 // s after the control was called off
	}{
		{[]string{"jacket_temperature", "still_vacuum", "heater_power"}, 5, 60},
		{[]string{"jacket_temperature", "still_vacuum", "heater_power", "run_on"}, -5, 5},
	} {
		s := defaultScene(tt.channels...)
		s.coolFor = 900
		off := 0.0
		s.see = func(w *world) {
			if w.end > 0 {
				off = w.end
				w.closed = true // through a small valve
				w.hole = 6
			}
		}
		scans := s.scans()
		sum := lastSummary(fold(s.still, scans))
		if got := sum.End.Sub(sceneStart).Seconds() - off; got < tt.from || got > tt.to {
			t.Errorf("%v: ends %.0f s after the control was called off, want %g to %g", tt.channels, got, tt.from, tt.to)
		}
	}
}

// What a run took is split where its dry point was found in the end: the parts are those of the phases, and add up.
func TestEnergyOfPhases(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power", "charge_temperature", "energy_counter")
	s.hold = 4 * 3600
	var counted []float64 // kWh, every half second
	s.see = func(w *world) { counted = append(counted, w.counter) }
	sum := lastSummary(fold(s.still, s.scans()))
	total := 0.0
	for _, e := range sum.EnergyByPhaseKWh {
		total += e
	}
	if sum.EnergyKWh == nil || math.Abs(total-*sum.EnergyKWh) > 0.02 {
		t.Fatalf("phases add up to %.2f kWh, the run took %v", total, sum.EnergyKWh)
	}
	at := func(p PhaseSpan) (from, to int) {
		return int(2 * p.Start.Sub(sceneStart).Seconds()), int(2 * p.End.Sub(sceneStart).Seconds())
	}
	for _, p := range sum.Phases {
		from, to := at(p)
		if want := counted[to] - counted[from]; math.Abs(sum.EnergyByPhaseKWh[p.Name]-want) > 0.2 { // the onset of boiling is known a minute or two after it
			t.Errorf("%s took %.2f kWh, want %.2f", p.Name, sum.EnergyByPhaseKWh[p.Name], want)
		}
	}
}
