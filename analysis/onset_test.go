package analysis

import (
	"math"
	"testing"

	"luted/analysis/solvent"
)

// What boils at the temperature of the room hardly warms the pipe: the heat that goes nowhere shows it.
func TestOnsetNearRoom(t *testing.T) {
	s := defaultScene("jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power")
	s.still.Solvent, s.pu = pure("ethyl acetate"), 11
	s.still.Vacuum.TargetKPa = 18
	scans := s.scans()
	still := s.still
	still.Solvent = solvent.Mixture{}
	sum := lastSummary(fold(still, scans))
	if sum == nil {
		t.Fatal("no run")
	}
	for _, p := range sum.Phases {
		if p.Name == Distilling {
			if got := p.Start.Sub(sceneStart).Seconds() - s.lead; math.Abs(got-s.boilAt) > 240 {
				t.Errorf("boils from %.0f s on, want %.0f s", got, s.boilAt)
			}
			return
		}
	}
	t.Errorf("phases %v, want it to boil from %.0f s on", sum.Phases, s.boilAt)
}
