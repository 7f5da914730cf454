// Package exam lets the analysis watch simulated stills and marks what it says against what was true.
//
// The idea: the simulated stills share no detection code with the analysis and carry their own books, so
// the marks mean something. The invariant: every exam is seeded, and the same seed gives the same marks.
package exam

import (
	"fmt"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
	"luted/config"
)

// Paper is one recording to be made and watched.
type Paper struct {
	Options simstill.Options
	Plan    []simstill.Step
	Poll    time.Duration
	Start   time.Time     // first scan
	Lead    time.Duration // simulated before Start, unseen
	Length  time.Duration
}

// Answer is what the analysis said, and what was true.
type Answer struct {
	Events []analysis.Event
	Truth  []simstill.Truth // at the end of each run, as the still's books had it
	Began  []time.Time      // true start of each run
	Phases []TruePhase      // every half minute
	Scans  int
}

// TruePhase is what a still was doing.
type TruePhase struct {
	At    time.Time
	Phase analysis.Phase
}

// Still is the analysis's view of the paper's still: what its configuration states.
func (p Paper) Still(s *simstill.Still) (analysis.Still, error) {
	text := fmt.Sprintf("site: {name: Exam hall, altitude: %g m, display: metric}\nlines:\n  plc: {tcp: 127.0.0.1:502}\nstills:\n%s",
		p.Options.AltitudeM, s.ConfigYAML("plc", 1, p.Poll))
	c, _, err := config.Parse("exam.yaml", []byte(text), nil)
	if err != nil {
		return analysis.Still{}, fmt.Errorf("the still's own configuration: %w", err)
	}
	return c.Stills[0].Equipment, nil
}

// Watch simulates the paper and has a new analyser watch it.
func (p Paper) Watch() (Answer, error) {
	var a Answer
	s, err := simstill.New(p.Options, p.Start.Add(-p.Lead))
	if err != nil {
		return a, err
	}
	s.Schedule(p.Plan)
	still, err := p.Still(s)
	if err != nil {
		return a, err
	}
	an := analysis.New(still, analysis.Memory{})
	values := make([]analysis.Value, len(still.Channels))
	last := s.Truth()
	for at := p.Start; at.Before(p.Start.Add(p.Length)); at = at.Add(p.Poll) {
		s.Advance(at)
		for i, c := range still.Channels {
			v, ok := s.Value(c.Name)
			if !ok {
				v = analysis.Value{Quality: analysis.Missing}
			}
			values[i] = v
		}
		a.Events = append(a.Events, an.Step(analysis.Scan{At: at, Values: values})...)
		a.Scans++
		now := s.Truth()
		if n := len(a.Phases); n == 0 || at.Sub(a.Phases[n-1].At) >= 30*time.Second {
			a.Phases = append(a.Phases, TruePhase{at, now.Phase})
		}
		if now.Run != last.Run && last.Run > 0 {
			a.Truth = append(a.Truth, last)
		}
		if now.Run != last.Run {
			a.Began = append(a.Began, now.RunStart)
		}
		last = now
	}
	if last.Run > 0 {
		a.Truth = append(a.Truth, last)
	}
	a.Events = append(a.Events, an.Finish()...)
	return a, nil
}

// First returns the first event that raises one of the faults, and whether there is one.
func (a Answer) First(faults ...analysis.Fault) (analysis.Event, bool) {
	for _, e := range a.Events {
		if e.Kind != analysis.FaultEvent || e.State != analysis.Raised {
			continue
		}
		for _, f := range faults {
			if e.Fault == f {
				return e, true
			}
		}
	}
	return analysis.Event{}, false
}
