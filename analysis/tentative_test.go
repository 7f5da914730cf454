package analysis

import (
	"math"
	"testing"
)

// A pressure that is drawn down by some kPa and comes back within minutes was no run: a cold charge in a hot pot does that.
// Nobody hears of it, and the run that follows is the first one. One that stays down is an ejector at an opening.
func TestPressureComesBack(t *testing.T) {
	back := func(lasts float64) func(s float64) float64 { // falls for 15 s, then comes back
		return func(s float64) float64 {
			if s < 15 {
				return s / 15
			}
			return math.Exp(-(s - 15) / lasts)
		}
	}
	for _, tt := range []struct {
		name   string
		fall   float64 // kPa
		course func(s float64) float64
		told   bool
	}{
		{"a cold charge in a hot pot", 5, back(30), false},
		{"it takes two minutes", 5, back(60), false},
		{"small and slow", 2.5, back(60), false},
		{"an ejector at an opening", 3, func(s float64) float64 { return 1 - math.Exp(-s/4) }, true},
		{"a leak", 40, func(s float64) float64 { return 1 - math.Exp(-s/80) }, true},
	} {
		for _, poll := range []float64{1, 2, 5} {
			s := defaultScene("jacket_temperature", "still_pressure")
			s.dt, s.lead = poll, 3600
			scans := s.scans()
			const at = 1500.
			for i := range scans {
				if since := scans[i].At.Sub(sceneStart).Seconds() - at; since > 0 && since < 900 {
					scans[i].Values[1].V -= tt.fall * tt.course(since)
				}
			}
			told, first := false, 0
			for _, e := range fold(s.still, scans) {
				switch after := e.At.Sub(sceneStart).Seconds() - s.lead; {
				case after < -10 && !told:
					told = true
					if late := after + s.lead - at; e.Kind != PhaseEvent || math.Abs(late) > 15+2*poll {
						t.Errorf("%s, every %g s: %s told %.0f s after the fall began", tt.name, poll, e.Kind, late)
					}
				case after >= -10 && first == 0:
					first = e.Run
				}
			}
			if told != tt.told {
				t.Errorf("%s, every %g s: told %v", tt.name, poll, told)
			}
			if !tt.told && first != 1 {
				t.Errorf("%s, every %g s: the run after it is number %d", tt.name, poll, first)
			}
		}
	}
}

// Until it is certain, the still is idle for whoever asks, and its words say what is seen.
func TestTentativeStatus(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_pressure")
	s.lead = 3600
	a := New(s.still, Memory{})
	for _, scan := range s.scans() {
		since := scan.At.Sub(sceneStart).Seconds() - 1500
		if since > 0 {
			scan.Values[1].V -= math.Min(4, since/3)
		}
		if since > 8 {
			break
		}
		a.Step(scan)
	}
	st := a.Status()
	if st.Phase != Idle || st.Run != 0 || st.Runs != 0 || st.RunStart != nil {
		t.Errorf("%+v", st)
	}
	if got := a.Status().Sentence; got != "The pressure has just gone down, to 98.6 kPa absolute: a run may be beginning, oil at 21 °C." {
		t.Errorf("it says %s", got)
	}
	if es := a.Finish(); len(es) != 0 {
		t.Errorf("a recording that ends here has %d events", len(es))
	}
}
