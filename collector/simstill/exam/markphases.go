package exam

import (
	"fmt"
	"time"

	"luted/analysis"
)

// phaseEvery is how often the phase is compared.
const phaseEvery = 30 * time.Second

// markPhases compares the phase that the summaries give each moment of the true runs with the true one.
// Moments within the tolerance of a true change are left out. With two channels, nothing shows when the charge
// begins to boil and when it is dry but by luck: heat-up, distilling and dry-out count as one there for the
// observable figure, and apart for the other.
func (m *marker) markPhases() {
	two := m.rec.Set == "two"
	var wrong map[string]time.Duration
	live := 0
	k := 0
	var liveNow analysis.Phase = analysis.Idle
	for i := range m.truth.Runs {
		r := &m.truth.Runs[i]
		end := r.End
		if end.IsZero() {
			end = m.last
		}
		wrong = map[string]time.Duration{}
		for at := r.Start; at.Before(end); at = at.Add(phaseEvery) {
			for k+1 < len(m.truth.Phases) && !m.truth.Phases[k+1].At.After(at) {
				k++
			}
			if k >= len(m.truth.Phases) || at.Sub(m.truth.Phases[k].At) < m.tolerance() ||
				k+1 < len(m.truth.Phases) && m.truth.Phases[k+1].At.Sub(at) < m.tolerance() {
				continue
			}
			for live < len(m.events) && !m.events[live].At.After(at) {
				if e := m.events[live]; e.Kind == analysis.PhaseEvent {
					liveNow = e.Phase
				}
				live++
			}
			is, said := m.truth.Phases[k].Phase, m.phaseSaid(at)
			m.AllScans++
			m.PhaseScans++
			if said == is {
				m.AllRight++
			}
			if liveNow == is {
				m.LiveRight++
			}
			if said == is || two && hot(said) && hot(is) {
				m.PhaseRight++
			} else {
				wrong[fmt.Sprintf("%s for %s", said, is)] += phaseEvery
			}
		}
		for what, d := range wrong {
			if d > 5*time.Minute {
				m.miss(r.Start, "phase", what, fmt.Sprintf("wrong for %.0f min of %.0f", d.Minutes(), end.Sub(r.Start).Minutes()))
			}
		}
	}
}

func hot(p analysis.Phase) bool {
	return p == analysis.HeatUp || p == analysis.Distilling || p == analysis.DryOut
}

// phaseSaid is the phase that the summaries give a moment; idle between runs.
func (m *marker) phaseSaid(t time.Time) analysis.Phase {
	for _, s := range m.runs {
		if t.Before(s.Start) || !t.Before(s.End) {
			continue
		}
		for _, p := range s.Phases {
			if !t.Before(p.Start) && t.Before(p.End) {
				return p.Name
			}
		}
	}
	return analysis.Idle
}
