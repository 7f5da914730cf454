package simstill

import (
	"slices"
	"time"
)

// Step is one entry of a plan. Exactly one of Batch, Fault and Clear is set.
type Step struct {
	At    time.Time
	Batch *Batch  // load and start this
	Fault Fault   // switch on, with Size
	Size  float64 // zero or less: the usual size
	Clear Fault   // switch off
}

// Schedule adds steps to the plan. They are done in order of time when Advance comes to them; a step
// whose time has gone by is done at once. A batch due while a run is going on is left out, and so is a
// fault that the still cannot have; Skipped counts both.
func (s *Still) Schedule(plan []Step) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.plan = slices.Concat(s.plan[s.next:], plan)
	s.next = 0
	slices.SortStableFunc(s.plan, func(a, b Step) int { return a.At.Compare(b.At) })
}

// Skipped is the number of planned steps that could not be done.
func (s *Still) Skipped() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.skipped
}

// doPlan does what is due.
func (s *Still) doPlan() {
	now := s.now()
	for s.next < len(s.plan) && !s.plan[s.next].At.After(now) {
		p := s.plan[s.next]
		s.next++
		var err error
		switch {
		case p.Batch != nil:
			err = s.begin(*p.Batch)
		case p.Fault != "":
			err = s.set(p.Fault, p.Size)
		case p.Clear != "":
			s.clear(p.Clear)
		}
		if err != nil {
			s.skipped++
		}
	}
}
