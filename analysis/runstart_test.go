package analysis

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// runSpans are the runs that were summed up, each from its start to its end in seconds after the scene's start.
func runSpans(es []Event) [][2]float64 {
	var out [][2]float64
	for _, e := range es {
		if e.Kind == RunEvent {
			out = append(out, [2]float64{e.Summary.Start.Sub(sceneStart).Seconds(), e.Summary.End.Sub(sceneStart).Seconds()})
		}
	}
	return out
}

// resting is a still that nothing happens to, read every dt seconds: oil and vacuum as the functions of time say.
func resting(dt, lasting float64, oil, vacuum func(t float64, rng *rand.Rand) float64) []Scan {
	rng := rand.New(rand.NewPCG(5, 6))
	var out []Scan
	for t := 0.0; t < lasting; t += dt {
		out = append(out, Scan{At: sceneStart.Add(time.Duration(t * float64(time.Second))),
			Values: []Value{{V: oil(t, rng)}, {V: vacuum(t, rng)}}})
	}
	return out
}

// What a still at rest shows is no run, however its instruments scatter.
func TestRestIsNoRun(t *testing.T) {
	quiet := func(sd float64) func(float64, *rand.Rand) float64 {
		return func(_ float64, rng *rand.Rand) float64 { return sd * rng.NormFloat64() }
	}
	slow := 0.0
	tests := []struct {
		name        string
		dt          float64
		oil, vacuum func(t float64, rng *rand.Rand) float64
		reason      string
	}{
		{"wild gauge", 1, quiet(0.1), func(_ float64, rng *rand.Rand) float64 {
			if rng.Float64() < 0.02 {
				return (25 + 30*rng.Float64()) * float64(1-2*rng.IntN(2))
			}
			return 0.1 * rng.NormFloat64()
		}, "one reading in fifty is wild"},
		{"noisy oil, slow polling", 10, func(_ float64, rng *rand.Rand) float64 { return 20 + 0.4*rng.NormFloat64() }, quiet(0.1),
			"six readings of a minute may lie on a rising line"},
		{"oil that wanders", 1, func(_ float64, rng *rand.Rand) float64 {
			slow += -slow/60 + 0.05*rng.NormFloat64()
			return 20 + slow + 0.1*rng.NormFloat64()
		}, quiet(0.1), "scatter that lasts a minute"},
		{"oil in steps of 1 °F", 5, func(t float64, rng *rand.Rand) float64 {
			return math.Round((30-t/7200+0.2*rng.NormFloat64())/0.5556) * 0.5556
		}, quiet(0.1), "a display step is no heat"},
		{"oil probe that jumps", 1, func(t float64, rng *rand.Rand) float64 {
			return 20 + 3*math.Mod(math.Floor(t/3000), 2) + 0.1*rng.NormFloat64()
		}, quiet(0.1),
			"a thermometer with a loose wire, up 3 K in one reading"},
		{"weather", 1, quiet(0.1), func(t float64, rng *rand.Rand) float64 { return 2*math.Sin(t/9000) + 0.1*rng.NormFloat64() }, "a front passes"},
		{"gauge knocked", 5, quiet(0.1), func(t float64, rng *rand.Rand) float64 {
			v := 0.1 * rng.NormFloat64()
			if t > 20000 {
				v += 7
			}
			return v
		}, "a step that stands, with no heat after it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene()
			if got := runSpans(fold(s.still, resting(tt.dt, 86400, tt.oil, tt.vacuum))); len(got) > 0 {
				t.Errorf("runs %v, want none (%s)", got, tt.reason)
			}
		})
	}
}

// An open lid where oil and vacuum are all there is: the start is seen by the oil that begins to rise, 22 s after the
// heater (its lag and the thermometer's) at 2.4 K/min with 0.1 K of noise, and the lid is called as soon as that is
// certain. At 35 s the oil is half a kelvin up.
func TestOpenLidByOilAlone(t *testing.T) {
	const start, lag = 900, 22
	s := defaultScene()
	s.still.Air.Opens = WithRun
	oil := func(t float64, rng *rand.Rand) float64 {
		return 20 + 0.04*math.Max(0, t-start-lag) + 0.1*rng.NormFloat64()
	}
	vacuum := func(_ float64, rng *rand.Rand) float64 { return 0.06 * rng.NormFloat64() }
	for _, e := range fold(s.still, resting(1, start+200, oil, vacuum)) {
		if e.Kind == FaultEvent && e.Fault == VacuumNotPulled {
			if after := e.At.Sub(sceneStart).Seconds() - start; after < 30 || after > 55 {
				t.Errorf("the open lid is called %.0f s after the start, want 30 to 55 s", after)
			}
			return
		}
	}
	t.Error("the open lid is not called")
}

// A small fall that stands, five minutes before the heat, is an ejector at an opening, and the run began with it; not if it
// was there quicker than any ejector could bring it there: then somebody knocked the gauge.
func TestFallBeforeHeat(t *testing.T) {
	const fell, heat, deep = 3000, 3300, 7
	tests := []struct {
		reason string
		tau    float64 // s in which the pressure comes to where it stays
		start  float64 // s
	}{
		{"an ejector of 90 s at an opening: 90/(1 + 94/14) s", 11.7, fell},
		{"a gauge that was knocked", 0.01, heat},
	}
	for _, tt := range tests {
		s := defaultScene()
		oil := func(t float64, rng *rand.Rand) float64 {
			return 20 + 0.04*math.Max(0, t-heat) + 0.01*rng.NormFloat64()
		}
		vacuum := func(t float64, rng *rand.Rand) float64 {
			return deep*(1-math.Exp(-math.Max(0, t-fell)/tt.tau)) + 0.03*rng.NormFloat64()
		}
		var start time.Time
		for _, e := range fold(s.still, resting(1, heat+300, oil, vacuum)) {
			if e.Kind == PhaseEvent && e.Phase == PumpDown && start.IsZero() {
				start = e.At
			}
		}
		if got := start.Sub(sceneStart).Seconds(); math.Abs(got-tt.start) > 30 {
			t.Errorf("%s: the run began at %.0f s, want %.0f s", tt.reason, got, tt.start)
		}
	}
}

// Read every fifteen seconds, a minute of oil is five points: the start is where it began to rise all the same.
func TestStartByFewPoints(t *testing.T) {
	const start = 3000
	s := defaultScene()
	oil := func(t float64, rng *rand.Rand) float64 {
		return 20 + 0.04*math.Max(0, t-start) + 0.01*rng.NormFloat64()
	}
	vacuum := func(_ float64, rng *rand.Rand) float64 { return 0.06 * rng.NormFloat64() }
	got := runSpans(fold(s.still, resting(15, start+1200, oil, vacuum)))
	if len(got) != 1 || math.Abs(got[0][0]-start) > 60 {
		t.Errorf("runs %v, want one from %d s", got, start)
	}
}

// A run is found where it is, from a wild gauge as well and whenever the recording begins.
func TestStartsAndEnds(t *testing.T) {
	tests := []struct {
		name   string
		change func(*scene)
		reason string
	}{
		{"wild gauge", func(s *scene) {
			rng := rand.New(rand.NewPCG(3, 4))
			for at := -250.0; at < 16000; at += 11 {
				if rng.IntN(3) > 0 {
					continue
				}
				by := (25 + 30*rng.Float64()) * float64(1-2*rng.IntN(2))
				s.events[at] = func(w *world) { w.offset["still_vacuum"] = by }
				s.events[at+1] = func(w *world) { w.offset["still_vacuum"] = 0 }
			}
		}, "one reading in thirty is wild: neither start nor vent"},
		{"a minute before", func(s *scene) { s.lead = 60 }, "no history but a minute"},
		{"three minutes before, noisy", func(s *scene) { s.lead, s.noiseP, s.noiseT = 180, 0.5, 0.4 }, "nor with noise"},
		{"three minutes before, every 10 s", func(s *scene) { s.lead, s.dt = 180, 10 }, "nor with slow polling"},
		{"noisy oil, every 10 s", func(s *scene) { s.lead, s.dt, s.noiseT = 3000, 10, 0.4 }, "a noisy thermometer needs longer, the end is no later for it"},
		{"pot left cold under vacuum for an hour", func(s *scene) { s.coolFor = 6 * 3600 }, "the vent is the end"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene()
			tt.change(s)
			scans := s.scans()
			got := runSpans(fold(s.still, scans))
			if len(got) != 1 {
				t.Fatalf("runs %v, want one (%s)", got, tt.reason)
			}
			if d := got[0][0] - s.lead; math.Abs(d) > 20 {
				t.Errorf("starts %g s off (%s)", d, tt.reason)
			}
			end := scans[len(scans)-1].At.Sub(sceneStart).Seconds() - s.tail
			if d := got[0][1] - end; math.Abs(d) > 60 {
				t.Errorf("ends %g s off (%s)", d, tt.reason)
			}
		})
	}
}

// A recording that begins in the middle of a run says what it can: one run, to its end, and no fault of a
// pump-down that nobody saw.
func TestMiddleOfRun(t *testing.T) {
	s := defaultScene()
	scans := s.scans()
	for _, from := range []float64{320, 700, 2400, 5000, 9000} {
		got := fold(s.still, scans[int(from):])
		if fs := raisedFaults(got); len(fs) > 0 {
			t.Errorf("from %g s on: raised %v, want none", from, fs)
		}
		if rs := runSpans(got); len(rs) != 1 {
			t.Errorf("from %g s on: %d runs, want one: %v", from, len(rs), rs)
		}
	}
}

// An ejector that pulls at an open lid makes a small dip that stands: with the heat it is a run that began with the
// dip, and no vacuum; without, nothing.
func TestDipBeforeHeat(t *testing.T) {
	dipped := func(heat bool) []Scan {
		return resting(1, 6000, func(t float64, rng *rand.Rand) float64 {
			c := 20 + 0.1*rng.NormFloat64()
			if heat && t > 1800 {
				c += math.Min(0.02*(t-1800), 60)
			}
			return c
		}, func(t float64, rng *rand.Rand) float64 {
			v := 0.1 * rng.NormFloat64()
			if t > 1200 {
				v += 2.5 * (1 - math.Exp(-(t-1200)/1))
			}
			return v
		})
	}
	s := defaultScene()
	es := fold(s.still, dipped(true))
	rs := runSpans(es)
	if len(rs) != 1 || math.Abs(rs[0][0]-1200) > 20 {
		t.Fatalf("runs %v, want one that began with the dip at 1200 s", rs)
	}
	for _, e := range es {
		if e.Kind == FaultEvent && e.Fault == VacuumNotPulled && e.State == Raised {
			if late := e.At.Sub(sceneStart).Seconds() - 1800; late > 60 {
				t.Errorf("no vacuum said %g s after the heat, want within a minute: the air is known to be on", late)
			}
			if rs := runSpans(fold(s.still, dipped(false))); len(rs) > 0 {
				t.Errorf("runs %v without heat, want none", rs)
			}
			return
		}
	}
	t.Errorf("no vacuum was not said\n%s", lines(t, es))
}

// Heat first, the air later: where the gauge dips a little as the air comes on, an open lid is said soon after it.
func TestDipAfterHeat(t *testing.T) {
	s := defaultScene()
	es := fold(s.still, resting(1, 4000, func(t float64, rng *rand.Rand) float64 {
		return 20 + math.Min(0.03*math.Max(0, t-1800), 90) + 0.1*rng.NormFloat64()
	}, func(t float64, rng *rand.Rand) float64 {
		v := 0.1 * rng.NormFloat64()
		if t > 1815 {
			v += 0.7
		}
		return v
	}))
	for _, e := range es {
		if e.Kind == FaultEvent && e.State == Raised {
			if late := e.At.Sub(sceneStart).Seconds() - 1815; e.Fault != VacuumNotPulled || late > 45 {
				t.Errorf("%s %g s after the air came on, want no vacuum within 45 s", e.Fault, late)
			}
			return
		}
	}
	t.Error("no vacuum was not said")
}

// A vacuum that goes over an hour, and one that an operator lets in with the heater still on.
func TestSlowLossAndVent(t *testing.T) {
	slow := defaultScene()
	slow.hold = 3 * 3600
	after := func(s *scene, at float64, f func(*world)) { s.events[at] = f }
	for m := range 60 {
		after(slow, 4000+60*float64(m), func(w *world) { w.hole = 0.04 * float64(m+1) })
	}
	if got := raisedFaults(fold(slow.still, slow.scans())); !slices.Contains(got, VacuumLost) {
		t.Errorf("a hole that grows to 2.4 mm in an hour: raised %v, want %v", got, VacuumLost)
	}

	vent := defaultScene("jacket_temperature", "still_vacuum", "heater_power", "air_on")
	vent.hold = 6000
	after(vent, 9000, func(w *world) { w.pull, w.closed, w.isolated, w.stuck = false, false, true, true })
	after(vent, 9300, func(w *world) { w.stuck, w.heat = false, false })
	for _, f := range raisedFaults(fold(vent.still, vent.scans())) {
		if f == VacuumLost {
			t.Error("air shut off and let in with the heater on: vacuum-lost raised, want it taken for the end")
		}
	}
}

// puff has the pressure of a still at rest go down by some kPa within ten seconds and come back in a minute.
func puff(scans []Scan, from int, kPa float64) {
	for i := from; i < len(scans); i++ {
		s := float64(i - from)
		scans[i].Values[1].V += kPa * math.Min(1, s/10) * math.Exp(-math.Max(0, s-10)/30)
	}
}

// The ejector tried for a moment, or a cold charge poured into a hot pot: the pressure dips and comes back. That is no failed
// pump-down where the heater is seen to be off.
func TestPuff(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum", "heater_power")
	scans := s.scans()
	rest := scans[:int(s.lead)]
	for i := range 900 { // go on at rest
		sc := rest[i%int(s.lead)]
		sc.At = rest[0].At.Add(time.Duration(len(rest)) * time.Second)
		sc.Values = slices.Clone(sc.Values)
		rest = append(slices.Clip(rest), sc)
	}
	puff(rest, 400, 4)
	if fs := raisedFaults(fold(s.still, rest)); len(fs) > 0 {
		t.Errorf("raised %v, want none", fs)
	}
	s = defaultScene("jacket_temperature", "still_vacuum", "heater_power")
	s.holeMM = 40
	if fs := raisedFaults(fold(s.still, s.scans()[:1400])); !slices.Contains(fs, VacuumNotPulled) {
		t.Errorf("an open lid: raised %v, want %v", fs, VacuumNotPulled)
	}
}

// With oil and vacuum alone, the cycles of the thermostat after the vacuum was lost belong to the same run.
func TestLostVacuumIsOneRun(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum")
	s.hold, s.still.Recipe = 4*3600, Recipe{JacketC: 130, Hold: 4 * time.Hour}
	s.events[1500] = func(w *world) { w.hole = 40 }
	for i := range 12 { // a thermostat that lets the oil fall far
		s.events[2100+1200*float64(i)] = func(w *world) { w.turned = 17 }
		s.events[2700+1200*float64(i)] = func(w *world) { w.turned = 0 }
	}
	runs := 0
	es := fold(s.still, s.scans())
	for _, e := range es {
		if e.Kind == RunEvent {
			runs++
		}
	}
	if fs := raisedFaults(es); runs != 1 || !slices.Equal(fs, []Fault{VacuumLost}) {
		t.Errorf("%d runs, raised %v; want one, %v alone", runs, fs, VacuumLost)
	}
}
