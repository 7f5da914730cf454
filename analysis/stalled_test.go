package analysis

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis/solvent"
)

// TestStalled holds heat that fails against heat that people take away, and oil that cools for other reasons.
func TestStalled(t *testing.T) {
	power := []string{"jacket_temperature", "still_vacuum", "heater_power"}
	called := []string{"jacket_temperature", "still_vacuum", "heater_power", "heater_on", "air_on"}
	noHold := func(s *scene) { s.still.Recipe.Hold = 0 }
	lunch := func(s *scene) {
		s.events[900] = func(w *world) { w.heat = false }
		s.events[4200] = func(w *world) { w.heat = true }
	}
	late := func(s *scene) {
		s.events[0] = func(w *world) { w.heatShare = 0 }
		s.events[3600] = func(w *world) { w.heatShare = 1 }
	}
	known := Learned{HotS: []float64{9000, 9300}}
	for _, tt := range []struct {
		name     string
		channels []string
		change   func(*scene)
		memory   Learned
		heater   string  // what its switch is known to be
		from     float64 // s into the run
		within   float64 // s; 0: silence
		cause    Cause
		reason   string
	}{
		{name: "thermostat low", channels: power, change: func(s *scene) { s.events[0] = func(w *world) { w.turned = 40 } }, from: 600, within: 4200, cause: Thermostat, reason: "it stops at 112 °C, three times"},
		{name: "thermostat low/two channels", change: func(s *scene) { s.events[0] = func(w *world) { w.turned = 40 } }, from: 600, within: 4800, cause: Thermostat, reason: "the crests of the ripple show where it stops"},
		{name: "turned down by hand", channels: power, change: func(s *scene) { s.events[4000] = func(w *world) { w.turned = 12 } }, reason: "a few kelvin less are people's choice"},
		{name: "held back", channels: power, change: func(s *scene) {
			s.events[1500] = func(w *world) { w.heatShare = 0 }
			s.events[2300] = func(w *world) { w.heatShare = 1 }
		}, reason: "for a quarter of an hour"},
		{name: "no power comes", channels: called, change: func(s *scene) { s.events[900] = func(w *world) { w.heatShare = 0 } }, from: 900, within: 1200, cause: Thermostat, reason: "heat is called for to the end"},
		{name: "switched off", channels: called, change: func(s *scene) {
			noHold(s)
			s.hold, s.coolFor = 1500, 2700
		}, reason: "the switch has stayed on in the pauses of the thermostat, so it is the command, and somebody gave it"},
		{name: "lunch", channels: called, change: lunch, reason: "the switch went off: nothing says that it is only the contactor"},
		{name: "contactor open", channels: called, change: lunch, heater: contactor, from: 900, within: 1200, cause: Thermostat, reason: "the contactor is known to follow the thermostat, which wants heat"},
		{name: "vacuum long before heat", change: late, reason: "nobody has seen this still heat"},
		{name: "no heat from the start", change: late, memory: Learned{FirstHeatS: []float64{60, 90}}, from: 1200, within: 600, cause: Thermostat, reason: "in good runs the heat comes at once"},
		{name: "a fresh charge in a hot still", change: func(s *scene) { s.hotC = 115; s.still.Heater.RatedKW = 3.5 }, reason: "the charge cools the oil at first"},
		{name: "while it boils/two channels", change: func(s *scene) {
			noHold(s)
			s.events[4500] = func(w *world) { w.heatShare = 0 }
		}, memory: known, from: 4500, within: 2400, cause: Thermostat, reason: "half an hour of heat makes no batch where it took two hours and a half"},
		{name: "in its time/two channels", change: func(s *scene) {
			noHold(s)
			s.hold, s.coolFor = 2*3600, 3600
		}, memory: known, reason: "it had the time that a charge takes here"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene(tt.channels...)
			tt.change(s)
			a := New(s.still, Memory{Version: memoryVersion, Solvent: s.still.Solvent.String(), Learned: tt.memory, HeaterSwitch: tt.heater})
			begun := sceneStart.Add(time.Duration(s.lead * 1e9))
			raised := false
			for _, sc := range s.scans() {
				for _, e := range a.Step(sc) {
					if e.Kind != FaultEvent || e.Fault != HeatingStalled || e.State != Raised {
						continue
					}
					raised = true
					if after := e.At.Sub(begun).Seconds(); tt.within == 0 || after < tt.from || after > tt.from+tt.within {
						t.Errorf("raised %g s into the run, want between %g and %g (%s): %s", after, tt.from, tt.from+tt.within, tt.reason, e.Text)
					}
					checkLikely(t, e, tt.cause)
				}
			}
			if want := tt.within > 0; raised != want {
				t.Errorf("raised: %v, want %v (%s)", raised, want, tt.reason)
			}
		})
	}
}

// TestStalledPhases: heat that has failed has not ended. The cool-down begins when it is given up.
func TestStalledPhases(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
	s.events[900] = func(w *world) { w.heatShare = 0 }
	es := fold(s.still, s.scans())
	runs := summaries(es)
	if len(runs) != 1 {
		t.Fatalf("%d runs, want 1", len(runs))
	}
	last := runs[0].Phases[len(runs[0].Phases)-1]
	if vent := runs[0].End; last.Name != CoolDown || vent.Sub(last.Start) > 5*time.Minute {
		t.Errorf("last phase %s from %v, want a cool-down from the vent at %v", last.Name, last.Start, vent)
	}
}

// TestOneEmptyCell: one reading of the oil that is missing in a pause of the heater ends nothing.
func TestOneEmptyCell(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
	s.events[1500] = func(w *world) { w.heatShare = 0 }
	s.events[2200] = func(w *world) { w.mute["jacket_temperature"] = Silent }
	s.events[2202] = func(w *world) { w.mute["jacket_temperature"] = Good }
	s.events[2300] = func(w *world) { w.heatShare = 1 }
	for _, e := range fold(s.still, s.scans()) {
		if after := e.At.Sub(sceneStart).Seconds() - s.lead; e.Kind == PhaseEvent && e.Phase == CoolDown && after < 3600 {
			t.Errorf("cool-down %g s into the run", after)
		}
	}
}

// TestOnset holds the beginning of boiling where it is hard to see.
func TestOnset(t *testing.T) {
	for _, tt := range []struct {
		name     string
		channels []string
		change   func(*scene)
		stated   func(*Still)
		within   float64 // s after the first litre is over
	}{
		{name: "little to drive it", channels: []string{"jacket_temperature", "charge_temperature", "still_vacuum", "heater_power"},
			change: func(s *scene) { s.holeMM, s.still.Recipe.JacketC = 60, 122 }, within: 600},
		{name: "another solvent", channels: []string{"jacket_temperature", "charge_temperature", "still_vacuum", "heater_power"},
			stated: func(s *Still) { s.Solvent = pure("cumene") }, within: 900},
		{name: "warm pipe", channels: []string{"jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power"},
			change: func(s *scene) { s.hotC = 90 }, within: 900},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene(tt.channels...)
			if tt.change != nil {
				tt.change(s)
			}
			scans := s.scans()
			still := s.still
			if tt.stated != nil {
				tt.stated(&still)
			}
			runs := summaries(fold(still, scans))
			if len(runs) == 0 {
				t.Fatal("no run")
			}
			i := slices.IndexFunc(runs[0].Phases, func(p PhaseSpan) bool { return p.Name == Distilling })
			if i < 0 {
				t.Fatalf("never distilling: %v", runs[0].Phases)
			}
			if after := runs[0].Phases[i].Start.Sub(sceneStart).Seconds() - s.lead - s.boilAt; after < -600 || after > tt.within {
				t.Errorf("distilling %g s after the first litre, want within %g", after, tt.within)
			}
		})
	}
}

// TestEvaporationIsNoBoiling: what comes over from a charge that still warms as a liquid does is no boiling yet.
func TestEvaporationIsNoBoiling(t *testing.T) {
	s := defaultScene(full...)
	s.pu, s.still.Heater.RatedKW = 14, 4
	for at := 120.0; at < 900; at += 60 {
		s.events[at] = func(w *world) { w.over += 0.05 }
	}
	scans := s.scans()
	for _, e := range fold(s.still, scans) {
		if e.Kind != PhaseEvent || e.Phase != Distilling {
			continue
		}
		i := slices.IndexFunc(scans, func(sc Scan) bool { return !sc.At.Before(e.At) })
		if charge, boil := scans[i].Values[1].V, 56.0; charge < boil-4 {
			t.Errorf("distilling with the charge at %.1f °C, and toluene boils at %.0f °C at 14 kPa", charge, boil)
		}
	}
}

// TestPlateauWaitsForThePressure: a lid that is eased for half a minute moves the pressure at once and the charge
// in its own time.
func TestPlateauWaitsForThePressure(t *testing.T) {
	s := defaultScene(full...)
	s.events[3900] = func(w *world) { w.hole = 60 }
	s.events[3930] = func(w *world) { w.hole = 0 }
	if faults := raisedFaults(fold(s.still, s.scans())); slices.Contains(faults, BoilingPointOff) {
		t.Errorf("raised %v", faults)
	}
}

// summaries are those of the runs.
func summaries(es []Event) []*Summary {
	var out []*Summary
	for _, e := range es {
		if e.Kind == RunEvent {
			out = append(out, e.Summary)
		}
	}
	return out
}

// Who is told to stop the run before it gets hot, and ends the heat while the control's switch stays on, has no stalled
// heater; one that fails with a vacuum and no alarm has.
func TestToldToStop(t *testing.T) {
	for _, tt := range []struct {
		name string
		hole float64 // mm
		want bool
	}{{"lid open", 40, false}, {"tight", 0, true}} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power", "run_on")
			s.still.Air.Opens, s.holeMM = WithRun, tt.hole
			s.events[1500] = func(w *world) { w.heat = false }
			got := raisedFaults(fold(s.still, s.scans()[:6300])) // people take an hour to come
			if slices.Contains(got, HeatingStalled) != tt.want || slices.Contains(got, VacuumNotPulled) == tt.want {
				t.Errorf("raised %v, want heating-stalled %v", got, tt.want)
			}
		})
	}
}

// Who stopped wet is told to give the next run more time, but not where the solvent may form peroxides (2-propanol does,
// toluene does not, by the table of analysis/solvent).
func TestWetPeroxideFormer(t *testing.T) {
	for name, want := range map[string]bool{"toluene": true, "2-propanol": false} {
		a := New(Still{Solvent: pure(name)}, Memory{})
		text := a.explainNotDry().text
		if strings.Contains(text, "more time") != want || strings.Contains(text, "peroxides") == want {
			t.Errorf("%s: %q", name, text)
		}
	}
}

// Oil that never came to its set point and cools towards a level at which the charge may well boil: heat that people take
// away is let in before long, and what stands so under vacuum for an hour and a half has failed.
func TestStalledAboveTheLeastBoiling(t *testing.T) {
	for _, tt := range []struct {
		vented float64 // s
		want   bool
	}{{1e9, true}, {7000, false}} {
		s := defaultScene()
		s.still.Recipe = Recipe{JacketC: 150}
		s.still.Solvent = solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.5}, {Name: "acetone", Fraction: 0.2}, {Name: "n-butyl acetate", Fraction: 0.3}}}
		a := New(s.still, Memory{Version: memoryVersion, Solvent: s.still.Solvent.String(), Learned: Learned{HotS: []float64{9000, 9300}}})
		var raised float64
		for _, sc := range resting(1, 15000, func(t float64, rng *rand.Rand) float64 {
			oil := 20 + 96*(1-math.Exp(-math.Max(0, t-600)/1500))
			if t > 4200 {
				oil = 56 + 51*math.Exp(-(t-4200)/2400)
			}
			return oil + 0.1*rng.NormFloat64()
		}, func(t float64, rng *rand.Rand) float64 {
			if t > tt.vented {
				return 0.1 * rng.NormFloat64()
			}
			return 80*(1-math.Exp(-math.Max(0, t-600)/80)) + 0.1*rng.NormFloat64()
		}) {
			for _, e := range a.Step(sc) {
				if e.Fault == HeatingStalled && e.State == Raised && raised == 0 {
					raised = e.At.Sub(sceneStart).Seconds()
				}
			}
		}
		if (raised > 0) != tt.want || tt.want && (raised < 4200+5400 || raised > 4200+7200) {
			t.Errorf("let in at %g s: raised %.0f s after the beginning, want it %v, an hour and a half after the heat stopped at 4200 s", tt.vented, raised, tt.want)
		}
	}
}
