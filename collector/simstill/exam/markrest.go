package exam

import (
	"fmt"
	"math"
	"slices"
	"time"

	"luted/analysis"
)

// markDry: the dry point is asked for in complete runs that became dry before the heat went off; the books'
// dry point is when the last of what can be had has left the pot.
func (m *marker) markDry() {
	for i := range m.truth.Runs {
		r, s := &m.truth.Runs[i], m.said[i]
		if s == nil || !r.Complete || r.DryAt.IsZero() || m.phaseTrue(r.DryAt.Add(time.Second)) != analysis.DryOut {
			continue
		}
		m.DryAsked++
		if s.DryAt == nil {
			continue
		}
		err := s.DryAt.Sub(r.DryAt).Minutes()
		m.DryMin = append(m.DryMin, err)
		if math.Abs(err) > 15 {
			m.miss(r.DryAt, "dry point", clock(*s.DryAt)+" by "+s.DryBasis, fmt.Sprintf("off by %+.0f min", err))
		}
	}
}

// phaseTrue is the true phase at a moment.
func (m *marker) phaseTrue(t time.Time) analysis.Phase {
	is := analysis.Idle
	for _, p := range m.truth.Phases {
		if !p.At.After(t) {
			is = p.Phase
		}
	}
	return is
}

// measured are the bases of a figure of what came over that somebody measured.
var measured = []string{"volume", "mass", "flow"}

// markEnergy: energy per gallon in complete runs where both are measured; 2u is a confidence of about 95 %.
func (m *marker) markEnergy() {
	for i := range m.truth.Runs {
		r, s := &m.truth.Runs[i], m.said[i]
		if s == nil || !r.Complete || s.KWhPerGal == nil || s.KWhPerGalU == nil || !slices.Contains(measured, s.RecoveredBasis) || s.EnergyBasis != "counter" && s.EnergyBasis != "power" || !(r.RecoveredL > 1) {
			continue
		}
		truth := r.EnergyKWh / r.RecoveredL * analysis.LPerGal
		err := *s.KWhPerGal - truth
		m.PerGalPct = append(m.PerGalPct, 100*err/truth)
		if math.Abs(err) <= 2**s.KWhPerGalU {
			m.PerGalIn++
		} else {
			m.miss(r.Start, "energy per gallon", fmt.Sprintf("%.3f ± %.3f kWh/gal (%s, %s)", *s.KWhPerGal, *s.KWhPerGalU, s.EnergyBasis, s.RecoveredBasis), fmt.Sprintf("%.3f kWh/gal", truth))
		}
	}
}

// noWarning stands for wear that was never announced before the target was missed, runs.
const noWarning = -1

// markWear: in recordings of a seal that wears, how many runs before the first true miss of the target its
// wear was first announced.
func (m *marker) markWear() {
	wears, missed := false, -1
	for i := range m.truth.Runs {
		r := &m.truth.Runs[i]
		for _, f := range r.Faults {
			wears = wears || slices.Contains(f.Names, analysis.SealWear)
		}
		if wears && missed < 0 && r.Complete && !r.TargetMet {
			missed = i
		}
	}
	if missed < 0 {
		return
	}
	lead := noWarning
	for _, e := range m.events {
		if i := m.owner(e.At); e.Kind == analysis.FaultEvent && e.Fault == analysis.SealWear && e.State == analysis.Raised && i >= 0 {
			lead = max(noWarning, missed-i)
			break
		}
	}
	m.WearLead = append(m.WearLead, float64(lead))
	if lead < 5 {
		m.miss(m.truth.Runs[missed].Start, "seal wear late", fmt.Sprintf("first warning %d runs before the miss", lead), fmt.Sprintf("target first missed in run %d", missed+1))
	}
}
