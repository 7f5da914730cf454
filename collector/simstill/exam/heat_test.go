package exam

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// marks are the figures of the heating and distilling papers of one sensor set.
type marks struct {
	runs, found  int
	agree, scans float64
	dry          []float64 // error of the dry point, min
	noDry        int       // dry by the books, and not said so
	boil         []float64 // error of the onset of boiling, min
	false        map[string]int
	log          []string
}

func (m *marks) String() string {
	return fmt.Sprintf("runs %d/%d phases %.3f | dry n=%d missed %d median %.1f |e| median %.1f p90 %.1f | boil n=%d |e| %.1f p90 %.1f | false %v",
		m.found, m.runs, m.agree/math.Max(1, m.scans), len(m.dry), m.noDry, at(m.dry, 0.5), at(abs(m.dry), 0.5), at(abs(m.dry), 0.9),
		len(m.boil), at(abs(m.boil), 0.5), at(abs(m.boil), 0.9), m.false)
}

func abs(xs []float64) []float64 {
	out := slices.Clone(xs)
	for i := range out {
		out[i] = math.Abs(out[i])
	}
	return out
}

func at(xs []float64, q float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	return s[min(len(s)-1, int(q*float64(len(s))))]
}

// phaseAt is the phase that the summaries give a moment; idle between runs.
func phaseAt(es []analysis.Event, t time.Time) analysis.Phase {
	for _, e := range es {
		if e.Kind != analysis.RunEvent || t.Before(e.Summary.Start) || !t.Before(e.Summary.End) {
			continue
		}
		for _, p := range e.Summary.Phases {
			if !t.Before(p.Start) && t.Before(p.End) {
				return p.Name
			}
		}
	}
	return analysis.Idle
}

// watchHeat watches a paper and marks it.
func (m *marks) watchHeat(t *testing.T, label string, p Paper) Answer {
	t.Helper()
	a, err := p.Watch()
	if err != nil {
		t.Fatal(err)
	}
	m.runs += len(a.Truth)
	var sums []*analysis.Summary
	for _, e := range a.Events {
		if e.Kind == analysis.RunEvent {
			sums = append(sums, e.Summary)
			m.found++
		}
	}
	for i, tr := range a.Truth {
		for _, s := range sums {
			if s.Start.Sub(a.Began[i]).Abs() > 20*time.Minute {
				continue
			}
			dried := !tr.DryAt.IsZero() && tr.DryAt.Before(tr.HeatOffAt)
			switch {
			case s.DryAt != nil && !tr.DryAt.IsZero():
				m.dry = append(m.dry, s.DryAt.Sub(tr.DryAt).Minutes())
				if e := m.dry[len(m.dry)-1]; math.Abs(e) > 6 {
					m.log = append(m.log, fmt.Sprintf("%s run %d: dry %+.1f min, heat off %.1f min after, %s", label, i+1, e, tr.HeatOffAt.Sub(tr.DryAt).Minutes(), s.DryBasis))
				}
			case dried:
				m.noDry++
			}
			for _, ph := range s.Phases {
				if ph.Name == analysis.Distilling && !tr.BoilAt.IsZero() {
					m.boil = append(m.boil, ph.Start.Sub(tr.BoilAt).Minutes())
					if e := m.boil[len(m.boil)-1]; math.Abs(e) > 5 {
						m.log = append(m.log, fmt.Sprintf("%s run %d: boil %+.1f min", label, i+1, e))
					}
				}
			}
		}
	}
	for _, ph := range a.Phases {
		if ph.Phase == analysis.Idle {
			continue
		}
		m.scans++
		if phaseAt(a.Events, ph.At) == ph.Phase {
			m.agree++
		}
	}
	for _, e := range a.Events {
		if e.Kind == analysis.FaultEvent && e.State == analysis.Raised {
			if m.false == nil {
				m.false = map[string]int{}
			}
			m.false[string(e.Fault)]++
			m.log = append(m.log, fmt.Sprintf("%s run %d: %s %s", label, e.Run, e.Fault, e.Text))
		}
	}
	return a
}

// TestHeatHealthy measures phases and dry points on healthy stills, and what is raised for nothing.
func TestHeatHealthy(t *testing.T) {
	n, runs := uint64(6), 2
	if *full {
		n, runs = 40, 4
	}
	if s := os.Getenv("LUTED_EXAM_N"); s != "" {
		n, _ = strconv.ParseUint(s, 10, 64)
	}
	first := uint64(1)
	if s := os.Getenv("LUTED_EXAM_SEED"); s != "" {
		first, _ = strconv.ParseUint(s, 10, 64)
	}
	for _, set := range []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full} {
		t.Run(string(set), func(t *testing.T) {
			t.Parallel()
			var m marks
			for seed := first; seed < first+n; seed++ {
				c, err := simstill.Healthy(seed, start, runs)
				if err != nil {
					t.Fatal(err)
				}
				c.Options.Sensors.Set = set
				m.watchHeat(t, fmt.Sprintf("seed %d (%s, %s, hold %s, gauge %.1f)", seed, c.Options.Stated.Solvent, c.Every, c.Options.Stated.Hold, c.Options.Sensors.GaugeStep),
					Paper{Options: c.Options, Plan: c.Plan, Poll: c.Every, Start: c.Start, Length: c.End.Sub(c.Start)})
			}
			t.Log("\n" + strings.Join(m.log, "\n") + "\n" + m.String())
			limit := map[simstill.SensorSet]float64{simstill.TwoChannel: 8, simstill.Typical: 6, simstill.Full: 3}[set] // min
			if got := at(abs(m.dry), 0.5); m.found != m.runs || !(got <= limit) {
				t.Errorf("%d runs found of %d; dry point off by %.1f min in the median, want %g at the most", m.found, m.runs, got, limit)
			}
		})
	}
}
