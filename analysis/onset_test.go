package analysis

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

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

// Water in the drum of n-butyl acetate: it boils at 45 °C under 9.6 kPa, where the acetate boils at 56 °C, and takes so much heat
// that 0.15 L/min is all that 5 kW bring over. The oil is 100 K hotter: that it boils need not wait for more.
func TestWaterComesOverSlowly(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "distillate_volume", "run_on")
	s.still.ChargeL, s.still.Heater.RatedKW = 160, 10.5
	s.still.Solvent.Parts[0].Name = "n-butyl acetate"
	const start, stands = 600.0, 600.0 + 1800
	ramp := func(t, from, to float64) float64 { return math.Max(0, math.Min(1, (t-from)/(to-from))) }
	rng := rand.New(rand.NewPCG(2, 2))
	var scans []Scan
	for at := 0.0; at < stands+3*3600; at++ {
		scans = append(scans, Scan{At: sceneStart.Add(time.Duration(at) * time.Second), Values: []Value{
			{V: 20 + 130*ramp(at, start, stands) + 0.1*rng.NormFloat64()},
			{V: 20 + 25*ramp(at, start+600, stands) + 0.1*rng.NormFloat64()},
			{V: 91.7*(1-math.Exp(-math.Max(0, at-start)/80)) + 0.1*rng.NormFloat64()},
			{V: 0.15 / 60 * math.Max(0, at-stands)},
			{V: bit(at >= start)},
		}})
	}
	boils, off := math.NaN(), false
	for _, e := range fold(s.still, scans) {
		if e.Phase == Distilling && math.IsNaN(boils) {
			boils = e.At.Sub(sceneStart).Seconds()
		}
		off = off || e.Fault == BoilingPointOff
	}
	if !(math.Abs(boils-stands) < 1500) || !off {
		t.Errorf("distilling from %.0f s, boiling-point-off %v; want about %g s and true", boils, off, stands)
	}
}
