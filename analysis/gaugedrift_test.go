package analysis

import (
	"slices"
	"testing"
	"time"
)

// A gauge that drifts a little with every run is found although no run differs much from the one before, and its
// end pressures stay right; weather, a gauge that was off from the first day, and wear are no drift.
func TestGaugeDrift(t *testing.T) {
	relative := []string{"jacket_temperature", "still_vacuum"}
	absolute := []string{"jacket_temperature", "still_pressure"}
	tests := []struct {
		name     string
		runs     int
		channels []string
		change   func(run int, s *scene)
		found    bool
		reason   string
	}{
		{"vacuum gauge drifts", 13, relative, func(run int, s *scene) { offset(s, "still_vacuum", 0.4*float64(max(0, run-3))) }, true, "it shows vacuum while the still is open"},
		{"off from the first day", 8, relative, func(run int, s *scene) { offset(s, "still_vacuum", 2.5) }, false, "its usual error"},
		{"set right", 10, relative, func(run int, s *scene) { offset(s, "still_vacuum", 3*float64((10-run)/5)) }, false, "from then on it shows the surroundings"},
		{"absolute gauge drifts", 14, absolute, func(run int, s *scene) { offset(s, "still_pressure", 0.5*float64(max(0, run-4))) }, true, "surroundings and vacuum by as much"},
		{"weather", 14, absolute, func(run int, s *scene) { s.atm = 99.5 + 0.35*float64(run) }, false, "the end pressure stays"},
		{"wear", 14, absolute, func(run int, s *scene) { s.holeMM = 0.05 * float64(max(0, run-2)) }, false, "the surroundings stay"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			es, _ := history(tt.runs, tt.channels, tt.change)
			raised, _ := when(es, SignalImplausible)
			if found := len(raised) > 0; found != tt.found {
				t.Errorf("raised in runs %v, want %v (%s)", raised, tt.found, tt.reason)
			}
			if tt.found && slices.Contains(raised, 1) {
				t.Error("raised before there was anything to compare with")
			}
			for _, e := range es {
				if e.Kind == RunEvent && tt.name == "vacuum gauge drifts" && e.Summary.Vacuum != nil && e.Summary.Vacuum.EndKPa != nil {
					if end := *e.Summary.Vacuum.EndKPa; end < 3 || end > 5.5 {
						t.Errorf("run %d: end pressure %.2f kPa, want about 4 whatever the gauge drifts", e.Run, end)
					}
				}
			}
		})
	}
}

// offset makes a channel show too much.
func offset(s *scene, channel string, by float64) {
	s.lead = 1500
	s.events[-s.lead] = func(w *world) { w.offset[channel] = by }
}

// A gauge that is knocked while the still is under vacuum never shows the surroundings again: the vent is seen all the
// same, by where the pressure comes to rest, the run ends with it, and the next one is a run of its own.
func TestGaugeKnockedDuringRun(t *testing.T) {
	es, _ := history(3, []string{"jacket_temperature", "still_vacuum"}, func(run int, s *scene) {
		switch run {
		case 2:
			s.events[1800] = func(w *world) { w.offset["still_vacuum"] = 8 }
		case 3:
			offset(s, "still_vacuum", 8)
		}
	})
	ends := map[int]Event{}
	for _, e := range es {
		if e.Kind == RunEvent {
			ends[e.Run] = e
		}
	}
	if len(ends) != 3 {
		t.Fatalf("%d runs, want 3", len(ends))
	}
	usual, knocked := ends[1].Summary, ends[2].Summary
	if long, longer := usual.End.Sub(usual.Start), knocked.End.Sub(knocked.Start); (longer - long).Abs() > 10*time.Minute {
		t.Errorf("the run with the gauge knocked took %s, the one before %s", longer, long)
	}
	if raised, _ := when(es, SignalImplausible); !slices.Contains(raised, 3) {
		t.Errorf("gauge called off in runs %v, want run 3 to find it", raised)
	}
}

// A front changes what a gauge vacuum shows of the same boiling by 2.5 kPa, which shifts no gauge; where a barometer corrects it, the gauge
// has shifted.
func TestFrontShiftsNoGauge(t *testing.T) {
	for _, tt := range []struct {
		channels []string
		want     bool
	}{
		{[]string{"jacket_temperature", "charge_temperature", "still_vacuum"}, false},
		{[]string{"jacket_temperature", "charge_temperature", "still_vacuum", "barometric_pressure"}, true},
	} {
		a := New(defaultScene(tt.channels...).still, Memory{})
		a.memory.Learned.PlateauC = []float64{45, 45.2, 44.9}
		a.memory.Learned.PlateauKPa = []float64{10, 10.1, 9.9}
		a.run.distil.boilC.add(45)
		a.run.distil.boilKPa.add(12.5)
		if _, off, known := a.boilingShowsGauge(); off != tt.want || !known {
			t.Errorf("%v: off %v (known %v), want %v", tt.channels, off, known, tt.want)
		}
	}
}
