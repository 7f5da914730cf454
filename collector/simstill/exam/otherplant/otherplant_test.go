package otherplant

import (
	"flag"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill/exam/paper"
)

func onePart(name string) []solvent.Part { return []solvent.Part{{Name: name, Fraction: 1}} }

func byName(t *testing.T, name string) Case {
	t.Helper()
	for _, c := range Cases() {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no case %q", name)
	return Case{}
}

// drain draws all scans and gives their number, the last time and a hash of every bit.
func drain(r paper.Recording) (n int, last time.Time, sum uint64) {
	h := fnv.New64a()
	for s := range r.Scans {
		n++
		last = s.At
		if n%7 == 0 {
			fmt.Fprint(h, s.At.UnixMilli(), s.Values)
		}
	}
	return n, last, h.Sum64()
}

func TestSameSeedSameRecording(t *testing.T) {
	for _, name := range []string{"healthy: a single run", "fault: leak of 1 to 3 mm", "fooler: power cut of 3 s"} {
		c := byName(t, name)
		var sums [3]uint64
		for i, seed := range []uint64{3, 3, 4} {
			r, err := Make(c, Full, seed)
			if err != nil {
				t.Fatal(err)
			}
			_, _, sums[i] = drain(r)
		}
		if sums[0] != sums[1] {
			t.Errorf("%s: seed 3 made two different recordings", name)
		}
		if sums[0] == sums[2] {
			t.Errorf("%s: seeds 3 and 4 made the same recording", name)
		}
	}
}

var full = flag.Bool("full", false, "all cases with all sensor sets and more seeds")

// Every case makes a recording whose truth holds together.
func TestTruthHoldsTogether(t *testing.T) {
	names := map[string]bool{}
	for k, c := range Cases() {
		if names[c.Name] {
			t.Errorf("two cases are called %q", c.Name)
		}
		names[c.Name] = true
		if !*full && strings.HasSuffix(c.Name, " runs") {
			continue
		}
		if !*full && k%3 > 0 {
			continue
		}
		for i, set := range c.Sets {
			seed := uint64(i + 1)
			if !*full && i != k/3%len(c.Sets) {
				continue
			}
			r, err := Make(c, set, seed)
			if err != nil {
				t.Errorf("%s/%s/%d: %v", c.Name, set, seed, err)
				continue
			}
			n, last, _ := drain(r)
			for _, wrong := range check(c, r, r.Truth(), n, last) {
				t.Errorf("%s/%s/%d: %s", c.Name, set, seed, wrong)
			}
		}
	}
}

// check says what in a truth contradicts itself or the case.
func check(c Case, r paper.Recording, tr paper.Truth, n int, last time.Time) []string {
	var out []string
	say := func(f string, a ...any) { out = append(out, fmt.Sprintf(f, a...)) }
	if n < 500 || len(tr.Runs) == 0 {
		say("%d scans, %d runs", n, len(tr.Runs))
	}
	if !slices.IsSortedFunc(tr.Phases, func(a, b paper.Phase) int { return a.At.Compare(b.At) }) || len(tr.Phases) < 4 {
		say("phases out of order or too few: %v", tr.Phases)
	}
	sound := !strings.HasPrefix(c.Name, "fault:")
	for i, u := range tr.Runs {
		if !u.Complete || !u.End.After(u.Start) || u.End.After(last) {
			say("run %d ends at %v, begins at %v, recording ends %v", i, u.End, u.Start, last)
		}
		if len(u.Faults) > 0 && sound {
			say("run %d of a healthy recording has faults %v", i, u.Faults)
		}
		for _, f := range u.Faults {
			if len(f.Names) == 0 || f.From.Before(u.Start) && !strings.HasSuffix(c.Name, " runs") || f.From.After(u.End) {
				say("run %d: fault %v from %v outside %v to %v", i, f.Names, f.From, u.Start, u.End)
			}
			if slices.Contains(f.Names, analysis.VacuumShort) && f.Due && f.Cause == analysis.OpenToAir && u.TargetMet && u.LeakMbarLS <= 0 {
				say("run %d: a leak is due that is not there", i)
			}
		}
		if u.EndKPa < 1 || u.EndKPa > 110 || u.TauS < 0 || u.LeakMbarLS < 0 {
			say("run %d: level %g kPa, time constant %g s, leak %g mbar·L/s", i, u.EndKPa, u.TauS, u.LeakMbarLS)
		}
		healthy := sound && !strings.Contains(c.Name, "given up") && len(u.Faults) == 0
		if !healthy {
			continue
		}
		if u.DryAt.IsZero() {
			say("healthy run %d did not come to dryness", i)
		}
		if !u.TargetMet && !strings.Contains(c.Name, "volatile") && !slices.Contains(u.Allowed, analysis.VacuumShort) {
			say("healthy run %d did not come to its target", i)
		}
		if share := u.RecoveredL / r.Still.ChargeL; math.IsNaN(share) || share < 0.45 || share > 1 {
			say("healthy run %d gave %.1f L of %.0f L", i, u.RecoveredL, r.Still.ChargeL)
		}
		if u.EnergyKWh < 0.06*u.RecoveredL || u.EnergyKWh > 0.6*u.RecoveredL {
			say("healthy run %d took %.1f kWh for %.1f L", i, u.EnergyKWh, u.RecoveredL)
		}
	}
	return out
}

// Each fault is due somewhere among a few seeds with every instrument fitted, or its rule says never.
func TestEveryFaultCanBeDue(t *testing.T) {
	if !*full {
		t.Skip("thousands of hours of stills: run with -full")
	}
	for _, c := range Cases() {
		if !strings.HasPrefix(c.Name, "fault:") || strings.Contains(c.Name, "gauge offset") || strings.Contains(c.Name, "drifts") {
			continue
		}
		due := false
		for seed := uint64(1); seed < 8 && !due; seed++ {
			r, err := Make(c, c.Sets[len(c.Sets)-1], seed)
			if strings.Contains(c.Name, "thin drum") {
				r, err = Make(c, Full, seed)
			}
			if err != nil {
				t.Fatal(err)
			}
			drain(r)
			for _, u := range r.Truth().Runs {
				for _, f := range u.Faults {
					due = due || f.Due
				}
			}
		}
		if !due {
			t.Errorf("%s: never due in seven seeds", c.Name)
		}
	}
}

func TestEveryRuleSaysWhy(t *testing.T) {
	for _, r := range rules {
		if r.names == nil || r.due == nil || r.shows == nil || (r.why == "") {
			t.Errorf("rule of %q is not complete", r.kind)
		}
	}
}

func TestUnknownSetIsRefused(t *testing.T) {
	if _, err := Make(byName(t, "fault: gas at the detector"), Two, 1); err == nil {
		t.Error("gas without a detector was made")
	}
	if _, err := Make(Case{Name: "other"}, Two, 1); err == nil {
		t.Error("a case from elsewhere was made")
	}
}

func BenchmarkWeekAtOneSecond(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		c := Cases()[1]
		r, err := Make(c, Full, 2)
		if err != nil {
			b.Fatal(err)
		}
		n, last, _ := drain(r)
		b.ReportMetric(last.Sub(Start).Hours()/24, "days")
		b.ReportMetric(float64(n), "scans")
	}
}
