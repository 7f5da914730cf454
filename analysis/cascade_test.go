package analysis

import (
	"math"
	"testing"
	"time"
)

// cascade lets the oil run ahead of the charge by so many K and no further, as a controller in cascade does; the air comes
// when the charge is at airC.
func cascade(s *scene, ahead, airC float64) {
	waits := true
	s.see = func(w *world) {
		w.heatShare = math.Max(0, math.Min(1, (w.charge+ahead-w.oil)/10))
		if w.end == 0 && w.heat {
			waits = waits && w.charge < airC
			w.pull = !waits
		}
	}
}

// A controller in cascade gives its full power for some minutes and then what the charge takes, which is for long about a
// third; and it opens the air when the charge is warm. Neither is a fault; a lost phase beside it is.
func TestCascade(t *testing.T) {
	for _, channels := range [][]string{
		{"jacket_temperature", "still_pressure"},
		{"jacket_temperature", "still_pressure", "charge_temperature", "heater_power"},
	} {
		for _, ahead := range []float64{19, 20, 21, 22, 30, 31, 32} {
			s := defaultScene(channels...)
			s.hold, s.dt = 1800, 5
			s.still.Air.Opens = ByHand
			cascade(s, ahead, 40)
			for _, e := range fold(s.still, s.scans()) {
				if e.Kind == FaultEvent && e.State == Raised && (e.Fault == HeaterPhaseLost || e.Fault == HeatingSlow || e.Fault == VacuumNotPulled) {
					t.Errorf("%d channels, %g K ahead: %s %s after the start: %s", len(channels), ahead, e.Fault, e.At.Sub(sceneStart)-time.Duration(s.lead)*time.Second, e.Text)
				}
			}
		}
	}
}

// A receiver's gauge that shows whole litres gives the dry point as one that shows all of them does, to some minutes.
func TestDryByCoarseGauge(t *testing.T) {
	for _, step := range []float64{0, 0.5, 1} {
		s := defaultScene(counted...)
		s.hold, s.dt = 3600, 5
		scans := s.scans()
		volume := 6
		if counted[volume] != "distillate_volume" {
			t.Fatal(counted)
		}
		for i := range scans {
			if v := &scans[i].Values[volume].V; step > 0 {
				swings := 0.15 * step * math.Sin(float64(i)*0.03)
				*v = math.Round((*v+step/2+swings)/step) * step // in the end it flickers between two steps
			}
		}
		sum := lastSummary(fold(s.still, scans))
		if sum == nil || sum.DryAt == nil {
			t.Errorf("steps of %g L: no dry point", step)
			continue
		}
		if off := sum.DryAt.Sub(sceneStart).Seconds() - s.lead - s.dryAt; math.Abs(off) > 240 {
			t.Errorf("steps of %g L: dry %.0f s off", step, off)
		}
	}
}
