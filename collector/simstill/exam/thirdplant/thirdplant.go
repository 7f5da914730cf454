// Package thirdplant is a third simulated plant, written apart from the other two, that makes recordings with
// their truth for the exam of the analysis.
//
// The idea: what an analysis knows about stills must hold in a plant that it was never tried on. Here the dirty
// solvent is a polymer solution whose activity falls as it thickens, boiling has to nucleate, the condenser has
// a wall that its coolant must keep cold, the ejector is a line of throughput with an optional second stage, and
// gauges, panels and people have their own ways.
//
// The invariant: a recording is a function of case, sensor set and seed alone; its truth comes from the books of
// the plant (what was done, what broke, what the true pressures, flows and temperatures were) and never from
// what the instruments showed or anything that was computed from it.
package thirdplant

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"luted/collector/simstill/exam/paper"
)

// The sensor sets.
const (
	Two     = "two"     // one temperature and one pressure
	Typical = "typical" // what a small panel has: some four to seven channels
	Full    = "full"    // everything there is a signal for, as this plant fits it
)

// Case is one thing to show.
type Case struct {
	Name  string
	Sets  []string // nil means all three
	Seeds int      // recordings of each set; 0 means 1
	build func(b *bench)
}

// In reports whether the case is made for a sensor set.
func (c Case) In(set string) bool { return c.Sets == nil || slices.Contains(c.Sets, set) }

// epoch is the first moment of every recording: a Monday morning, UTC.
var epoch = time.Date(2026, 9, 7, 5, 30, 0, 0, time.UTC)

// Make prepares the recording of a case; the same arguments make the same recording, to the bit.
func Make(c Case, set string, seed uint64) (paper.Recording, error) {
	if c.build == nil {
		return paper.Recording{}, fmt.Errorf("case %q is not one of Cases()", c.Name)
	}
	if !c.In(set) {
		return paper.Recording{}, fmt.Errorf("case %q: no sensor set %q; it has %v", c.Name, set, c.Sets)
	}
	b := newBench(c, set, seed)
	c.build(b)
	if err := b.settle(); err != nil {
		return paper.Recording{}, fmt.Errorf("case %q, set %s, seed %d: %w", c.Name, set, seed, err)
	}
	w := newWorld(b)
	return paper.Recording{
		Case: c.Name, Set: set, Seed: seed,
		Still: b.stated(w.panel.channels()),
		Poll:  b.poll,
		Scans: w.scans,
		Truth: w.log.truth,
	}, nil
}

func stream(use, name string, seed uint64) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "third/%s/%s", use, name)
	return rand.New(rand.NewPCG(seed*0x9e3779b97f4a7c15, h.Sum64()))
}

// dice draws numbers.
type dice struct{ *rand.Rand }

func (d dice) in(low, high float64) float64 { return low + (high-low)*d.Float64() }

func (d dice) chance(p float64) bool { return d.Float64() < p }

func oneOf[T any](d dice, choices ...T) T { return choices[d.IntN(len(choices))] }

func clamp(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }

// when is a moment of the recording, s after its epoch.
func when(s float64) time.Time {
	if math.IsNaN(s) {
		return time.Time{}
	}
	return epoch.Add(time.Duration(s * float64(time.Second)))
}

var never = math.NaN()
