// Package otherplant is a second simulated plant, written apart from the first, that makes recordings with
// their truth for the exam of the analysis.
//
// The idea: an analysis that is right finds the same things in a plant that works by other equations. So
// here the oil, the wall and the charge are three bodies; pot and receiver are two gas volumes with their own
// air; the ejector is a table with a start-up lag and a check valve; boiling is solved as one implicit
// balance of heat, condenser and pressure; people have habits; and instruments have their own failings.
//
// The invariant: a recording is a function of case, sensor set and seed alone, and its truth comes from the
// plant's books by the rules of rules.go, never from anything that was computed from the scans.
package otherplant

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"time"

	"luted/collector/simstill/exam/paper"
)

// The sensor sets.
const (
	Two     = "two"     // oil temperature and one vacuum gauge
	Typical = "typical" // oil, charge or vapour temperature, gauge, heater power, one switch
	Full    = "full"    // everything there is a signal for
)

// Case is one thing to show: a healthy habit, a fault or something that only looks like one.
type Case struct {
	Name string
	Sets []string                             // the sensor sets it applies to
	tune func(r *Rig, rng *rand.Rand)         // changes the drawn equipment; may be nil
	plan func(r *Rig, rng *rand.Rand) []Batch // what is done and what goes wrong, in order
}

// Start is the first moment of every recording: a Monday, UTC.
var Start = time.Date(2026, 3, 2, 4, 0, 0, 0, time.UTC)

// Make prepares the recording of a case. The same three arguments make the same recording, to the bit. The
// equipment, the weather and the people depend on case and seed, the instruments on the set as well.
func Make(c Case, set string, seed uint64) (paper.Recording, error) {
	if c.plan == nil {
		return paper.Recording{}, fmt.Errorf("case %q is not one of Cases()", c.Name)
	}
	if !slices.Contains(c.Sets, set) {
		return paper.Recording{}, fmt.Errorf("case %q: no sensor set %q; it has %v", c.Name, set, c.Sets)
	}
	rng := newRand(c.Name, "plant", seed)
	r := draw(rng)
	if c.tune != nil {
		c.tune(r, rng)
	}
	if err := r.settle(rng); err != nil {
		return paper.Recording{}, fmt.Errorf("case %q, seed %d: %w", c.Name, seed, err)
	}
	batches := c.plan(r, rng)
	w := newWorld(r, batches, rng)
	panel := newPanel(r, set, newRand(c.Name, set, seed))
	b := newBooks(w, set)
	return paper.Recording{
		Case: c.Name, Set: set, Seed: seed,
		Still: r.stated(panel.channels(), batches),
		Poll:  panel.poll,
		Scans: panel.scans(w, b),
		Truth: b.truth,
	}, nil
}

// newRand gives the stream of random numbers of one use: streams of different uses do not disturb each other.
func newRand(name, use string, seed uint64) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s/%s", name, use)
	return rand.New(rand.NewPCG(h.Sum64(), seed))
}

// between draws evenly from low to high.
func between(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

// pick draws one of the choices.
func pick[T any](rng *rand.Rand, choices ...T) T { return choices[rng.IntN(len(choices))] }
