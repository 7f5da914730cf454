package analysis

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis/solvent"
)

func pure(name string) solvent.Mixture {
	return solvent.Mixture{Parts: []solvent.Part{{Name: name, Fraction: 1}}}
}

// TestHeatFaults holds each fault of heating and distilling against its healthy look-alike.
func TestHeatFaults(t *testing.T) {
	counter := []string{"jacket_temperature", "still_vacuum", "energy_counter"}
	cond := append(slices.Clone(full), "condensate_temperature")
	piped := []string{"jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power"}
	at := func(s *scene, d float64, f func(*world)) { s.events[d] = f }
	tests := []struct {
		name     string
		channels []string
		change   func(*scene)
		stated   func(*Still) // what the analysis is told differently from what is so
		memory   Learned
		fault    Fault // empty: silence
		from     float64
		within   float64 // s
		cause    Cause
		cleared  float64 // s after the start by which it is taken back; 0: by the end of the run
		reason   string
	}{
		{name: "phase lost", channels: full, fault: HeaterPhaseLost, from: 300, within: 240, cause: SupplyPhase, cleared: 1000,
			change: func(s *scene) {
				at(s, 300, func(w *world) { w.heatShare = 0.5 })
				at(s, 800, func(w *world) { w.heatShare = 1 })
			}, reason: "half is left in delta, and it is taken back when full power is seen again"},
		{name: "element lost", channels: full, fault: HeaterPhaseLost, from: 300, within: 240, cause: Element,
			change: func(s *scene) { at(s, 300, func(w *world) { w.heatShare = 2.0 / 3 }) }, reason: "two thirds are left of three elements"},
		{name: "phase lost/counter", channels: counter, fault: HeaterPhaseLost, within: 1500, cause: SupplyPhase,
			change: func(s *scene) { s.still.Heater.RatedKW = 3; at(s, 0, func(w *world) { w.heatShare = 0.5 }) }, reason: "from the slope of an energy counter"},
		{name: "low mains", channels: full, change: func(s *scene) { at(s, 0, func(w *world) { w.heatShare = 0.82 }) }, reason: "ten per cent less voltage is four fifths of the power, and no lost phase"},
		{name: "throttling controller", channels: full, change: func(s *scene) { s.throttle = 15 }, reason: "a controller that takes power back near the set point passes through every fraction"},

		{name: "controller in stages", channels: full, change: func(s *scene) { s.staged = 112 },
			reason: "set below the recipe it takes a third of its power back there, and gives it again when the oil has cooled by its hysteresis"},
		{name: "element lost near the set point", channels: full, fault: HeaterPhaseLost, from: 1500, within: 3600, cause: Element,
			change: func(s *scene) { at(s, 1500, func(w *world) { w.heatShare = 2.0 / 3 }) }, reason: "it does not come back while the oil cools"},

		{name: "phase lost at the set point", channels: full, fault: HeaterPhaseLost, from: 2700, within: 3600, cause: SupplyPhase,
			change: func(s *scene) {
				s.still.Recipe.JacketC, s.pu = 92, 4
				at(s, 2700, func(w *world) { w.heatShare = 0.5 })
			}, reason: "the boiling charge cools the oil by more than any stage waits for"},
		{name: "throttled from far below", channels: full, change: func(s *scene) { s.throttle, s.pu, s.still.Recipe.JacketC = 30, 3, 120 }, reason: "its power follows the oil"},

		{name: "set far below the recipe, throttled", channels: full, change: func(s *scene) { s.throttle = 30; at(s, -s.lead, func(w *world) { w.turned = 48 }) },
			reason: "it passes two thirds and half on its way, well below what the recipe says, and does not stay"},

		{name: "slow", memory: Learned{BandKPS: []float64{0.06, 0.061, 0.059, 0.06}}, fault: HeatingSlow, within: 3900, cause: Element,
			change: func(s *scene) { at(s, 0, func(w *world) { w.heatShare = 0.45 }) }, reason: "two channels know it from the good runs"},
		{name: "slow/hot start", memory: Learned{BandKPS: []float64{0.06, 0.061, 0.059, 0.06}}, change: func(s *scene) { s.hotC = 75 }, reason: "a run that begins in the band is not compared"},
		{name: "slow/hot start, long", memory: Learned{ReachS: []float64{5000, 5500, 4900}}, fault: HeatingSlow, within: 9500, cause: Element,
			change: func(s *scene) { s.hotC, s.pu = 75, 3; at(s, 0, func(w *world) { w.heatShare = 0.5 }) }, reason: "it boils in the band; that it takes twice as long shows all the same"},
		{name: "slow/smaller charges before", memory: Learned{ReachS: []float64{2600, 2500, 2700}}, change: func(s *scene) { s.pu = 3 }, reason: "a full charge takes longer than half of one"},
		{name: "slow/boils in the band", memory: Learned{BandKPS: []float64{0.028, 0.0279, 0.0285, 0.027}}, change: func(s *scene) { s.pu = 3 },
			reason: "the oil hardly rises while the charge boils, and did so in the good runs, whose rate is that of the whole band"},
		{name: "slow/unlearned", change: func(s *scene) { at(s, 0, func(w *world) { w.heatShare = 0.8 }) }, reason: "ratings say too little for a fifth less"},

		{name: "runs away", fault: OverTemperature, from: 5400, within: 1200, cause: Thermostat,
			change: func(s *scene) {
				at(s, 5400, func(w *world) { w.stuck = true })
				at(s, 6000, func(w *world) { w.stuck = false })
			}, reason: "a welded contactor takes the oil past its set point"},

		{name: "heavier", channels: full, fault: BoilingPointOff, within: 3600, cause: WrongSolvent,
			stated: func(s *Still) { s.Solvent = pure("methyl ethyl ketone") }, reason: "toluene in the drum of something lighter"},
		{name: "lighter", channels: full, fault: BoilingPointOff, within: 3600, cause: WrongSolvent,
			stated: func(s *Still) { s.Solvent = pure("n-butyl acetate") }, reason: "toluene in the drum of something heavier"},
		{name: "blend", channels: full,
			stated: func(s *Still) {
				s.Solvent = solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.7}, {Name: "acetone", Fraction: 0.3}}}
			}, reason: "a blend may boil anywhere up to its highest part"},
		{name: "gauge a little off", channels: full, change: func(s *scene) {
			at(s, 0, func(w *world) { w.offset["still_vacuum"] = 0.9 })
		}, reason: "one per cent of a gauge's range"},

		{name: "warm condenser", channels: cond, fault: CondenserWarm, from: 2400, within: 900, cause: Condenser,
			change: func(s *scene) { s.pu = 8; at(s, 2400, func(w *world) { w.condensate = 46 }) }, reason: "toluene at 46 °C has 10 kPa of its own"},
		{name: "condenser under load in a cold room", channels: cond, change: func(s *scene) {
			s.pu, s.room = 4, 8
			at(s, -60, func(w *world) { w.condensate = 13 })
			at(s, 2400, func(w *world) { w.condensate = 26 })
		}, reason: "toluene at 26 °C has 4 of some 5 kPa, but it is no more than 13 K over the water"},
		{name: "cooling fails while it boils", channels: cond, fault: CondenserWarm, from: 3900, within: 600, cause: Condenser, change: func(s *scene) {
			s.pu = 8
			at(s, 2400, func(w *world) { w.condensate = 20 })
			at(s, 3900, func(w *world) { w.condensate = 34 })
		}, reason: "14 K warmer than it was so far, and the load is the same"},
		{name: "condenser as ever", channels: cond, change: func(s *scene) { at(s, 0, func(w *world) { w.condensate = 18 }) }, reason: "cool enough"},

		{name: "stopped wet", channels: full, fault: NotDry, within: 6000, change: func(s *scene) { s.hold, s.coolFor = 60, 1200; s.still.Recipe = Recipe{JacketC: 90, Hold: time.Minute} }, reason: "the heating ended in the middle of the plateau"},
		{name: "stopped wet/charge", channels: []string{"jacket_temperature", "charge_temperature", "still_vacuum"}, fault: NotDry, within: 6000,
			change: func(s *scene) { s.hold, s.coolFor = 60, 1200; s.still.Recipe = Recipe{JacketC: 90, Hold: time.Minute} }, reason: "the charge was still at its boiling temperature"},
		{name: "tripped, and the oil brought the rest over", channels: full, fault: HeatingStalled, from: 4300, within: 3600, cause: Thermostat,
			change: func(s *scene) { s.hold = 3600; at(s, 4300, func(w *world) { w.heatShare = 0 }) }, reason: "it came over with the heat that was left: down to a trickle, and the charge is hotter than it boils"},
		{name: "left on", channels: full, fault: PastDry, within: 12000, change: func(s *scene) { s.hold = 3 * 3600; s.still.Recipe.Hold = 0 }, reason: "an hour and a half without anything coming over"},
		{name: "left on, and the vacuum lost after that", channels: piped, fault: PastDry, within: 16000,
			change: func(s *scene) {
				s.hold, s.still.Recipe = 5*3600, Recipe{JacketC: 112}
				at(s, 6900, func(w *world) { w.hole = 30 })
			}, reason: "it had been dry for half an hour"},
		{name: "the vacuum lost when it seemed to be dry", channels: piped,
			change: func(s *scene) {
				s.hold, s.still.Recipe = 5*3600, Recipe{JacketC: 112}
				at(s, 6000, func(w *world) { w.hole = 30 })
			}, reason: "what a hotter boil may still hold, a cold pipe does not show"},
		{name: "two hours as the recipe says", channels: full, change: func(s *scene) { s.hold = 2 * 3600 }, reason: "people have asked for it"},
	}
	for _, tt := range tests {
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
			a := New(still, Memory{Version: memoryVersion, Solvent: still.Solvent.String(), Learned: tt.memory})
			var es []Event
			for _, sc := range scans {
				es = append(es, a.Step(sc)...)
			}
			es = append(es, a.Finish()...)
			checkHeatFault(t, es, s, tt.fault, tt.from, tt.within, tt.cause, tt.cleared, tt.reason)
		})
	}
}

// heatFaults are those that this file is about; the scenes may rightly raise others.
var heatFaults = []Fault{HeatingSlow, HeaterPhaseLost, HeatingStalled, OverTemperature, CondenserWarm, BoilingPointOff, NotDry, PastDry}

func checkHeatFault(t *testing.T, es []Event, s *scene, want Fault, from, within float64, cause Cause, cleared float64, reason string) {
	t.Helper()
	begun := sceneStart.Add(time.Duration(s.lead * 1e9))
	raised, back := false, false
	for _, e := range es {
		if e.Kind != FaultEvent || !slices.Contains(heatFaults, e.Fault) {
			continue
		}
		after := e.At.Sub(begun).Seconds()
		switch {
		case e.Fault != want && (e.Fault != HeatingSlow || want != HeaterPhaseLost):
			t.Errorf("%s %s %g s into the run: %s (%s)", e.Fault, e.State, after, e.Text, reason)
		case e.Fault == want && e.State == Raised:
			raised = true
			if after < from || after > from+within {
				t.Errorf("%s raised %g s into the run, want between %g and %g (%s)", e.Fault, after, from, from+within, reason)
			}
			checkLikely(t, e, cause)
		case e.Fault == want:
			back = true
			if cleared > 0 && after > cleared {
				t.Errorf("%s cleared %g s into the run, want by %g (%s)", e.Fault, after, cleared, reason)
			}
		}
	}
	if last := es[len(es)-1]; last.Kind == RunEvent && last.Open && cleared == 0 {
		back = true // the recording ends within the run, so nobody takes the fault back
	}
	if want != "" && (!raised || !back) {
		t.Errorf("%s: raised %v, cleared %v (%s)\n%s", want, raised, back, reason, lines(t, es))
	}
}

// TestDryPoint holds the dry point against the scene's own, on every kind of evidence.
func TestDryPoint(t *testing.T) {
	for _, tt := range []struct {
		name     string
		channels []string
		basis    string
		within   float64 // min
	}{
		{"distillate", full, byDistillate, 3},
		{"charge", []string{"jacket_temperature", "charge_temperature", "still_vacuum"}, byChargeC, 4},
		{"vapor", []string{"jacket_temperature", "vapor_temperature", "still_vacuum"}, byVaporC, 6},
		{"charge and vapour", []string{"jacket_temperature", "charge_temperature", "vapor_temperature", "still_vacuum"}, byChargeC, 4},
		{"jacket alone", nil, byRipple, 10},
		{"jacket and power", []string{"jacket_temperature", "still_vacuum", "heater_power"}, byDuty, 10}, // what warms the dry residue is taken for boiling for some minutes,
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene(tt.channels...)
			s.coolFor, s.hold = 1800, 2*3600
			s.still.Recipe.JacketC = 90 // the thermostat works while it boils
			if tt.basis == byVaporC {
				s.pu, s.hold = 12, 3*3600 // boils well above the room, and takes longer
			}
			es := fold(s.still, s.scans())
			var sum *Summary
			for _, e := range es {
				if e.Kind == RunEvent {
					sum = e.Summary
				}
			}
			if sum == nil || sum.DryAt == nil {
				t.Fatalf("no dry point, want %g min after the start\n%s", s.dryAt/60, lines(t, es))
			}
			begun := sceneStart.Add(time.Duration(s.lead * 1e9))
			got := sum.DryAt.Sub(begun).Minutes()
			if math.Abs(got-s.dryAt/60) > tt.within || sum.DryBasis != tt.basis {
				t.Errorf("dry after %.1f min by %s, want %.1f ± %g by %s", got, sum.DryBasis, s.dryAt/60, tt.within, tt.basis)
			}
			for i, p := range sum.Phases {
				if before := sum.DryAt.Sub(p.Start); p.Name == DryOut && (before < 0 || before > 10*time.Minute || sum.Phases[i-1].Name != Distilling) {
					t.Errorf("dry-out begins %s, %s before the dry point, after %s; want it shortly before, after distilling", p.Start, before, sum.Phases[i-1].Name)
				}
			}
		})
	}
}

// The trend of heat transfer: scatter is no fall, one bad run is none, and a fall of a sixth is.
func TestTransferTrend(t *testing.T) {
	for _, tt := range []struct {
		name string
		ua   []float64
		want bool
	}{
		{"too few", []float64{100, 101, 99, 80, 80, 80}, false},
		{"scatter", []float64{100, 104, 97, 101, 99, 103, 96, 100, 102, 98}, false},
		{"one bad run", []float64{100, 101, 99, 100, 102, 100, 99, 60}, false},
		{"a sixth", []float64{100, 101, 99, 100, 102, 100, 84, 83, 84}, true},
		{"creeping", []float64{100, 99, 98, 97, 96, 94, 92, 90, 88, 86, 85, 84}, true},
		{"slow and certain", []float64{100, 101, 99.5, 100, 99, 99.5, 98, 98.5, 97, 97.5, 96, 96.5, 95, 95.5, 94, 94.5}, true},
		{"slow, within scatter", []float64{100, 96, 103, 99, 102, 94, 101, 97, 103, 95, 100, 93, 99, 96, 101, 94}, false},
		{"rising", []float64{80, 82, 84, 86, 90, 95, 97, 98, 99}, false},
	} {
		if fall, got := transferTrend(tt.ua); got != tt.want {
			t.Errorf("%s: falling %v (by %.2f), want %v", tt.name, got, fall, tt.want)
		}
	}
}

// What a lost phase leaves follows from the circuit: star without neutral puts two elements in series
// across a line voltage, 3·P/2 of... each (√3/2)² of its power; delta leaves one whole and two at a quarter.
func TestSharesLeft(t *testing.T) {
	star := 2 * math.Pow(math.Sqrt(3)/2, 2) / 3
	delta := (1 + 2*math.Pow(0.5, 2)) / 3
	for _, got := range []float64{star, delta} {
		if s, ok := shareLeft(got, 0.01); !ok || s != 0.5 {
			t.Errorf("share %g taken for %g, %v; want 1/2", got, s, ok)
		}
	}
	for _, mains := range []float64{0.81, 0.9, 1, 1.1} { // ±10 % of the voltage
		if s, ok := shareLeft(mains, 0.07); ok {
			t.Errorf("%g of the power taken for a share of %g", mains, s)
		}
	}
}

// A gauge that hangs at the surroundings does not make oil cold that boils the charge under the vacuum aimed at.
func TestColdUnderVacuum(t *testing.T) {
	a := New(defaultScene().still, Memory{})
	a.r.p, a.r.pOK = 101, true
	for oil, want := range map[float64]bool{60: true, 90: false, 115: false} { // toluene boils at 64 °C at 20 kPa, at 111 °C at 101 kPa
		if got := a.coldUnderVacuum(oil); got != want {
			t.Errorf("oil at %g °C: %v, want %v", oil, got, want)
		}
	}
}

// A dirty charge boils some kelvin hotter than its solvent; what is much hotter is something else.
func TestDirtyChargeIsNoWrongDrum(t *testing.T) {
	for _, tt := range []struct {
		hotterK float64
		raised  bool
	}{{6, false}, {10, false}, {25, true}} {
		s := defaultScene("jacket_temperature", "still_vacuum", "charge_temperature", "heater_power")
		s.events[-s.lead] = func(w *world) { w.offset["charge_temperature"] = tt.hotterK }
		if got := slices.Contains(raisedFaults(fold(s.still, s.scans())), BoilingPointOff); got != tt.raised {
			t.Errorf("boils %g K hotter: %s raised: %v, want %v", tt.hotterK, BoilingPointOff, got, tt.raised)
		}
	}
}

// A controller that goes up in stages waits on one, far below its set point, and goes on by itself: what was called a lost
// element is known for a stage from then on, in later runs as well.
func TestStagesAreKnown(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
	for i, share := range []float64{2.0 / 3, 1, 2.0 / 3, 1} {
		s.events[300+600*float64(i)] = func(w *world) { w.heatShare = share }
	}
	s.tail = 3000
	a := New(s.still, Memory{})
	n := 0
	for _, sc := range s.scans() {
		for _, e := range a.Step(sc) {
			if e.Kind == FaultEvent && e.Fault == HeaterPhaseLost && e.State == Raised {
				n++
			}
		}
	}
	if m, _ := a.Memory(); n != 1 || !m.HeaterStages {
		t.Errorf("heater-phase-lost raised %d times, want once; stages known: %v", n, m.HeaterStages)
	}
}

// The first words of oil that is too hot say where it was then; the last, whether it stands to the end or not, what it came
// to.
func TestOilPeakIsSaid(t *testing.T) {
	for _, until := range []float64{6000, 7000} { // back in time, or hot to the end
		s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
		s.events[5400] = func(w *world) { w.stuck = true }
		s.tail = 12000
		s.events[until] = func(w *world) { w.stuck = false }
		hottest, said := 0.0, ""
		s.see = func(w *world) { hottest = math.Max(hottest, w.oil) }
		for _, e := range fold(s.still, s.scans()) {
			if e.Kind == FaultEvent && e.Fault == OverTemperature && e.State == Cleared {
				said = e.Text
			}
		}
		if want := "The oil came to " + num(hottest, 0) + " °C"; !strings.HasPrefix(said, want) {
			t.Errorf("stuck until %g s: %q, want %q at its beginning", until, said, want)
		}
	}
}
