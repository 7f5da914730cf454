package analysis

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// A leak on a pot that is hot from the run before: its oil is at 45 °C, the fresh charge at 21 °C, where toluene has 3 kPa. A
// thermometer in the charge shows that no vapour holds the pressure, and the alarm does not wait until the time allowed is up.
func TestLeakOnHotPot(t *testing.T) {
	for _, tt := range []struct {
		channels     []string
		from, before float64 // s after the start
	}{
		{[]string{"jacket_temperature", "charge_temperature", "still_vacuum", "air_on"}, 30, 300},
		{[]string{"jacket_temperature", "still_vacuum", "air_on"}, 480, 1800},
	} {
		s := defaultScene(tt.channels...)
		s.hotC, s.holeMM = 45, 1.35
		raised := math.NaN()
		for _, e := range fold(s.still, s.scans()) {
			if e.Fault == VacuumShort && e.State == Raised && math.IsNaN(raised) {
				raised = e.At.Sub(sceneStart).Seconds() - s.lead
			}
		}
		if !(raised >= tt.from && raised <= tt.before) {
			t.Errorf("%v: raised after %.0f s, want %g to %g s", tt.channels, raised, tt.from, tt.before)
		}
	}
}

// People who end a batch switch off the heat and let the air in within seconds, and the control may stay on.
func TestHeatAndVacuumEndedTogether(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_on", "run_on")
	scans := s.scans()
	for i := range scans {
		if scans[i].Values[3].V == 0 && i > 600 && i < len(scans)-600 { // the control stays on for another quarter of an hour
			for k := i; k < i+900; k++ {
				scans[k].Values[3].V = 1
			}
			break
		}
	}
	if raised, _ := when(fold(s.still, scans), VacuumLost); len(raised) > 0 {
		t.Errorf("vacuum-lost raised in runs %v, want none", raised)
	}
}

// A display of whole degrees may show one figure for as long as nobody heats: vacuum pulled three quarters of an hour before
// the heat is no reason to doubt it. Nor is it doubted over and over when it is.
func TestOilThatNeverMoved(t *testing.T) {
	for _, tt := range []struct {
		vacuum float64 // s before the heat
		most   int
	}{{2700, 0}, {9000, 1}} {
		const start = 1200
		s := defaultScene()
		oil := func(t float64, _ *rand.Rand) float64 {
			return math.Round(21 + 0.04*math.Max(0, t-start-tt.vacuum))
		}
		vacuum := func(t float64, rng *rand.Rand) float64 {
			return 93*(1-math.Exp(-math.Max(0, t-start)/80)) + 0.05*rng.NormFloat64()
		}
		if raised, _ := when(fold(s.still, resting(1, start+tt.vacuum+600, oil, vacuum)), SignalStuck); len(raised) > tt.most {
			t.Errorf("vacuum %g s before the heat: signal-stuck raised %d times, want %d at the most", tt.vacuum, len(raised), tt.most)
		}
	}
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

// A gauge that is dead from the first scan is told as one that dies later, and nobody calls the run good.
func TestGaugeDeadFromTheStart(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "run_on")
	s.events[-250] = func(w *world) { w.mute["still_vacuum"] = Silent }
	es := fold(s.still, s.scans())
	if raised, _ := when(es, DeviceSilent); len(raised) != 1 {
		t.Errorf("device-silent raised in runs %v, want once", raised)
	}
	if sum := lastSummary(es); sum == nil || sum.Verdict == GoodRun {
		t.Errorf("summary %+v, want one that is not good", sum)
	}
}

// Half of the readings of the gauge are beyond anything, a few in a row each time: no fault lasts, and it is no good run.
func TestTooFewReadings(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "run_on")
	scans := s.scans()
	for i := range scans {
		if i%16 < 8 && i > 600 {
			scans[i].Values[1] = Value{Quality: OutOfRange}
		}
	}
	if sum := lastSummary(fold(s.still, scans)); sum == nil || sum.Verdict != SuspectRun {
		t.Errorf("summary %+v, want a suspect run", sum)
	}
}

// Gas at the detector when nothing runs comes and goes by itself: no run closes its alarm.
func TestGasAtRest(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "gas_level")
	var scans []Scan
	for at := range 1800 {
		gas := 0.0
		if at > 600 && at < 900 {
			gas = 14
		}
		scans = append(scans, Scan{At: sceneStart.Add(time.Duration(at) * time.Second), Values: []Value{{V: 20}, {V: 0.01 * float64(at%3)}, {V: gas}}})
	}
	told := ""
	for _, e := range fold(s.still, scans) {
		if e.Fault == GasLevelHigh && e.State == Cleared {
			told = e.Text
		}
	}
	if !strings.HasPrefix(told, goneWords) {
		t.Errorf("%q, want %q...", told, goneWords)
	}
}

// An hour and a half of a run are not recorded. What is left of it begins in the middle, is not good, and no phase of it ends before it begins.
func TestLongHoleInARun(t *testing.T) {
	s := defaultScene()
	var kept []Scan
	for _, sc := range s.scans() {
		if since := sc.At.Sub(sceneStart); since < 25*time.Minute || since > 115*time.Minute {
			kept = append(kept, sc)
		}
	}
	runs := 0
	for _, e := range fold(s.still, kept) {
		if e.Kind != RunEvent {
			continue
		}
		runs++
		if e.Summary.Verdict != SuspectRun {
			t.Errorf("run %d is %s, want suspect", runs, e.Summary.Verdict)
		}
		for _, p := range e.Summary.Phases {
			if p.End.Before(p.Start) {
				t.Errorf("run %d: %s from %s to %s", runs, p.Name, p.Start, p.End)
			}
		}
	}
	if runs != 2 {
		t.Errorf("%d runs, want 2", runs)
	}
}
