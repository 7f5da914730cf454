// Package ownplant makes exam recordings with the simulated stills of package simstill.
//
// The idea: a case is a healthy still made up from a seed, with some runs of history, to which one thing is
// done. What is true is read from the books of the simulated still while it is recorded, and what must be
// found follows from the truth (where did the pressure end, what was left in the bag), not from which switch
// was thrown: a small leak that leaves the target in reach makes a healthy run.
//
// The invariant: the same case, set and seed give the same recording, scan by scan.
package ownplant

import (
	"fmt"
	"slices"
	"time"

	"luted/collector/simstill"
	"luted/collector/simstill/exam/paper"
)

// The sensor sets.
const (
	Two     = "two"     // oil temperature and gauge vacuum
	Typical = "typical" // what a careful maker fits; nothing measures the distillate
	Full    = "full"    // every signal
)

// Sets are all sensor sets.
var Sets = []string{Two, Typical, Full}

// Case is one thing that a recording can show.
type Case struct {
	Name  string
	Sets  []string // in which it makes sense; nil: all
	Seeds int      // how many recordings of it a usual exam has, for each set; 0 means 2

	history int // healthy runs before the run that it is about
	build   func(x *exhibit)
}

// In reports whether the case is there for a set.
func (c Case) In(set string) bool { return c.Sets == nil || slices.Contains(c.Sets, set) }

// Cases are all cases.
func Cases() []Case {
	return slices.Concat(healthyCases, oddCases, vacuumCases, heatCases, sensorCases, trendCases)
}

// Make makes one recording.
func Make(c Case, set string, seed uint64) (paper.Recording, error) {
	x, err := newExhibit(c, set, seed)
	if err != nil {
		return paper.Recording{}, fmt.Errorf("%s, %s, seed %d: %w", c.Name, set, seed, err)
	}
	return x.recording(c.Name)
}

var sensorSets = map[string]simstill.SensorSet{Two: simstill.TwoChannel, Typical: simstill.Typical, Full: simstill.Full}

// epoch is when recordings begin: a Monday, before work.
var epoch = time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC)
