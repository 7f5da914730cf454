package analysis

import (
	"math"
	"slices"
	"testing"
	"time"

	"luted/analysis/solvent"
)

// stuckAfter is how long after the start of the run, s, a channel was first said to be stuck (NaN: never), and when
// that was first taken back.
func stuckAfter(es []Event, s *scene, channel string) (raised, cleared float64) {
	raised, cleared = math.NaN(), math.NaN()
	for _, e := range es {
		if e.Fault != SignalStuck || e.Channel != channel || e.Kind != FaultEvent {
			continue
		}
		at := e.At.Sub(sceneStart).Seconds() - s.lead
		if e.State == Raised && math.IsNaN(raised) {
			raised = at
		}
		if e.State == Cleared && math.IsNaN(cleared) {
			cleared = at
		}
	}
	return raised, cleared
}

// A gauge that shows a vacuum to the last digit while the lid stands open hangs, however coarse its display; with the
// lid shut, or with a switch that has said open all along, the same figures prove nothing.
func TestGaugeHangsUnderOpenLid(t *testing.T) {
	const opened = 7000
	for _, tt := range []struct {
		name string
		lid  func(after float64) float64
		want bool
	}{
		{"opened", func(after float64) float64 { return pick(after < opened, 1.0, 0) }, true},
		{"shut", func(float64) float64 { return 1 }, false},
		{"switch that never says shut", func(float64) float64 { return 0 }, false},
	} {
		s := shortScene(1, "jacket_temperature", "still_vacuum", "lid_closed")
		s.stepP, s.coolFor, s.tail = 1.693, 1800, 3600
		scans := s.scans()
		hang := freeze("still_vacuum", 2000, 1e9)
		for i := range scans {
			after := scans[i].At.Sub(sceneStart).Seconds() - s.lead
			hang(after, &scans[i], s.channels)
			scans[i].Values[2].V = tt.lid(after)
		}
		raised, _ := stuckAfter(fold(s.still, scans), s, "still_vacuum")
		if got := !math.IsNaN(raised); got != tt.want || got && (raised < opened || raised > opened+120) {
			t.Errorf("%s: said %.0f s after the start, want it %v, within two minutes of %d s", tt.name, raised, tt.want, opened)
		}
	}
}

// A charge gets no hotter than the oil that heats it: oil that stays at one figure, in whole degrees Fahrenheit, while
// the charge climbs past it hangs. One that a controller holds at its set point to the degree does not.
func TestOilHangsBelowCharge(t *testing.T) {
	channels := []string{"jacket_temperature", "charge_temperature", "still_vacuum", "heater_power"}
	fahrenheit := func(c float64) float64 { return (math.Round(c*1.8+32) - 32) / 1.8 }
	for _, tt := range []struct {
		name string
		from float64 // s, when it hangs; 0: it does not
		want bool
	}{{"hangs", 900, true}, {"held by its controller", 0, false}} {
		s := shortScene(1, channels...)
		s.noiseT, s.throttle, s.hold = 0.02, 8, 4*3600
		s.still.Recipe.Hold = 4 * time.Hour
		scans := s.scans()
		hang := freeze("jacket_temperature", tt.from, 1e9)
		for i := range scans {
			scans[i].Values[0].V = fahrenheit(scans[i].Values[0].V)
			if tt.from > 0 {
				hang(scans[i].At.Sub(sceneStart).Seconds()-s.lead, &scans[i], s.channels)
			}
		}
		raised, _ := stuckAfter(fold(s.still, scans), s, "jacket_temperature")
		if got := !math.IsNaN(raised); got != tt.want {
			t.Errorf("%s: said %.0f s after the start, want it %v", tt.name, raised, tt.want)
		}
	}
}

// A value that hangs is not awake for a last digit that turned over once; it is when it scatters again, or has moved.
func TestHangsThoughItsLastDigitTurned(t *testing.T) {
	const hangs, turns, wakes = 2000, 5000, 6500
	s := shortScene(1, "jacket_temperature", "still_vacuum")
	s.coolFor, s.tail = 5000, 3600
	scans := s.scans()
	var held float64
	for i := range scans {
		v := &scans[i].Values[1].V
		*v = math.Round(*v*10) / 10
		switch after := scans[i].At.Sub(sceneStart).Seconds() - s.lead; {
		case after < hangs:
			held = *v
		case after < turns:
			*v = held
		case after < wakes:
			*v = held + 0.1
		}
	}
	raised, cleared := stuckAfter(fold(s.still, scans), s, "still_vacuum")
	if !(raised > hangs && raised < turns) || !(cleared >= wakes && cleared < wakes+300) {
		t.Errorf("said %.0f s after the start and taken back after %.0f s; it hangs from %d to %d s", raised, cleared, hangs, wakes)
	}
}

// Two good runs tell less than three, but not nothing.
func TestTwoGoodRunsTell(t *testing.T) {
	t.Run("a condenser 16 K warmer", func(t *testing.T) {
		for _, tt := range []struct {
			c    float64
			want []int
		}{{42, []int{3}}, {33, nil}} {
			es, _ := history(3, append(slices.Clone(counted), "condensate_temperature"), func(run int, s *scene) {
				s.hold, s.pu, s.still.Vacuum.TargetKPa = 3600, 18, 28
				s.events[600] = func(w *world) { w.condensate = pick(run < 3, 26, tt.c) }
			})
			if raised, _ := when(es, CondenserWarm); !slices.Equal(raised, tt.want) {
				t.Errorf("condensate at 26, 26 and %g °C: raised in runs %v, want %v", tt.c, raised, tt.want)
			}
		}
	})
	t.Run("heats half as fast", func(t *testing.T) {
		for _, tt := range []struct {
			share float64
			want  []int
		}{{0.45, []int{3}}, {0.75, nil}} {
			es, _ := history(3, []string{"jacket_temperature", "still_vacuum"}, func(run int, s *scene) {
				if s.pu, s.still.Vacuum.TargetKPa = 20, 30; run == 3 {
					s.events[1] = func(w *world) { w.heatShare = tt.share }
				}
			})
			if raised, _ := when(es, HeatingSlow); !slices.Equal(raised, tt.want) {
				t.Errorf("%g of the power after two good runs: raised in runs %v, want %v", tt.share, raised, tt.want)
			}
		}
	})
}

// The heater took its full power when the oil was hotter, in the one run before: what takes it down to two thirds half way
// up is no stage of the controller. A controller with a stage there has shown it.
func TestFullWhenHotter(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(run int, s *scene)
		want   []int
	}{
		{"an element fails", func(run int, s *scene) {
			if run == 2 {
				s.events[1200] = func(w *world) { w.heatShare = 2.0 / 3 }
			}
		}, []int{2}},
		{"a stage in every run", func(_ int, s *scene) { s.staged = 105 }, nil},
	} {
		es, _ := history(2, counted, func(run int, s *scene) {
			s.hold, s.still.Heater.RatedKW = 3600, 9
			tt.change(run, s)
		})
		if raised, _ := when(es, HeaterPhaseLost); !slices.Equal(raised, tt.want) {
			t.Errorf("%s: raised in runs %v, want %v", tt.name, raised, tt.want)
		}
	}
}

// With oil and vacuum alone the dry point of a run may come to light only as the still cools; hours of heat after it are
// said then, and minutes are not.
func TestPastDrySeenAfterwards(t *testing.T) {
	for _, tt := range []struct {
		hold float64 // s at the set point
		want bool
	}{{6 * 3600, true}, {4 * 3600, false}} {
		s := defaultScene()
		s.hold, s.tail, s.coolFor, s.hotC, s.pu = tt.hold, 3600, 1800, 140, 10
		s.still.Recipe = Recipe{JacketC: 100}
		es := fold(s.still, s.scans())
		sum := lastSummary(es)
		if sum == nil || sum.DryAt == nil {
			t.Fatalf("held for %g h: no dry point", tt.hold/3600)
		}
		if got := slices.Contains(sum.Faults, PastDry); got != tt.want {
			t.Errorf("held for %g h, dry at %s: past-dry %v, want %v", tt.hold/3600, sum.DryAt.Format(time.TimeOnly), got, tt.want)
		}
	}
}

// The heat that goes from oil to charge is known while the oil still takes a third of it: the scene's 60 W/K, and 6 W/K
// that the room takes.
func TestTransferWhileOilWarms(t *testing.T) {
	s := defaultScene(counted...)
	s.still.Recipe.JacketC, s.still.Heater.RatedKW, s.pu = 300, 15, 4
	a := New(s.still, Memory{})
	var share, ua []float64
	for _, sc := range s.scans() {
		a.Step(sc)
		d := &a.run.distil
		if !d.boiling || a.phase != Distilling {
			continue
		}
		from := d.boilingAt + transferFrom
		if wk, ok := a.transferBetween(from, from+transferFor); ok && a.r.t > from+transferFor {
			kj, _ := a.oilKJK()
			warms, _ := a.course.slope(oilC, from, from+transferFor)
			ua, share = append(ua, wk), append(share, kj*warms/15)
		}
	}
	if len(ua) == 0 {
		t.Fatal("no figure")
	}
	if share[0] < 0.25 {
		t.Errorf("the oil takes %.2f of the heat, want more than a quarter", share[0])
	}
	if math.Abs(ua[0]/63-1) > 0.08 {
		t.Errorf("%.1f W/K, want 60 to 66", ua[0])
	}
}

// Something light boils first and something heavy after it: the thermometer leaves the first plateau as it does when the
// pot is dry, and the heat that the pot goes on taking, beside what it takes when dry, says that it is not. The dry point is
// that of the second.
func TestSecondBoilIsNotDry(t *testing.T) {
	for _, thermometer := range []string{"charge_temperature", "vapor_temperature"} {
		s := defaultScene("jacket_temperature", thermometer, "still_vacuum", "heater_power")
		s.still.Solvent, s.second, s.secondL, s.pu, s.hold = pure("acetone"), pure("n-butyl acetate"), 30, 25, 5*3600
		s.still.Vacuum.TargetKPa = 40
		var heavyFrom, lastAt float64
		s.see = func(w *world) {
			if w.left < s.secondL && heavyFrom == 0 {
				heavyFrom = w.t - s.lead
			}
			if w.left > 0.5 {
				lastAt = w.t - s.lead
			}
		}
		scans := s.scans()
		still := s.still
		still.Solvent, still.Recipe.Hold = solvent.Mixture{}, 0
		a := New(still, Memory{Version: memoryVersion, Solvent: still.Solvent.String(), Learned: Learned{DryKW: []float64{0.8}}})
		var es []Event
		for _, sc := range scans {
			es = append(es, a.Step(sc)...)
		}
		es = append(es, a.Finish()...)
		sum := lastSummary(es)
		if sum == nil || sum.DryAt == nil {
			t.Errorf("%s: no dry point", thermometer)
			continue
		}
		at := sum.DryAt.Sub(sceneStart).Seconds() - s.lead
		phase := Idle // what was said in the middle of the second boil
		for _, e := range es {
			if e.Kind == PhaseEvent && e.At.Sub(sceneStart).Seconds()-s.lead < (heavyFrom+3*lastAt)/4 {
				phase = e.Phase
			}
		}
		if phase != Distilling {
			t.Errorf("%s: late in the second boil it said %s", thermometer, phase)
		}
		if math.Abs(at-lastAt) > 1200 {
			t.Errorf("%s: dry at %.0f s by %s, want about %.0f s; the light half was gone after %.0f s", thermometer, at, sum.DryBasis, lastAt, heavyFrom)
		}
	}
}

// A pot that was heated long past its dry point has shown what it takes when it is dry: the scene's 6 W/K to the room.
func TestDryKW(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power")
	s.hold, s.still.Recipe.Hold = 3*3600, 0
	a := New(s.still, Memory{})
	for _, sc := range s.scans() {
		a.Step(sc)
	}
	a.Finish()
	got := a.memory.Learned.DryKW
	if want := 0.006 * (150 - s.room); len(got) != 1 || math.Abs(got[0]-want) > 0.25*want {
		t.Errorf("takes %v kW when dry, want %.2f kW", got, want)
	}
}
