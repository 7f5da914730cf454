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
	k, coolsK := 0, -1
	var cools time.Time // from when on a cool-down may have been seen in phase coolsK
	var coolsOK bool
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
			if said == analysis.CoolDown && is != said {
				if coolsK != k {
					coolsK = k
					cools, coolsOK = m.coolsFrom(i, k)
				}
				if coolsOK && !at.Before(cools) {
					is = said
				}
			}
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

// coolsFrom is from when on a cool-down of run i may have been seen in phase k: since heat was last shown before it
// was called off. Whether a thermostat that is open will close again, nobody knows.
func (m *marker) coolsFrom(i, k int) (time.Time, bool) {
	for _, p := range m.truth.Phases[k+1:] {
		switch p.Phase {
		case analysis.CoolDown:
			return m.trace.heatEnds(m.truth.Runs[i].Start, p.At), true
		case analysis.Idle:
			return time.Time{}, false
		}
	}
	return time.Time{}, false
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
