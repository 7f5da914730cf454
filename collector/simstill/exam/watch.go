// Package exam lets the analysis watch recordings and marks what it says against what was true.
//
// The idea: the plants that make the recordings share no detection code with the analysis and carry their
// own books, so the marks mean something. A recording is watched by one analyser from its first scan to its
// last, as a live still would be, and only then is the plant asked for the truth.
//
// The invariant: every recording is seeded, and the same seed gives the same marks.
package exam

import (
	"time"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// answer is what the analysis said about a recording, what was true, and what the needles showed meanwhile.
type answer struct {
	rec    paper.Recording
	truth  paper.Truth
	events []analysis.Event
	runs   []*analysis.Summary
	trace  trace
	last   time.Time // last scan
}

// watch has a new analyser watch the recording.
func watch(rec paper.Recording) (answer, error) {
	a := answer{rec: rec, trace: newTrace(rec.Still)}
	an := analysis.New(rec.Still, analysis.Memory{})
	take := func(es []analysis.Event) {
		for _, e := range es {
			a.events = append(a.events, e)
			if e.Kind == analysis.RunEvent {
				a.runs = append(a.runs, e.Summary)
			}
		}
	}
	for s := range rec.Scans {
		take(an.Step(s))
		a.trace.add(s)
		a.last = s.At
	}
	take(an.Finish())
	if rec.Err != nil {
		if err := rec.Err(); err != nil {
			return a, err
		}
	}
	a.truth = rec.Truth()
	return a, nil
}

// tolerance is how far off a time may be and still be right: two scans, a minute at least.
func (a *answer) tolerance() time.Duration { return max(2*a.rec.Poll, time.Minute) }

// after is when run i of the truth gives way to the next: the next one's start, or the end of the recording.
func (a *answer) after(i int) time.Time {
	if i+1 < len(a.truth.Runs) {
		return a.truth.Runs[i+1].Start
	}
	return a.last.Add(time.Second)
}

// owner is the index of the true run that a moment belongs to: the last that had begun, give or take the
// tolerance; -1 before the first.
func (a *answer) owner(t time.Time) int {
	i := -1
	for k := range a.truth.Runs {
		if !a.truth.Runs[k].Start.Add(-a.tolerance()).After(t) {
			i = k
		}
	}
	return i
}
