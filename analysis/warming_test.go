package analysis

import (
	"math"
	"slices"
	"testing"
	"time"

	"luted/analysis/solvent"
)

// What only follows the pressure is no warming; what warms at the same pressure is.
func TestWarmingWithPressure(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_pressure")
	for _, tt := range []struct {
		name     string
		charge   func(a *Analyser, p float64) float64
		rises    bool // the pressure
		want, is float64
	}{
		{"boils while the vacuum goes", func(a *Analyser, p float64) float64 { c, _ := a.liquid.boilC(p); return c }, true, 0, 0.1},
		{"dry at a steady pressure", func(_ *Analyser, p float64) float64 { return 60 }, false, 3e-4, 0.1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := New(s.still, Memory{})
			a.course.begin(0)
			temp := tt.charge(a, 20)
			for x := 10.0; x < 1200; x += courseEvery {
				p := 20.0
				if tt.rises {
					p += x / 60
					temp = tt.charge(a, p)
				} else {
					temp += courseEvery * 3e-4 * (150 - temp)
				}
				sp := spot{t: x}
				for i := range sp.v {
					sp.v[i] = math.NaN()
				}
				sp.v[oilC], sp.v[chargeC], sp.v[pressKPa] = 150, temp, p
				a.course.spots = append(a.course.spots, sp)
			}
			got, drive, ok := a.warming(chargeC, 600, 1200)
			if !ok || drive < 50 || math.Abs(got-tt.want) > 0.1*3e-4 {
				t.Errorf("warms by %.3g /s over %.0f K (%v), want %.3g", got, drive, ok, tt.want)
			}
		})
	}
}

// Clausius–Clapeyron with Trouton's rule stands in for a solvent nobody stated: toluene boils at 110.6 °C at 101.3 kPa
// and at 89.4 °C at 53.3 kPa (400 mmHg; handbook values, from memory), so 33 K for e times the pressure.
func TestAnySolventRises(t *testing.T) {
	a := New(Still{}, Memory{})
	if got := a.boilingPerKPa(75) * 75; math.Abs(got-33) > 4 {
		t.Errorf("%.1f K for e times the pressure, want about 33", got)
	}
}

// TestWetEnd: whether liquid was left is told by the thermometer alone, under vacuum and without it.
func TestWetEnd(t *testing.T) {
	charge := []string{"jacket_temperature", "charge_temperature", "still_vacuum", "heater_power"}
	vapor := []string{"jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power"}
	for _, tt := range []struct {
		name     string
		channels []string
		change   func(*scene)
		dry, wet bool
		reason   string
	}{
		{"to the end", charge, func(s *scene) { s.hold = 6000 }, true, false, "a charge that follows the oil is dry"},
		{"to the end", vapor, func(s *scene) { s.hold = 6000 }, true, false, "a pipe that nothing boils into is dry"},
		{"to the end, in a pipe that stays warm", vapor, func(s *scene) {
			s.hold = 6000
			warm := 0.0
			s.see = func(w *world) {
				if w.left > 2 {
					warm = w.pipe
				} else if w.closed {
					w.pipe = warm + 1
				}
			}
		}, true, false, "what the pot takes has fallen, whatever the pipe says"},
		{"too soon", charge, func(s *scene) { s.hold = 1200 }, false, true, "the charge is where it boils"},
		{"too soon", vapor, func(s *scene) { s.hold = 1200 }, false, true, "and so is the vapour"},
		{"boils at the pressure of the room", charge, func(s *scene) {
			s.events[2700] = func(w *world) { w.hole = 30 }
			s.hold = 3600
		}, false, true, "80 K hotter than under vacuum, and full of liquid"},
	} {
		t.Run(tt.name+" by "+tt.channels[1], func(t *testing.T) {
			s := defaultScene(tt.channels...)
			s.coolFor = 1800
			s.still.Recipe.JacketC = 120 // reached while it boils
			s.still.Recipe.Hold = 0
			tt.change(s)
			es := fold(s.still, s.scans())
			var sum *Summary
			for _, e := range es {
				if e.Kind == RunEvent {
					sum = e.Summary
				}
			}
			if sum == nil || (sum.DryAt != nil) != tt.dry || slices.Contains(raisedFaults(es), NotDry) != tt.wet || slices.Contains(raisedFaults(es), PastDry) {
				t.Fatalf("want dry %v, not-dry %v (%s); left dry after %s\n%s", tt.dry, tt.wet, tt.reason, time.Duration(s.dryAt*1e9), lines(t, es))
			}
		})
	}
}

// A wet residue has the wall of the pot to itself, the cake that is left of it does not: what warms by clearly more than in
// the cool-down is not dry yet, though all the heat seems to warm it.
func TestLastWet(t *testing.T) {
	for _, tt := range []struct {
		name     string
		wet, dry float64 // 1/s, before and after an hour and a half
		from, to float64 // of the last wet moment, s; 0: none
	}{
		{"the cake lets go of the wall", 4e-4, 1.5e-4, 5000, 5600},
		{"it touches it as before", 1.5e-4, 1.5e-4, 0, 0},
		{"it gives off vapour to the end", 1e-4, 1.5e-4, 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := New(defaultScene("jacket_temperature", "charge_temperature", "still_pressure").still, Memory{})
			a.course.begin(0)
			temp := 45.0
			for x := 10.0; x < 9000; x += courseEvery {
				if w := tt.wet; x > 3600 {
					if x > 5400 {
						w = tt.dry
					}
					temp += courseEvery * w * (150 - temp)
				}
				sp := spot{t: x}
				for i := range sp.v {
					sp.v[i] = math.NaN()
				}
				sp.v[oilC], sp.v[chargeC], sp.v[pressKPa] = 150, temp, 12
				a.course.spots = append(a.course.spots, sp)
			}
			if got := a.lastWet(tt.dry, 0, 900, 8500, 9000); got < tt.from || got > tt.to {
				t.Errorf("last wet at %.0f s, want %.0f to %.0f s", got, tt.from, tt.to)
			}
		})
	}
}

// A charge that is far hotter than what was stated boils at, and warms as slowly as a full pot, may be wet or a cake that
// has let go of the wall: neither is claimed. Where nobody stated what it is, it may well boil there.
func TestSlowFarFromPlateau(t *testing.T) {
	for _, tt := range []struct {
		name          string
		solvent       solvent.Mixture
		known, liquid bool
	}{
		{"toluene", pure("toluene"), false, false},
		{"unknown", solvent.Mixture{}, true, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "charge_temperature", "still_pressure")
			s.still.Solvent = tt.solvent
			a := New(s.still, Memory{})
			a.course.begin(0)
			a.run.distil.boils(1800)
			temp := 20.0
			for x := 10.0; x < 16000; x += courseEvery {
				switch {
				case x < 1800:
					temp = 20 + 36*x/1800 // the full pot
				case x > 5400:
					temp += courseEvery * 3e-5 * (150 - temp)
				}
				if x > 2400 && x < 5000 {
					a.run.distil.boilC.add(temp)
					a.run.distil.boilKPa.add(16.5)
				}
				sp := spot{t: x}
				for i := range sp.v {
					sp.v[i] = math.NaN()
				}
				sp.v[oilC], sp.v[chargeC], sp.v[pressKPa] = 150, temp, 16.5
				a.course.spots = append(a.course.spots, sp)
			}
			if liquid, known := a.holdsLiquid(15900); known != tt.known || known && liquid != tt.liquid {
				t.Errorf("liquid %v, known %v; want %v, %v", liquid, known, tt.liquid, tt.known)
			}
		})
	}
}
