package analysis

import (
	"math"
	"testing"
)

// A control that is called off with the heat says nothing of the ejector. Where its supply shows that it pulls on, what cools is
// kept under vacuum until it is let in; where the supply rises at that moment, it has stopped, and the run is over.
func TestControlOffWhileTheEjectorPulls(t *testing.T) {
	for _, tt := range []struct {
		name  string
		rises float64 // of the supply when the control is called off, as a share
		ramp  float64 // the same in each minute from then on: a compressor has come on
		vent  bool    // the run ends with the vent, not with the control
	}{
		{"pulls on", 0, 0, true},
		{"stops", 0.03, 0, false},
		{"pulls on while the compressor fills the line", 0, 0.015, true},
		{"pulls on while the compressor fills it fast", 0, 0.12, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "still_pressure", "heater_on", "air_supply_pressure", "run_on")
			s.hold, s.coolFor = 3600, 1500
			off, vent := 0.0, 0.0 // s from the start of the scene
			s.see = func(w *world) {
				if w.heat {
					off = w.t
				}
				if w.pull {
					vent = w.t
				}
			}
			scans := s.scans()
			for i := range scans {
				v := scans[i].Values
				if since := scans[i].At.Sub(sceneStart).Seconds() - off; since > 0 {
					v[3].V *= 1 + tt.rises + tt.ramp*math.Min(since/60, 4)
					v[4].V = 0
				}
			}
			sum := lastSummary(fold(s.still, scans))
			if sum == nil {
				t.Fatal("no run")
			}
			want := off
			if tt.vent {
				want = vent
			}
			if got := sum.End.Sub(sceneStart).Seconds(); math.Abs(got-want) > 60 {
				t.Errorf("over at %.0f s, want %.0f s: heat off at %.0f s, let in at %.0f s", got, want, off, vent)
			}
		})
	}
}
