package analysis

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// airAt has the air opened by hand some seconds after the heat.
func airAt(s float64) func(*scene) {
	return func(sc *scene) {
		sc.events[0] = func(w *world) { w.pull = false }
		sc.events[s] = func(w *world) { w.pull = true }
	}
}

// Some heat first and open the air minutes later: the run heats up until then, its pump-down counts from there, and
// nothing is wrong. Where the air is seen to be on, a pressure that stays is no vacuum at once.
func TestAirByHand(t *testing.T) {
	two := []string{"jacket_temperature", "still_vacuum"}
	for _, channels := range [][]string{two, append(two, "heater_power"), append(two, "run_on"), append(two, "run_on", "heater_power", "charge_temperature"),
		append(two, "air_on", "heater_power"), append(two, "air_on", "heater_on")} {
		s := defaultScene(channels...)
		airAt(420)(s)
		es := fold(s.still, s.scans())
		if fs := raisedFaults(es); len(fs) > 0 {
			t.Errorf("%v: raised %v, want none: the air came seven minutes after the heat", channels, fs)
		}
		sum := lastSummary(es)
		if p := sum.Phases; len(p) < 3 || p[0].Name != HeatUp || p[1].Name != PumpDown || p[2].Name != HeatUp {
			t.Errorf("%v: phases %v, want heat-up, pump-down, heat-up", channels, p)
			continue
		}
		if pumped := sum.Phases[1].Start.Sub(sceneStart).Seconds() - s.lead - 420; pumped < -5 || pumped > 15 {
			t.Errorf("%v: pump-down begins %.0f s after the air came", channels, pumped)
		}
		if v := sum.Vacuum; v == nil || v.TauS == nil || *v.TauS < 0.94*s.tau || *v.TauS > 1.06*s.tau {
			t.Errorf("%v: vacuum %+v, want a time constant of %g s", channels, v, s.tau)
		}
	}
	s := defaultScene("jacket_temperature", "still_vacuum", "air_on", "heater_power")
	s.holeMM = 40
	s.events[300] = func(w *world) { w.hole = 0 }
	es := fold(s.still, s.scans())
	if fs := raisedFaults(es); !slices.Equal(fs, []Fault{VacuumNotPulled}) {
		t.Errorf("a lid closed after five minutes: raised %v, want %v alone", fs, VacuumNotPulled)
	}
	if p := lastSummary(es).Phases[0]; p.Name != PumpDown {
		t.Errorf("a lid closed after five minutes: begins with %s, want %s: the air was on", p.Name, PumpDown)
	}
}

// When the good runs have shown that the air comes with the heat, nobody waits for it any longer.
func TestHabitShortensTheWait(t *testing.T) {
	for _, tt := range []struct {
		good   int
		within float64 // s
	}{{1, 560}, {3, 140}, {6, 120}} { // one run shows no habit yet
		last := tt.good + 1
		es, _ := history(last, nil, func(run int, s *scene) {
			if run == last {
				s.holeMM = 40
			}
		})
		raised, _ := when(es, VacuumNotPulled)
		if !slices.Equal(raised, []int{last}) {
			t.Errorf("after %d good runs: raised in runs %v, want %d", tt.good, raised, last)
			continue
		}
		var began, at float64
		for _, e := range es {
			s := e.At.Sub(sceneStart).Seconds()
			if e.Run == last && e.Kind == PhaseEvent && began == 0 {
				began = s
			}
			if e.Fault == VacuumNotPulled && e.State == Raised {
				at = s
			}
		}
		if at-began > tt.within {
			t.Errorf("after %d good runs: raised %.0f s after the start, want within %g s", tt.good, at-began, tt.within)
		}
	}
	es, _ := history(4, nil, func(run int, s *scene) { airAt(200 + 60*float64(run%2))(s) })
	if raised, _ := when(es, VacuumNotPulled); len(raised) > 0 {
		t.Errorf("air by hand in every run: raised in runs %v, want none", raised)
	}
}

// Where the control is stated to open the air with the run, nobody waits for a habit: an open lid is called as soon as
// anything has shown the start, and a still that is well raises nothing.
func TestAirStatedWithRun(t *testing.T) {
	for _, tt := range []struct {
		channels []string
		within   float64 // s after the heat
	}{{[]string{"jacket_temperature", "still_vacuum"}, 90}, {[]string{"jacket_temperature", "still_vacuum", "run_on"}, 35}} {
		raised := func(opens Opens, holeMM float64) (float64, bool) {
			s := defaultScene(tt.channels...)
			s.still.Air.Opens, s.holeMM = opens, holeMM
			for _, e := range fold(s.still, s.scans()) {
				if e.Kind == FaultEvent && e.State == Raised {
					return e.At.Sub(sceneStart).Seconds() - s.lead, true
				}
			}
			return 0, false
		}
		if at, ok := raised(WithRun, 40); !ok || at > tt.within {
			t.Errorf("%v, air with the run: raised %v, %.0f s after the heat; want within %g s", tt.channels, ok, at, tt.within)
		}
		if at, ok := raised(ByHand, 40); !ok || at < 400 {
			t.Errorf("%v, air by hand: raised %v, %.0f s after the heat; want it after 400 s at the soonest", tt.channels, ok, at)
		}
		if at, ok := raised(WithRun, 0); ok {
			t.Errorf("%v, tight: raised %.0f s after the heat, want nothing", tt.channels, at)
		}
	}
}

// Whoever looks at the page is asked for the air long before its absence is a fault, and no longer once it has come.
func TestPageAsksForTheAir(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum")
	airAt(420)(s)
	a := New(s.still, Memory{})
	asked, first, last := 0, 0.0, 0.0
	for _, scan := range s.scans() {
		a.Step(scan)
		st := a.Status()
		if len(st.Faults) > 0 {
			t.Fatalf("raised %v while the air was waited for", st.Faults)
		}
		if strings.HasPrefix(st.Sentence, "No vacuum yet, ") && strings.Contains(st.Sentence, "Is the air on") {
			last = scan.At.Sub(sceneStart).Seconds() - s.lead
			if asked++; asked == 1 {
				first = last
			}
		}
	}
	if first < untilAsked || first > 100 || last < 400 || last > 440 {
		t.Errorf("asked %d times, from %.0f to %.0f s after the heat; want from about a minute (the heat must show) until the air came at 420 s", asked, first, last)
	}
}

// A gauge in whole kilopascals shows the air that came late as a dip, before it has clearly fallen: the pump-down and the time
// it may take begin there all the same.
func TestLateAirOnACoarseGauge(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_vacuum")
	s.dt, s.stepP, s.noiseP, s.lead = 10, 1, 0.5, 1200
	airAt(1020)(s)
	es := fold(s.still, s.scans())
	if fs := raisedFaults(es); !slices.Equal(fs, []Fault{VacuumNotPulled}) {
		t.Errorf("raised %v, want %v alone: it fell as it ought to when it fell", fs, VacuumNotPulled)
	}
	for _, p := range lastSummary(es).Phases {
		if at := p.Start.Sub(sceneStart).Seconds() - s.lead; p.Name == PumpDown && (at < 1000 || at > 1050) {
			t.Errorf("pump-down begins %.0f s after the heat, the air came after 1020 s", at)
		}
	}
}

// A gauge of the compressed air that showed nothing until shortly before the heat stands behind the valve: somebody has
// opened it, and an open lid is called at once.
func TestAirGaugeBehindItsValve(t *testing.T) {
	for _, tt := range []struct {
		opened float64 // s before the heat; 0: the gauge stands before the valve
		least  float64 // s after the heat
		most   float64
	}{{60, 15, 60}, {0, 400, 1000}} {
		s := defaultScene("jacket_temperature", "still_vacuum", "air_supply_pressure", "heater_power")
		s.holeMM = 40
		if tt.opened > 0 {
			s.events[-300] = func(w *world) { w.air = 0 }
			s.events[-tt.opened] = func(w *world) { w.air = 600 }
		}
		at := -1.0
		for _, e := range fold(s.still, s.scans()) {
			if e.Fault == VacuumNotPulled && e.State == Raised && at < 0 {
				at = e.At.Sub(sceneStart).Seconds() - s.lead
			}
		}
		if at < tt.least || at > tt.most {
			t.Errorf("opened %g s before the heat: raised %.0f s after it, want between %g and %g s", tt.opened, at, tt.least, tt.most)
		}
	}
}

// A control that opens the air at a temperature of the oil opens it the later, the more slowly the oil gets there: what
// shows is the temperature. In a run that never gets a vacuum the alarm comes soon after that.
func TestAirAtAnOilTemperature(t *testing.T) {
	const opensC = 65
	channels := []string{"jacket_temperature", "still_vacuum"}
	for _, tt := range []struct {
		name   string
		share  float64 // of the heater's power that is left in the last run
		holeMM float64
		want   bool
	}{{"heats slowly", 0.6, 0, false}, {"open lid", 1, 40, true}} {
		const last = 4
		var late float64 // s after the air in the last run
		es, _ := history(last, channels, func(run int, s *scene) {
			at := opened(s, opensC, pick(run == last, tt.share, 1))
			airAt(at)(s)
			if run == last {
				s.holeMM = tt.holeMM
				s.events[1] = func(w *world) { w.heatShare = tt.share }
				late = at
			}
		})
		raised, _ := when(es, VacuumNotPulled)
		if slices.Contains(raised, last) != tt.want || slices.ContainsFunc(raised, func(run int) bool { return run < last }) {
			t.Errorf("%s: raised in runs %v; the air came %.0f s after the heat, at %d °C as ever", tt.name, raised, late, opensC)
		}
	}
}

// opened is when the oil of a scene comes to a temperature, °C, with a share of its power, s after the start.
func opened(s *scene, c, share float64) (at float64) {
	probe := *s
	probe.events = map[float64]func(*world){1: func(w *world) { w.heatShare = share }}
	probe.see = func(w *world) {
		if at == 0 && w.oil >= c && w.t > s.lead {
			at = math.Round(w.t - s.lead)
		}
	}
	probe.scans()
	return at
}

// The switch of the air says off and the charge is heated for half an hour and more: somebody has forgotten it. Who opens
// it within that time has not.
func TestAirForgotten(t *testing.T) {
	for _, tt := range []struct {
		opened float64 // s after the heat; 0: never
		want   bool
	}{{0, true}, {1500, false}} {
		s := defaultScene("jacket_temperature", "still_vacuum", "air_on", "heater_power", "charge_temperature", "air_supply_pressure")
		if tt.opened > 0 {
			airAt(tt.opened)(s)
		} else {
			s.holeMM = 200 // nothing pulls at it
		}
		scans := s.scans()
		for i := range scans {
			if tt.opened == 0 {
				scans[i].Values[2].V = 0
			}
		}
		var raised []Event
		for _, e := range fold(s.still, scans) {
			if e.Fault == VacuumNotPulled && e.State == Raised {
				raised = append(raised, e)
			}
		}
		if (len(raised) > 0) != tt.want {
			t.Errorf("opened after %g s: raised %v, want %v", tt.opened, raised, tt.want)
			continue
		}
		for _, e := range raised {
			checkLikely(t, e, AirSupply)
			if after := e.At.Sub(sceneStart).Seconds() - s.lead; after < byHandPatience || after > byHandPatience+120 {
				t.Errorf("raised %.0f s after the heat, want it half an hour after", after)
			}
		}
	}
}

// Nobody has said how the air comes. Who opened it minutes before the heat in one run may open it minutes after it in the
// next, and is not called at the first chance; where it came with the heat, the wait is shorter.
func TestAirByHandIsSeen(t *testing.T) {
	for _, tt := range []struct {
		before float64 // s that the air was opened before the heat in the run before
		want   bool
	}{{240, false}, {0, true}} {
		const last = 2
		es, _ := history(last, []string{"jacket_temperature", "still_vacuum", "heater_power"}, func(run int, s *scene) {
			switch {
			case run == last:
				airAt(1200)(s)
			case tt.before > 0:
				s.events[0] = func(w *world) { w.heatShare = 0 }
				s.events[tt.before] = func(w *world) { w.heatShare = 1 }
			}
		})
		raised, _ := when(es, VacuumNotPulled)
		if got := slices.Contains(raised, last); got != tt.want {
			t.Errorf("air %g s before the heat in run 1, twenty minutes after it in run 2: raised in runs %v, want it %v", tt.before, raised, tt.want)
		}
	}
}

// What goes down by itself before the air is opened, by half a kilopascal a minute, is no vacuum that fails: neither where
// people are stated to open it when they think fit, nor where its own switch shows that it is still off. An ejector that
// pulls nothing once the switch is on is called all the same, also if the pressure has come back up by then.
func TestRestGoesDownBeforeTheAir(t *testing.T) {
	for _, tt := range []struct {
		name     string
		opens    Opens
		channels []string
		backAt   float64 // s after the heat: it goes back up from then on; 0: with the air
		dead     bool    // the ejector
		want     []Fault
	}{
		{"by hand", ByHand, []string{"jacket_temperature", "still_pressure"}, 0, false, nil},
		{"switch", "", []string{"jacket_temperature", "still_pressure", "air_on", "heater_power"}, 0, false, nil},
		{"switch, dead ejector", "", []string{"jacket_temperature", "still_pressure", "air_on", "heater_power"}, 5 * 3600, true, []Fault{VacuumNotPulled}},
		{"switch, dead ejector, back up", "", []string{"jacket_temperature", "still_pressure", "air_on", "heater_power"}, 300, true, []Fault{VacuumNotPulled}},
	} {
		s := defaultScene(tt.channels...)
		s.still.Air.Opens = tt.opens
		airAt(540)(s)
		if tt.dead {
			s.tau, s.hold = 1e9, 1200
		}
		down := 0.0
		s.see = func(w *world) {
			back := w.pull
			if tt.backAt > 0 {
				back = w.t-s.lead > tt.backAt
			}
			if w.heat && !back && down < 3.5 {
				down += 0.5 * 0.009
			} else if back {
				down = math.Max(0, down-0.5*0.05)
			}
			w.offset["still_pressure"] = -down
		}
		es := fold(s.still, s.scans())
		if fs := raisedFaults(es); !slices.Equal(fs, tt.want) {
			t.Errorf("%s: raised %v, want %v: the air came nine minutes after the heat", tt.name, fs, tt.want)
		}
		for _, p := range lastSummary(es).Phases {
			if p.End.Before(p.Start) {
				t.Errorf("%s: %s ends %v before it begins", tt.name, p.Name, p.Start.Sub(p.End))
			}
		}
	}
}

// A still of which neither the air nor the set point is stated is given a quarter of an hour in its first run: its oil is
// not half way to where such stills work.
func TestAirOfAStillThatStatesNothing(t *testing.T) {
	for _, tt := range []struct {
		airS float64 // after the heat
		want bool
	}{{780, false}, {1500, true}} {
		s := defaultScene("jacket_temperature", "still_vacuum")
		airAt(tt.airS)(s)
		still := s.still
		still.Recipe = Recipe{}
		still.Heater = Heater{}
		scans := s.scans()
		if fs := raisedFaults(fold(still, scans)); slices.Contains(fs, VacuumNotPulled) != tt.want {
			t.Errorf("air %g s after the heat: raised %v, want %s: %v", tt.airS, fs, VacuumNotPulled, tt.want)
		}
	}
}
