package exam

import (
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill"
)

// The whole exam takes a minute; without the flag a part of it is sat, which any change of the analysis
// that matters should fail.
var full = flag.Bool("full", false, "sit the whole exam: 200 healthy runs, eight seeds a cell")

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// within is the time that the papers' stills are given to reach their vacuum.
const within = 8 * time.Minute

// paper is one run of an ordinary still with one fault from the start. The recording does not begin at
// a round time before the run: rest points must not matter.
func paper(set simstill.SensorSet, poll time.Duration, seed uint64, f simstill.Fault, size float64) Paper {
	begin := start.Add(time.Duration(seed*73%600) * time.Second)
	return Paper{
		Options: simstill.Options{Name: "north", Seed: seed, Sensors: simstill.Sensors{Set: set},
			Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: "24 inHg", Within: within, AirMin: "4.5 bar"}},
		Poll: poll, Start: begin, Lead: time.Hour, Length: 40 * time.Minute,
		Plan: []simstill.Step{
			{At: start.Add(-time.Minute), Fault: f, Size: size},
			{At: start.Add(20 * time.Minute), Batch: &simstill.Batch{
				Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}}},
		},
	}
}

// TestTimeToAlarm measures how long after the start of a run a vacuum that will fail is announced: an open lid within a
// minute, leaks that end short of the target before half of the allowed time is over. The smallest leak
// leaves the target in reach and must stay silent.
func TestTimeToAlarm(t *testing.T) {
	seeds := uint64(2)
	if *full {
		seeds = 8
	}
	cells := []struct {
		name  string
		fault simstill.Fault
		mm    float64
		limit time.Duration // of the median; 0: no alarm
	}{
		{"open lid", simstill.OpenLid, 30, time.Minute},
		{"5 mm", simstill.Leak, 5, within / 2},
		{"2 mm", simstill.Leak, 2, within / 2},
		{"1.5 mm", simstill.Leak, 1.5, within / 2},
		{"1.2 mm", simstill.Leak, 1.2, within / 2},
		{"1 mm", simstill.Leak, 1, within / 2}, // ends 1 kPa above the target
		{"0.5 mm", simstill.Leak, 0.5, 0},
	}
	var table strings.Builder
	fmt.Fprintf(&table, "%-12s %-5s", "seconds from the start of the run; median (worst)\nchannels", "poll")
	for _, c := range cells {
		fmt.Fprintf(&table, " %12s", c.name)
	}
	for _, set := range []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full} {
		for _, poll := range []time.Duration{time.Second, 5 * time.Second} {
			fmt.Fprintf(&table, "\n%-12s %-5s", set, poll)
			for _, c := range cells {
				var after []time.Duration
				for seed := uint64(1); seed <= seeds; seed++ {
					a, err := paper(set, poll, seed, c.fault, c.mm).Watch()
					if err != nil {
						t.Fatal(err)
					}
					e, raised := a.First(analysis.VacuumNotPulled, analysis.VacuumShort)
					if raised != (c.limit > 0) {
						t.Errorf("%s, %s at %s, seed %d: raised %v", c.name, set, poll, seed, raised)
						continue
					}
					if !raised {
						continue
					}
					after = append(after, e.At.Sub(a.Began[0]))
					if e.Likely[0].Cause != analysis.OpenToAir {
						t.Errorf("%s, %s at %s, seed %d: most likely %s, want open-to-air", c.name, set, poll, seed, e.Likely[0].Cause)
					}
				}
				if len(after) == 0 {
					fmt.Fprintf(&table, " %12s", "none")
					continue
				}
				slices.Sort(after)
				median := after[len(after)/2]
				fmt.Fprintf(&table, " %12s", fmt.Sprintf("%.0f (%.0f)", median.Seconds(), after[len(after)-1].Seconds()))
				limit := c.limit
				if set == simstill.TwoChannel && c.fault == simstill.OpenLid && poll > time.Second {
					limit = 75 * time.Second // nothing but the warming oil says that a run has begun
				}
				if median > limit {
					t.Errorf("%s, %s at %s: median %s, want %s at the most", c.name, set, poll, median, limit)
				}
			}
		}
	}
	t.Log("\n" + table.String())
}

// TestHealthyRuns watches healthy runs of stills that differ in everything: each must be found, and none
// may raise a fault. One in two hundred is let pass: two channels cannot know that an operator turns the air on a
// minute after the heat, until they have seen it twice.
func TestHealthyRuns(t *testing.T) {
	n := uint64(24)
	if *full {
		n = 200
	}
	raised := map[analysis.Fault]int{}
	runs, found, marred := 0, 0, 0
	for seed := uint64(1); seed <= n; seed++ {
		c, err := simstill.Healthy(seed, start, 1)
		if err != nil {
			t.Fatal(err)
		}
		a, err := Paper{Options: c.Options, Plan: c.Plan, Poll: c.Every, Start: c.Start, Length: c.End.Sub(c.Start)}.Watch()
		if err != nil {
			t.Fatal(err)
		}
		runs += len(a.Truth)
		clean := true
		for _, e := range a.Events {
			switch {
			case e.Kind == analysis.FaultEvent && e.State == analysis.Raised:
				raised[e.Fault]++
				clean = false
				t.Logf("seed %d (%s, %s, every %s): %s %s", seed, c.Options.Sensors.Set, c.Options.Stated.Solvent, c.Every, e.Fault, e.Text)
			case e.Kind == analysis.RunEvent:
				found++
				began, ended := a.Began[0], a.Truth[0].EndAt
				if d := e.Summary.Start.Sub(began); d < -2*c.Every || d > max(2*c.Every, 75*time.Second) {
					t.Errorf("seed %d: run found to begin %s after its start", seed, d)
				}
				if d := e.Summary.End.Sub(ended); d.Abs() > max(2*c.Every, time.Minute) && c.Options.Sensors.Set == simstill.Full {
					t.Errorf("seed %d: run found to end %s after its end", seed, d)
				}
			}
		}
		if !clean {
			marred++
		}
	}
	t.Logf("%d healthy runs, %d found, %d with a false fault: %v", runs, found, marred, raised)
	if found != runs {
		t.Errorf("%d runs found of %d", found, runs)
	}
	if marred > int(n/200)+1 {
		t.Errorf("%d of %d healthy runs raised a fault", marred, runs)
	}
}
