package analysis

import "time"

// Analyser folds the scans of one still into events. Not safe for concurrent use.
type Analyser struct {
	still  Still
	memory Memory
}

// Memory is what an analyser carries over a rest point: what it has counted and learned. It is small,
// survives as JSON, and together with the scans after it gives back the exact state. The zero value is
// a still never seen before.
type Memory struct {
	Version int `json:"version"`
	Runs    int `json:"runs"` // runs seen so far
}

// New returns an analyser for the still, resting at m.
func New(s Still, m Memory) *Analyser { return &Analyser{still: s, memory: m} }

// Step takes the next scan and returns the events it caused, oldest first; the slice is valid until
// the next Step. A scan that is not later than the one before changes nothing. Step never panics.
func (a *Analyser) Step(s Scan) []Event { return nil }

// Finish says that no more scans will come: a run still open is summed up with Summary.Open set.
// It is for recordings; a live still never needs it. The analyser must not be used afterwards.
func (a *Analyser) Finish() []Event { return nil }

// Status is the present moment. It may be called after any Step; it changes nothing.
func (a *Analyser) Status() Status { return Status{Phase: Idle} }

// Memory returns what the analyser carried over its last rest point, and the time of that scan: the
// zero time if it has not rested since New. New(still, m), fed all scans later than that time, gives
// the events this analyser gives.
func (a *Analyser) Memory() (Memory, time.Time) { return a.memory, time.Time{} }
