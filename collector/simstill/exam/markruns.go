package exam

import (
	"fmt"
	"time"

	"luted/analysis"
)

// markRuns: a true run is found if a summary overlaps it; where several do, the one that overlaps most. A
// summary that is left over is spurious. The start must lie within the tolerance (two scans, a minute at
// least) of where it was, or of when the channels first show it, whichever is later; the end likewise, where
// it can be seen: a run that ends with a vent, or with a switch that says that it is on.
func (m *marker) markRuns() {
	runs := m.truth.Runs
	m.said = make([]*analysis.Summary, len(runs))
	taken := make([]bool, len(m.runs))
	for i := range runs {
		t := &runs[i]
		end := t.End
		if end.IsZero() {
			end = m.last
		}
		best, longest := -1, time.Duration(0)
		for k, s := range m.runs {
			if both := earlier(s.End, end).Sub(later(s.Start, t.Start)); !taken[k] && both > longest {
				best, longest = k, both
			}
		}
		m.Runs++
		if best < 0 {
			m.miss(t.Start, "run not found", "nothing", "a run until "+clock(t.End))
			continue
		}
		taken[best] = true
		m.Found++
		m.said[i] = m.runs[best]
		m.markStart(t.Start, m.runs[best].Start)
		if t.Complete && !m.runs[best].Open {
			m.markEnd(t.End, m.runs[best].End)
		}
	}
	for k, s := range m.runs {
		if !taken[k] {
			m.Spurious++
			m.miss(s.Start, "run that was none", "a run until "+clock(s.End), "idle, or the run before")
		}
	}
}

func (m *marker) markStart(start, said time.Time) {
	first, ok := m.trace.shown(start)
	if !ok {
		return
	}
	err := said.Sub(start)
	if err > 0 {
		err = max(0, said.Sub(later(first, start)))
	}
	m.Start = append(m.Start, err.Seconds())
	if err.Abs() <= m.tolerance() {
		m.StartIn++
		return
	}
	m.miss(start, "start of run", clock(said), fmt.Sprintf("shown since %s, off by %.0f s", clock(first), err.Seconds()))
}

func (m *marker) markEnd(end, said time.Time) {
	if !m.endShows(end) {
		return
	}
	err := said.Sub(end)
	m.End = append(m.End, err.Seconds())
	if err.Abs() <= m.tolerance() {
		m.EndIn++
		return
	}
	m.miss(end, "end of run", clock(said), fmt.Sprintf("off by %.0f s", err.Seconds()))
}

// endShows: the pressure moved by a tenth of the atmosphere in the four minutes up to the end (a vent), or a
// switch that says that a run is on opened within a minute of it.
func (m *marker) endShows(end time.Time) bool {
	t := &m.trace
	for _, c := range m.rec.Still.Channels {
		if c.Signal == analysis.RunOn {
			return true
		}
	}
	b := span{1e9, -1e9}
	for k := t.index(end.Add(-4 * time.Minute)); k < t.index(end.Add(time.Minute)); k++ {
		if x := t.kPa[k]; x == x {
			b.low, b.high = min(b.low, x), max(b.high, x)
		}
	}
	return b.high-b.low > 10
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
