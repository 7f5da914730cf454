package thirdplant

import (
	"math"
	"testing"
	"time"

	"luted/collector/simstill/exam/paper"
)

// watched plays a recording and checks its scans.
func watched(t *testing.T, c Case, set string, seed uint64) (paper.Recording, paper.Truth, uint64, int) {
	t.Helper()
	rec, err := Make(c, set, seed)
	if err != nil {
		t.Fatal(err)
	}
	var h uint64
	n := 0
	var last time.Time
	for s := range rec.Scans {
		if !s.At.After(last) {
			t.Fatalf("%s %s: scan at %s after one at %s", c.Name, set, s.At, last)
		}
		if len(s.Values) != len(rec.Still.Channels) {
			t.Fatalf("%s %s: %d values of %d channels", c.Name, set, len(s.Values), len(rec.Still.Channels))
		}
		for _, v := range s.Values {
			x, ok := v.OK()
			if ok && x != x {
				t.Fatalf("%s %s: not a number at %s", c.Name, set, s.At)
			}
			h = h*1099511628211 ^ math.Float64bits(x) ^ uint64(v.Quality)
		}
		last = s.At
		n++
		h = h*1099511628211 ^ uint64(s.At.UnixNano())
	}
	return rec, rec.Truth(), h, n
}

// TestSameSeedSameRecording holds the invariant of the package.
func TestSameSeedSameRecording(t *testing.T) {
	for _, c := range Cases()[:2] {
		_, _, a, n := watched(t, c, Typical, 1)
		_, _, b, _ := watched(t, c, Typical, 1)
		_, _, other, _ := watched(t, c, Typical, 2)
		if a != b || a == other || n < 500 {
			t.Errorf("%s: %x and %x with one seed, %x with another, %d scans", c.Name, a, b, other, n)
		}
	}
}

// long reports whether a case is a series of many runs, which says no more here than a short one.
func long(c Case) bool {
	b := newBench(c, Full, 1)
	c.build(b)
	return len(b.jobs) > 5
}

// TestHealthyIsHealthy: nothing is wrong, the target is met in time and every run that began becomes dry.
func TestHealthyIsHealthy(t *testing.T) {
	for _, c := range healthyCases {
		if !c.In(Two) || long(c) {
			continue
		}
		for seed := range uint64(max(1, c.Seeds)) {
			rec, truth, _, _ := watched(t, c, Two, seed+1)
			if len(truth.Runs) == 0 {
				t.Errorf("%s: no runs", c.Name)
			}
			for i, r := range truth.Runs {
				if len(r.Faults) > 0 {
					t.Errorf("%s, run %d: %v", c.Name, i+1, r.Faults)
				}
				if !r.TargetMet {
					t.Errorf("%s, run %d: target %.1f kPa not met, levels off at %.1f kPa", c.Name, i+1, rec.Still.Vacuum.TargetKPa, r.EndKPa)
				}
				if r.DryAt.IsZero() {
					t.Errorf("%s, seed %d, run %d from %s to %s: never dry", c.Name, seed+1, i+1, r.Start, r.End)
				}
			}
		}
	}
}

// TestFaultsAreInTheBooks: each case of a fault has one in its truth, and not before the run that it is in.
func TestFaultsAreInTheBooks(t *testing.T) {
	for _, cases := range [][]Case{vacuumCases, heatCases, otherCases} {
		for _, c := range cases {
			if allowedOnly[c.Name] || long(c) {
				continue
			}
			_, truth, _, _ := watched(t, c, Full, 1)
			faults := 0
			for _, r := range truth.Runs {
				for _, f := range r.Faults {
					faults++
					if f.Due && f.From.IsZero() {
						t.Errorf("%s: %v has no beginning", c.Name, f.Names)
					}
				}
			}
			if faults == 0 {
				t.Errorf("%s: no fault in the books", c.Name)
			}
		}
	}
}

// allowedOnly are cases in which something is wrong that nobody needs to see.
var allowedOnly = map[string]bool{
	"small leak, target still met": true, "air dips for a minute": true, "low mains": true, "device silent for a moment": true,
	"a little water in the drum": true, "breaker for a quarter of an hour": true, "gauge sticks under vacuum": true,
}
