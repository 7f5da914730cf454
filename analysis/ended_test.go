package analysis

import (
	"math"
	"slices"
	"testing"

	"luted/analysis/solvent"
)

// Who switches heat, air and control off and leaves the still closed has ended the run, whatever vacuum stands. Without the
// switches nothing shows it.
func TestLeftClosedUnderVacuum(t *testing.T) {
	for _, tt := range []struct {
		channels []string
		ends     bool
	}{{[]string{"jacket_temperature", "still_vacuum", "heater_on", "air_on", "run_on"}, true}, {[]string{"jacket_temperature", "still_vacuum"}, false}} {
		s := defaultScene(tt.channels...)
		s.hold, s.tail = 4*3600, 300
		s.events[9000] = func(w *world) { w.heat, w.pull, w.isolated = false, false, true }
		ended := math.NaN()
		if sum := lastSummary(fold(s.still, s.scans())); sum != nil && sum.Verdict != "" {
			ended = sum.End.Sub(sceneStart).Seconds() - s.lead
		}
		if got := math.Abs(ended-9000) < 30; got != tt.ends {
			t.Errorf("%v: ended %.0f s after the start, switched off after 9000 s", tt.channels, ended)
		}
	}
}

// The control is off and the air still on, by a gauge behind its valve: the run goes on until somebody shuts it.
func TestAirLeftOn(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power", "air_supply_pressure", "run_on")
	s.hold, s.coolFor = 3600, 1500
	scans := s.scans()
	heatEnd, airEnd := 0.0, 0.0
	on := false
	for i := range scans {
		v := scans[i].Values
		t := float64(i) * s.dt
		pulls := v[1].V > 20
		if on = on || pulls; !pulls { // the valve is shut
			v[3].V = 0
		}
		if v[2].V > 0.5 {
			heatEnd = t
		}
		if pulls {
			airEnd = t
		}
		v[4].V = bit(t >= s.lead && (!on || heatEnd > t-400)) // off some minutes after the last heat
	}
	sum := lastSummary(fold(s.still, scans))
	if sum == nil {
		t.Fatal("no run")
	}
	if end := sum.End.Sub(sceneStart).Seconds(); math.Abs(end-airEnd) > 60 || airEnd < heatEnd+900 {
		t.Errorf("ended at %.0f s; heat until %.0f s, air until %.0f s", end, heatEnd, airEnd)
	}
}

// A probe that scatters by kelvins does not run away while the pot cools.
func TestNoisyProbeDoesNotRunAway(t *testing.T) {
	for seed := range uint64(6) {
		s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
		s.seed, s.noiseT, s.dt, s.coolFor, s.hold = seed, 2.5, 5, 2*3600, 3600
		if fs := raisedFaults(fold(s.still, s.scans())); slices.Contains(fs, OverTemperature) {
			t.Errorf("seed %d: raised %v", seed, fs)
		}
	}
}

// A charge nobody knows may hold a pressure by its vapour, until it gets warmer at that pressure: then it is a leak.
func TestUnknownChargeThatWarms(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power")
	s.holeMM, s.coolFor = 1.4, 600
	scans := s.scans()
	still := s.still
	still.Solvent = solvent.Mixture{}
	raised := raisedFaults(fold(still, scans))
	if !slices.Contains(raised, VacuumShort) {
		t.Errorf("raised %v, want %v: the charge has got warmer at the pressure that a leak holds", raised, VacuumShort)
	}
	s = defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power")
	scans = s.scans()
	if raised := raisedFaults(fold(still, scans)); slices.Contains(raised, VacuumShort) {
		t.Errorf("tight: raised %v", raised)
	}
}

// Oil that cools until its heat comes, and then rises for long, has not run away from a dry charge; oil that was at rest
// under heat and then rises, has.
func TestKnee(t *testing.T) {
	for _, tt := range []struct {
		name  string
		first func(min float64) float64 // oil over its first half hour, °C
		knee  bool
	}{
		{"heat came late", func(min float64) float64 { return 72 + 1.2*math.Max(0, 15-min) + 3*math.Max(0, min-15) }, false},
		{"boiled", func(float64) float64 { return 117 }, true},
	} {
		a := New(defaultScene("jacket_temperature", "still_vacuum").still, Memory{})
		a.course.begin(0)
		a.run.heat.steepest = 4. / 60
		for s := 10.0; s < 3600; s += a.course.every {
			oil := tt.first(math.Min(s, 1800)/60) + 2.6*math.Max(0, s-1800)/60
			at := spot{t: s}
			for i := range at.v {
				at.v[i] = math.NaN()
			}
			at.v[oilC], at.v[pressKPa] = oil, 10
			a.course.spots = append(a.course.spots, at)
		}
		at, ok := a.dryByKnee(3600)
		if ok != tt.knee || ok && math.Abs(at-1800) > 180 {
			t.Errorf("%s: knee %v after %.0f s, want %v, after 1800 s", tt.name, ok, at, tt.knee)
		}
	}
}

// Oil that falls by a few kelvins when the charge begins to boil is heated all the same: with an open lid and nothing else to
// see, that is no end of the run.
func TestOpenLidIsOneRun(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum")
	s.holeMM, s.hold = 40, 3*3600
	s.events[3000] = func(w *world) { w.heatShare = 0.4 }
	s.events[4200] = func(w *world) { w.heatShare = 1 }
	runs := 0
	for _, e := range fold(s.still, s.scans()) {
		if e.Kind == RunEvent {
			runs++
		}
	}
	if runs != 1 {
		t.Errorf("%d runs, want 1", runs)
	}
}

// A vacuum that stands for long far above what every run before came to is not held by the charge.
func TestBoilsLower(t *testing.T) {
	a := New(defaultScene("jacket_temperature", "still_vacuum").still, Memory{})
	for _, tt := range []struct {
		kept, low []WearPoint
		plateaus  []float64 // kPa
		boils     bool
		late, kPa float64 // times the time allowed; the pressure
		want      bool
	}{
		{low: []WearPoint{{EndKPa: 13}, {EndKPa: 14}}, late: 4.1, kPa: 41, want: true},
		{low: []WearPoint{{EndKPa: 13}, {EndKPa: 14}}, late: 3.9, kPa: 41},
		{low: []WearPoint{{EndKPa: 13}, {EndKPa: 14}}, late: 9, kPa: 27},
		{low: []WearPoint{{EndKPa: 13}}, late: 9, kPa: 41},
		{kept: []WearPoint{{EndKPa: 13}, {EndKPa: 14}}, late: 2.1, kPa: 22, want: true},
		{kept: []WearPoint{{EndKPa: 13}, {EndKPa: 14}}, late: 2.1, kPa: 20},
		{plateaus: []float64{12, 13, 14}, boils: true, late: 2.1, kPa: 22, want: true},
		{plateaus: []float64{12, 13, 14}, boils: true, late: 2.1, kPa: 20},
		{plateaus: []float64{12, 13, 14}, boils: true, late: 1.9, kPa: 22},
		{plateaus: []float64{12, 13, 14}, late: 2.1, kPa: 22},
		{plateaus: []float64{13, 14}, boils: true, late: 2.1, kPa: 22},
	} {
		a.memory.Learned = Learned{WearKept: tt.kept, WearLow: tt.low, PlateauKPa: tt.plateaus}
		a.run.distil.boiling = tt.boils
		a.run.vac.calledAt, a.r.t = 100, 100+tt.late*a.withinS()
		if got := a.boilsLower(tt.kPa); got != tt.want {
			t.Errorf("%+v: %v", tt, got)
		}
	}
}

// Some count a run to where the air begins to come, some to where it has come: a still that is let in within two minutes
// is over within a minute of both.
func TestEndsWhileLetIn(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum")
	s.hold, s.coolFor, s.tail = 3600, 1800, 3000
	s.still.GasVolumeL = 700 // lets itself in within 100 s
	var opened, in float64
	s.see = func(w *world) {
		switch {
		case w.end == 0:
		case opened == 0:
			opened = w.t
		case in == 0 && w.p > 0.96*s.atm:
			in = w.t
		}
	}
	sum := lastSummary(fold(s.still, s.scans()))
	if sum == nil {
		t.Fatal("no run")
	}
	end := sum.End.Sub(sceneStart).Seconds()
	if in-opened < 70 || in-opened > 120 {
		t.Fatalf("the air takes %.0f s, want some 100 s", in-opened)
	}
	if math.Abs(end-opened) > 60 || math.Abs(end-in) > 60 {
		t.Errorf("ends %.0f s after the vent was opened, which took %.0f s; want it within 60 s of both", end-opened, in-opened)
	}
}

// A thermometer whose wire breaks, or that hangs, once the heat is off takes nothing back of what it showed while it worked.
func TestThermometerFailsAfterDry(t *testing.T) {
	summed := func(fails string) *Summary {
		s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum")
		s.coolFor = 2400
		off := 0.0
		s.see = func(w *world) {
			if w.heat {
				off = w.t
			}
		}
		scans := s.scans()
		for i := range scans {
			if scans[i].At.Sub(sceneStart).Seconds() < off+300 {
				continue
			}
			switch fails {
			case "wire breaks":
				scans[i].Values[1] = Value{Quality: BrokenWire}
			case "hangs":
				scans[i].Values[1] = scans[i-1].Values[1]
			}
		}
		return lastSummary(fold(s.still, scans))
	}
	whole := summed("")
	if whole == nil || whole.DryAt == nil || whole.DryBasis != byChargeC {
		t.Fatalf("want it dry by its charge thermometer: %+v", whole)
	}
	for _, fails := range []string{"wire breaks", "hangs"} {
		got := summed(fails)
		if got == nil || got.DryAt == nil || got.DryBasis != whole.DryBasis || math.Abs(got.DryAt.Sub(*whole.DryAt).Seconds()) > 300 {
			t.Errorf("%s: dry at %v by %s, want %v by %s", fails, got.DryAt, got.DryBasis, whole.DryAt, whole.DryBasis)
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
