package analysis

import (
	"math"
	"slices"
	"testing"

	"luted/analysis/solvent"
)

// Boiling that a pipe shows badly is put where the scene's own books have the first litre.
func TestOnsetOnceTheRunIsOver(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*scene)
		stated solvent.Mixture
		within float64 // s
	}{
		// The pipe is as warm from the run before as what boils, and nobody stated the solvent: it shows nothing.
		{"warm pipe", func(s *scene) {
			s.hotC = s.still.Recipe.JacketC - 1
			s.see = func(w *world) { w.pipe = math.Max(w.pipe, 60) }
		}, solvent.Mixture{}, 900},
		// It boils at 22 °C, where the room is at 21 °C.
		{"boils at the temperature of the room", func(s *scene) {
			s.still.Solvent, s.pu, s.still.Vacuum.TargetKPa = pure("acetone"), 25, 32
		}, pure("acetone"), 150},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power")
			tt.change(s)
			scans := s.scans()
			still := s.still
			still.Solvent = tt.stated
			sum := lastSummary(fold(still, scans))
			if sum == nil {
				t.Fatal("no run")
			}
			i := slices.IndexFunc(sum.Phases, func(p PhaseSpan) bool { return p.Name == Distilling })
			if i < 0 {
				t.Fatalf("phases %v, want it to boil from %.0f s on", sum.Phases, s.boilAt)
			}
			got := sum.Phases[i].Start.Sub(sceneStart).Seconds() - s.lead
			t.Logf("boils from %.0f s on, want %.0f s", got, s.boilAt)
			if math.Abs(got-s.boilAt) > tt.within {
				t.Errorf("boils from %.0f s on, want %.0f s within %.0f", got, s.boilAt, tt.within)
			}
			if in := sum.EnergyByPhaseKWh[Distilling]; in < 0.3*value(sum.EnergyKWh) {
				t.Errorf("%.2f kWh of %.2f went in while it boiled, want most of it", in, value(sum.EnergyKWh))
			}
			if sum.DryAt == nil || math.Abs(sum.DryAt.Sub(sceneStart).Seconds()-s.lead-s.dryAt) > 900 {
				t.Errorf("dry at %v, want %.0f s after the start", sum.DryAt, s.dryAt)
			}
		})
	}
}

// What evaporates before it boils warms the pipe, the vapour fills it, and hot walls warm it further once it runs dry: the
// pipe is full where its main rise ends, and not after boiling was inferred.
func TestPipeFills(t *testing.T) {
	for _, tt := range []struct {
		name  string
		pipe  func(t float64) float64 // °C, by the time in min
		want  float64                 // min; 0: not told
		rough float64                 // when boiling was inferred, min
	}{
		{"seeps, then fills", func(t float64) float64 {
			switch {
			case t < 20:
				return 20 + t/2
			case t < 24:
				return 30 + 10*(t-20)
			}
			return 70
		}, 22.25, 25}, // 65 % of the way from 20 to 70 °C is 52.5 °C
		{"warm from the run before", func(t float64) float64 { return 60 - math.Min(t, 18)/2 + 10*math.Min(1, math.Max(0, t-18)) }, 18.65, 20},
		{"cold pipe", func(t float64) float64 { return 20 + math.Min(1, math.Max(0, t-18)) }, 0, 20},
		{"hot walls long after", func(t float64) float64 { return 30 + math.Max(0, t-30)*3 }, 0, 16},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := pipeCourse(tt.pipe)
			a.run.distil.boils(60*tt.rough - 300)
			a.run.distil.roughAt = 60 * tt.rough
			got, ok := a.pipeFilledAt()
			if ok != (tt.want > 0) || ok && math.Abs(got/60-tt.want) > 0.5 {
				t.Errorf("full after %.1f min (%v), want %.1f", got/60, ok, tt.want)
			}
		})
	}
}

// pipeCourse is a run whose vapour pipe is as warm as pipe says, °C by the time in min, and nothing else is known.
func pipeCourse(pipe func(min float64) float64) *Analyser {
	a := New(Still{Channels: []Channel{NewChannel("vapor_temperature")}}, Memory{})
	a.course.begin(0)
	for x := 10.0; x < 5400; x += courseEvery {
		sp := spot{t: x}
		for i := range sp.v {
			sp.v[i] = math.NaN()
		}
		sp.v[vaporC] = pipe(x / 60)
		a.course.spots = append(a.course.spots, sp)
	}
	return a
}

// Where nobody stated the solvent, a pipe that is warmed from below looks filled long before the charge boils: it boils where
// that stops. Vapour that comes at once was seen when it came.
func TestPipeStops(t *testing.T) {
	for _, tt := range []struct {
		name string
		pipe func(min float64) float64
		seen float64 // when it was taken for filled, min
		want float64 // min; 0: not told
	}{
		{"follows the charge", func(t float64) float64 { return 15 + 1.3*math.Min(t, 30) + 0.04*math.Max(0, t-30) }, 10, 30},
		{"filled at once", func(t float64) float64 { return 15 + 10*math.Min(math.Max(0, t-20), 4) + 0.04*math.Max(0, t-24) }, 22, 0},
		{"goes on", func(t float64) float64 { return 15 + 0.8*t }, 15, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := pipeCourse(tt.pipe)
			d := &a.run.distil
			a.run.vac.over, a.run.vac.overAt, a.run.heat.startC = true, 300, 15
			d.baseC, d.hasBase = 15, true
			d.boils(60 * tt.seen)
			got, ok := a.pipeStopsAt(5000)
			if ok != (tt.want > 0) || ok && math.Abs(got/60-tt.want) > 1.5 {
				t.Errorf("stops after %.1f min (%v), want %.1f", got/60, ok, tt.want)
			}
		})
	}
}

// A charge that is only warmed, because nobody opened the air and the heat was taken away, has not boiled, however warm the pipe
// is from the run before.
func TestWarmedIsNotBoiled(t *testing.T) {
	s := defaultScene("jacket_temperature", "vapor_temperature", "still_vacuum", "heater_power")
	s.hotC, s.holeMM = 90, 60
	s.see = func(w *world) { w.pipe = math.Max(w.pipe, 60) }
	s.events[1800] = func(w *world) { w.heat = false }
	still := s.still
	scans := s.scans()
	still.Solvent = solvent.Mixture{}
	for _, sum := range summaries(fold(still, scans)) {
		if i := slices.IndexFunc(sum.Phases, func(p PhaseSpan) bool { return p.Name == Distilling }); i >= 0 && s.boilAt == 0 {
			t.Errorf("phases %v, and nothing boiled", sum.Phases)
		}
	}
	if s.boilAt != 0 {
		t.Fatalf("the scene boils after %.0f s, want one that does not", s.boilAt)
	}
}

// A thermometer that hangs shows nothing: what is left fitted tells where the run stands, as if it had never been there.
func TestPhasesThoughAThermometerHangs(t *testing.T) {
	for _, tt := range []struct {
		hangs          string
		at             float64 // °C
		from, hold     float64 // s
		onset, cooling float64 // s, as near as these must be
	}{
		{"charge_temperature", 65, -600, 3000, 1200, 300},
		{"jacket_temperature", 26, 60, 4 * 3600, 300, 300},
	} {
		t.Run(tt.hangs, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power")
			s.still.Heater.RatedKW, s.hold, s.coolFor, s.lead = 3, tt.hold, 2400, 1800 // a while until it boils
			s.still.Recipe.Hold, s.throttle = 0, 12
			offAt := 0.0
			s.see = func(w *world) {
				if w.heat {
					offAt = w.t - s.lead
				}
			}
			scans := s.scans()
			which := slices.Index(s.channels, tt.hangs)
			for i := range scans {
				if scans[i].At.Sub(sceneStart).Seconds()-s.lead > tt.from {
					scans[i].Values[which].V = tt.at
				}
			}
			es := fold(s.still, scans)
			if raised, _ := stuckAfter(es, s, tt.hangs); math.IsNaN(raised) {
				t.Errorf("%s is not said to hang", tt.hangs)
			}
			sum := lastSummary(es)
			if sum == nil {
				t.Fatal("no run")
			}
			from := func(p Phase) float64 {
				i := slices.IndexFunc(sum.Phases, func(s PhaseSpan) bool { return s.Name == p })
				if i < 0 {
					return math.NaN()
				}
				return sum.Phases[i].Start.Sub(sceneStart).Seconds() - s.lead
			}
			t.Logf("boils from %.0f s on, cools from %.0f s on; true %.0f and %.0f s", from(Distilling), from(CoolDown), s.boilAt, offAt)
			if got := from(Distilling); !(math.Abs(got-s.boilAt) <= tt.onset) {
				t.Errorf("boils from %.0f s on, want %.0f s within %.0f", got, s.boilAt, tt.onset)
			}
			if got := from(CoolDown); !(math.Abs(got-offAt) <= tt.cooling) {
				t.Errorf("cools from %.0f s on, want %.0f s within %.0f", got, offAt, tt.cooling)
			}
		})
	}
}
