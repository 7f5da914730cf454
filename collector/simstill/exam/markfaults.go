package exam

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// stood is a fault from when it was raised until it was cleared.
type stood struct {
	analysis.Event
	until time.Time
}

func (m *marker) standing() []stood {
	var out []stood
	for _, e := range m.events {
		if e.Kind != analysis.FaultEvent {
			continue
		}
		if e.State == analysis.Raised {
			out = append(out, stood{e, m.last.Add(time.Hour)})
			continue
		}
		for i := range slices.Backward(out) {
			if out[i].Fault == e.Fault && out[i].Channel == e.Channel {
				out[i].until = e.At
				break
			}
		}
	}
	return out
}

// markFaults: a fault that is due is found if one of its names stands at any time from when it began to show
// (the tolerance before) until the next run. Its top cause is right if the first that was raised puts the
// true cause first; it is asked for where the channels can tell.
func (m *marker) markFaults() {
	all := m.standing()
	for i := range m.truth.Runs {
		for _, f := range m.truth.Runs[i].Faults {
			if !f.Due {
				continue
			}
			m.Due[f.Names[0]]++
			from, to := f.From.Add(-m.tolerance()), m.after(i)
			k := slices.IndexFunc(all, func(s stood) bool {
				return slices.Contains(f.Names, s.Fault) && s.At.Before(to) && s.until.After(from)
			})
			if k < 0 {
				m.miss(f.From, "fault not found: "+names(f), m.raisedIn(all, i), fmt.Sprintf("%s, run %d", names(f), i+1))
				continue
			}
			m.Hit[f.Names[0]]++
			m.markDelay(i, f, all[k].Event)
			if f.Cause == "" {
				continue
			}
			m.CauseAsked++
			if l := all[k].Likely; len(l) > 0 && l[0].Cause == f.Cause {
				m.CauseHit++
			} else {
				m.miss(all[k].At, "cause of "+string(all[k].Fault), causes(l), string(f.Cause))
			}
		}
	}
}

func names(f paper.Fault) string {
	var s []string
	for _, n := range f.Names {
		s = append(s, string(n))
	}
	return strings.Join(s, " or ")
}

func causes(l []analysis.Likely) string {
	if len(l) == 0 {
		return "no causes"
	}
	var s []string
	for _, c := range l {
		s = append(s, fmt.Sprintf("%s %.2f", c.Cause, c.Weight))
	}
	return strings.Join(s, ", ")
}

// raisedIn names what was raised in a run instead.
func (m *marker) raisedIn(all []stood, i int) string {
	var s []string
	for _, f := range all {
		if m.owner(f.At) == i {
			s = append(s, string(f.Fault)+" at "+clock(f.At))
		}
	}
	if len(s) == 0 {
		return "nothing"
	}
	return strings.Join(s, ", ")
}

// markFalse: a fault that is raised in a run and is neither wrong there, nor allowed, is false; likewise one
// that is raised before it could show. Runs without anything wrong are the healthy ones.
func (m *marker) markFalse() {
	healthy := func(i int) bool { return i < 0 || len(m.truth.Runs[i].Faults) == 0 }
	for i := range m.truth.Runs {
		if healthy(i) {
			m.HealthyRuns++
		} else {
			m.FaultyRuns++
		}
	}
	for _, e := range m.events {
		if e.Kind != analysis.FaultEvent || e.State != analysis.Raised {
			continue
		}
		i := m.owner(e.At)
		if i >= 0 && m.mayBe(&m.truth.Runs[i], e) {
			continue
		}
		truth := fmt.Sprintf("run %d, healthy", i+1)
		if healthy(i) {
			m.FalseHealthy++
			m.FalseBy[e.Fault]++
		} else {
			m.FalseFaulty++
			truth = fmt.Sprintf("run %d:", i+1)
			for _, f := range m.truth.Runs[i].Faults {
				truth += " " + names(f) + " from " + clock(f.From)
			}
		}
		m.miss(e.At, "false fault: "+string(e.Fault), e.Text+" ["+causes(e.Likely)+"]", truth)
	}
}

func (m *marker) mayBe(r *paper.Run, e analysis.Event) bool {
	for _, f := range r.Faults {
		if slices.Contains(f.Names, e.Fault) && !e.At.Before(f.From.Add(-m.tolerance())) {
			return true
		}
	}
	return slices.Contains(r.Allowed, e.Fault)
}
