package analysis

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

// Faults of the measurement: found, taken back, and not seen in what only looks like them.
func TestSensorFaults(t *testing.T) {
	const at, until = 3000, 4500 // s after the start of the run
	piped := []string{"vapor_temperature"}
	tests := []struct {
		name     string
		fault    Fault // empty: nothing may be raised
		channel  string
		change   func(*scene)
		edit     func(t float64, s *Scan, chs []string) // of the recording; t after the start of the run
		within   time.Duration                          // after 3000 s
		cleared  bool
		channels []string // fitted besides those counted on
		reason   string
	}{
		{name: "all cells empty", fault: DeviceSilent, within: 30 * time.Second, cleared: true, reason: "a recording has no word for a silent device",
			edit: func(t float64, s *Scan, _ []string) { blank(t, s, at, until, Missing, -1) }},
		{name: "exceptions", fault: DeviceSilent, within: 30 * time.Second, cleared: true, reason: "a device that answers everything with an exception says nothing",
			edit: func(t float64, s *Scan, _ []string) { blank(t, s, at, until, Exception, -1) }},
		{name: "one column empty", fault: DeviceSilent, channel: "charge_temperature", within: 3 * time.Minute, cleared: true, reason: "one of several devices",
			edit: func(t float64, s *Scan, chs []string) {
				blank(t, s, at, until, Missing, slices.Index(chs, "charge_temperature"))
			}},
		{name: "a column filled every five minutes", reason: "a slow channel is not silent",
			edit: func(t float64, s *Scan, chs []string) {
				if int(s.At.Unix())%300 != 0 {
					blank(t, s, -1e9, 1e9, Missing, slices.Index(chs, "ambient_temperature"))
				}
			}},
		{name: "frozen gauge", fault: SignalStuck, channel: "still_vacuum", within: 6 * time.Minute, cleared: true, reason: "a gauge that has always scattered cannot stand still",
			edit: freeze("still_vacuum", at, until)},
		{name: "frozen oil", fault: SignalStuck, channel: "jacket_temperature", within: 11 * time.Minute, cleared: true, reason: "the thermostat goes on switching",
			edit: freeze("jacket_temperature", at, until)},
		{name: "oil that jumps and stays", fault: SignalImplausible, channel: "jacket_temperature", within: 30 * time.Second, cleared: true, reason: "oil cools by no 60 K between two readings, however long they stay there",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "jacket_temperature"); t >= at && t < at+120 {
					s.Values[i].V -= 60
				}
			}},
		{name: "a charge that is poured over", reason: "cold solvent on a thermometer is no fault of it",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "charge_temperature"); t >= 300 && t < 900 {
					s.Values[i].V -= 30 * math.Exp(-(t-300)/300)
				}
			}},
		{name: "whole degrees Fahrenheit", reason: "a coarse display stands still while the charge boils and while the thermostat holds the oil",
			edit: func(_ float64, s *Scan, chs []string) {
				for i, name := range chs {
					if strings.HasSuffix(name, "_temperature") {
						s.Values[i].V = (math.Round(s.Values[i].V*1.8+32) - 32) / 1.8
					}
				}
			}},
		{name: "a cold pipe", channels: piped, reason: "the vapour's thermometer shows the room, to the last digit, until vapour comes",
			edit: func(_ float64, s *Scan, chs []string) {
				v, c := slices.Index(chs, "vapor_temperature"), slices.Index(chs, "charge_temperature")
				if s.Values[v] = s.Values[c]; s.Values[c].V < 45 {
					s.Values[v].V = 21
				}
			}},
		{name: "a vapour thermometer that hangs", fault: SignalStuck, channel: "vapor_temperature", channels: piped, within: 3 * time.Hour, cleared: true, change: func(s *scene) { s.coolFor = 7200 },
			reason: "in whole degrees it may stand still while it boils, not while the still cools",
			edit: func(t float64, s *Scan, chs []string) {
				v, c := slices.Index(chs, "vapor_temperature"), slices.Index(chs, "charge_temperature")
				if s.Values[v].V = math.Round(s.Values[c].V); t > at && t < 3*until {
					s.Values[v].V = 61
				}
			}},
		{name: "coarse gauge", reason: "in steps of half an inch it rightly stands for hours", change: func(s *scene) { s.stepP, s.noiseP = 1.693, 0.1 }},
		{name: "spikes", fault: SignalImplausible, channel: "still_vacuum", within: 10 * time.Minute, reason: "single readings far off, and back",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "still_vacuum"); t > at && t < until && int(t/5)%20 == 0 {
					s.Values[i].V -= 40
				}
			}, cleared: true},
		{name: "spikes beyond all range", fault: SignalImplausible, channel: "jacket_temperature", within: 10 * time.Minute, reason: "for a second each, as a loose terminal or a drive beside the wire makes them",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "jacket_temperature"); t > at && t < until && int(t/5)%20 == 0 {
					s.Values[i].V = 3276.7
				}
			}, cleared: true},
		{name: "a loop without current", fault: SignalImplausible, channel: "still_vacuum", within: 30 * time.Second, cleared: true, reason: "of 0 to 30 inHg on 4 to 20 mA it shows 7.5 inHg of pressure: no still holds that, and it is no lost vacuum",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "still_vacuum"); t > at && t < until {
					s.Values[i].V = -7.5 * 3.386
				}
			}},
		{name: "one spike", reason: "a spike in a run is nobody's business",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "jacket_temperature"); t == at {
					s.Values[i].V = 3276.7
				}
			}},
		{name: "infinite", fault: SignalOutOfRange, channel: "charge_temperature", within: 30 * time.Second, cleared: true, reason: "beyond what any still has",
			edit: func(t float64, s *Scan, chs []string) {
				if i := slices.Index(chs, "charge_temperature"); t > at && t < until {
					s.Values[i].V = 3276.7
				}
			}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := shortScene(1, append(tt.channels, counted...)...)
			s.hold = 3600
			if tt.change != nil {
				tt.change(s)
			}
			scans := s.scans()
			for i := range scans {
				if tt.edit != nil {
					tt.edit(scans[i].At.Sub(sceneStart).Seconds()-s.lead, &scans[i], s.channels)
				}
			}
			var raised, cleared bool
			es := fold(s.still, scans)
			for _, e := range es {
				if e.Kind != FaultEvent {
					continue
				}
				if e.Fault != tt.fault || e.Channel != tt.channel {
					t.Errorf("run %d: %s %s %s: %s (%s)", e.Run, e.Fault, e.Channel, e.State, e.Text, tt.reason)
					continue
				}
				after := e.At.Sub(sceneStart).Seconds() - s.lead
				if e.State == Raised {
					raised = true
					if late := after - at; late < 0 || late > tt.within.Seconds() {
						t.Errorf("raised %.0f s after its beginning, want %s at the most", late, tt.within)
					}
				} else {
					cleared = true
				}
			}
			if raised != (tt.fault != "") || cleared != tt.cleared {
				t.Errorf("raised %v, cleared %v (%s)", raised, cleared, tt.reason)
			}
		})
	}
}

// Oil that hangs on the way up says nothing of heat that is still wanted, where the controller takes its power
// back, nor of oil that rises without heat, when it comes back.
func TestOilHangs(t *testing.T) {
	const comesBack = 15000 // s, when it has long been cooling
	for _, throttle := range []float64{30, 50} {
		s := shortScene(1, "jacket_temperature", "still_vacuum", "heater_power", "charge_temperature")
		s.throttle, s.coolFor = throttle, 7200
		scans := s.scans()
		hang := freeze("jacket_temperature", 900, comesBack)
		for i := range scans {
			hang(scans[i].At.Sub(sceneStart).Seconds()-s.lead, &scans[i], s.channels)
		}
		stuck := false
		for _, e := range fold(s.still, scans) {
			stuck = stuck || e.Fault == SignalStuck && e.Channel == "jacket_temperature"
			if e.Fault == HeaterPhaseLost || e.Fault == OverTemperature {
				t.Errorf("throttled over %g K: %s %s: %s", throttle, e.Fault, e.State, e.Text)
			}
		}
		if !stuck {
			t.Errorf("throttled over %g K: signal-stuck not raised", throttle)
		}
	}
}

// Wild readings among the oil's do not make its course another: it heats as well as without them.
func TestSpikesWhileHeating(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		s := shortScene(1)
		scans := s.scans()
		for i := range scans {
			if after := scans[i].At.Sub(sceneStart).Seconds() - s.lead; after > 100 && after < 3000 && i%7 == 0 {
				scans[i].Values[0].V += sign * 90
			}
		}
		var heating []Fault
		for _, e := range fold(s.still, scans) {
			if e.Kind == FaultEvent && e.State == Raised {
				heating = append(heating, e.Fault)
			}
		}
		if !slices.Equal(heating, []Fault{SignalImplausible}) {
			t.Errorf("spikes of %+g K: raised %v, want signal-implausible alone", sign*90, heating)
		}
	}
}

// blank takes the values of a column (-1: of all) out of a scan between two times.
func blank(t float64, s *Scan, from, to float64, q Quality, column int) {
	for i := range s.Values {
		if t > from && t < to && (column < 0 || column == i) {
			s.Values[i] = Value{Quality: q}
		}
	}
}

// freeze holds a channel at its value between two times.
func freeze(name string, from, to float64) func(float64, *Scan, []string) {
	var held Value
	return func(t float64, s *Scan, chs []string) {
		i := slices.Index(chs, name)
		if t < from {
			held = s.Values[i]
		} else if t < to {
			s.Values[i] = held
		}
	}
}

// A gauge that is knocked while the still rests must not begin a run; the next run says that it is off.
func TestGaugeKnocked(t *testing.T) {
	a, b, c := shortScene(1), shortScene(2), shortScene(3)
	scans := days(a, b, c)
	knocked := a.scans()[len(a.scans())-1].At.Add(5 * time.Minute)
	mended := scans[len(scans)-len(c.scans())].At.Add(5 * time.Minute)
	for i := range scans {
		if scans[i].At.After(knocked) && scans[i].At.Before(mended) {
			scans[i].Values[1].V += 6
		}
	}
	es := fold(a.still, scans)
	raised, cleared := when(es, SignalImplausible)
	if !slices.Equal(raised, []int{2}) || !slices.Equal(cleared, []int{3}) {
		t.Errorf("signal-implausible raised in runs %v, cleared in %v, want 2 and 3", raised, cleared)
	}
	runs := 0
	for _, e := range es {
		if e.Kind == RunEvent {
			runs++
		}
		if e.Fault == SignalImplausible && e.State == Raised {
			checkLikely(t, e, Gauge)
		}
	}
	if runs != 3 {
		t.Errorf("%d runs, want 3", runs)
	}
}

// A current loop without current jumps above the surroundings; a hot charge in a pot that is shut climbs there.
func TestAboveAll(t *testing.T) {
	for _, tt := range []struct {
		name   string
		course func(s float64) float64 // kPa absolute
		want   bool
	}{
		{"no current", func(s float64) float64 { return pick(s < 300, 10, 126.7) }, true},
		{"vapour in a shut pot", func(s float64) float64 { return 101 + 27*(1-math.Exp(-s/200)) }, false},
		{"vented", func(s float64) float64 { return pick(s < 300, 10, 101.4) }, false},
		{"wrong scale", func(s float64) float64 { return 101 + s/10 }, true},
	} {
		a := New(defaultScene("jacket_temperature", "still_pressure").still, Memory{})
		for s := 0.0; s < 1200; s += 5 {
			a.Step(Scan{At: sceneStart.Add(time.Duration(s) * time.Second), Values: []Value{{V: 80}, {V: tt.course(s)}}})
		}
		if a.r.above != tt.want {
			t.Errorf("%s: above all %v, want %v", tt.name, a.r.above, tt.want)
		}
	}
}

// Who loads a still lets the air in: a coarse gauge that shows one and the same vacuum at rest, at the start of a run and
// on while the pot gets hot hangs. One that scatters may be that of a still which was started again without being opened.
func TestGaugeHangsOverLoading(t *testing.T) {
	for _, tt := range []struct {
		name    string
		scatter float64 // kPa
		want    bool
	}{{"to the last digit", 0, true}, {"with its scatter", 0.3, false}} {
		t.Run(tt.name, func(t *testing.T) {
			s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power", "air_on")
			s.lead = 3000
			scans := s.scans()
			for i := range scans {
				v := 77.2
				if scans[i].At.Second()%7 == 0 {
					v -= tt.scatter
				}
				scans[i].Values[2].V = v
			}
			es := fold(s.still, scans)
			var at float64
			for _, e := range es {
				if e.Kind == FaultEvent && e.Fault == SignalStuck && e.Channel == "still_vacuum" {
					at = e.At.Sub(sceneStart).Seconds() - s.lead
					break
				}
			}
			if (at > 0) != tt.want || at > 2400 {
				t.Errorf("signal-stuck after %.0f s (0: never), want it %v and within 40 min\n%s", at, tt.want, lines(t, es))
			}
		})
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
