package exam

import (
	"fmt"
	"math"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/collector/simstill/exam/paper"
)

// openShare of the surroundings: a pump-down that ends above it is an open lid, and no leak to be measured.
const openShare = 0.85

// markDelay times the alarm of a vacuum that cannot be pulled, from when the pressure should have begun to
// fall. An open lid is timed in seconds, at 1 s polling only. A leak that ends short of the target is timed
// as a multiple of the least time that the readings allow: the first time at which 1.645 standard deviations
// of the Cramér–Rao bound of the end pressure are smaller than its distance from the target, with the true
// curve, the polling, and the gauge's noise as it was at rest before this run.
func (m *marker) markDelay(i int, f paper.Fault, e analysis.Event) {
	r := &m.truth.Runs[i]
	vacuum := slices.Contains(f.Names, analysis.VacuumNotPulled) || slices.Contains(f.Names, analysis.VacuumShort)
	if !vacuum || f.Cause != analysis.OpenToAir || r.PumpStart.IsZero() || f.From.Sub(r.PumpStart) > m.tolerance() || e.At.Before(r.Start) {
		return // an alarm that has stood since an earlier run is no alarm of this one
	}
	after := e.At.Sub(r.PumpStart).Seconds()
	room := physics.AtmosphericKPa(m.rec.Still.AltitudeM)
	if !(r.EndKPa < openShare*room) {
		if f.Names[0] == analysis.VacuumNotPulled && m.rec.Poll == time.Second {
			m.OpenLid = append(m.OpenLid, after)
			if after > 60 {
				m.miss(e.At, "open lid late", fmt.Sprintf("%.0f s after the pump-down began", after), "30 s in the median")
			}
		}
		return
	}
	noise := m.trace.gaugeNoise(r.Start)
	least, ok := physics.Pumping{StartKPa: room, EndKPa: r.EndKPa, TauS: r.TauS, NoiseKPa: noise, EveryS: m.rec.Poll.Seconds()}.LeastTimeS(m.rec.Still.Vacuum.TargetKPa, 1.645)
	if !ok || math.IsNaN(noise) {
		return
	}
	m.Least = append(m.Least, after/least)
	if after > 3*least {
		m.miss(e.At, "leak late", fmt.Sprintf("%s %.0f s after the pump-down began", e.Fault, after),
			fmt.Sprintf("least time %.0f s (end %.1f kPa, target %.1f kPa, tau %.0f s, noise %.2f kPa every %s)", least, r.EndKPa, m.rec.Still.Vacuum.TargetKPa, r.TauS, noise, m.rec.Poll))
	}
}

// markVacuum: figures of the pump-down in the summaries, against the books. The leak is asked for where one
// that matters was there (it is due as a fault); time constant and end pressure in every run in which the books
// have them. What is not stated is no error, but the share that is stated is shown.
func (m *marker) markVacuum() {
	room := physics.AtmosphericKPa(m.rec.Still.AltitudeM)
	for i := range m.truth.Runs {
		r, s := &m.truth.Runs[i], m.said[i]
		if s == nil || !r.Complete || !(r.EndKPa < openShare*room) {
			continue
		}
		v := s.Vacuum
		if v == nil {
			v = &analysis.VacuumResult{}
		}
		if r.TauS > 0 {
			m.TauAsked++
			if v.TauS != nil {
				m.TauPct = append(m.TauPct, 100*math.Abs(*v.TauS/r.TauS-1))
				m.gross(r, "time constant", *v.TauS, r.TauS, "s", 0.3*r.TauS)
			}
		}
		m.EndKPaAsked++
		if v.EndKPa != nil {
			m.EndKPa = append(m.EndKPa, math.Abs(*v.EndKPa-r.EndKPa))
			m.gross(r, "end pressure", *v.EndKPa, r.EndKPa, "kPa", 3)
		}
		due := slices.ContainsFunc(r.Faults, func(f paper.Fault) bool {
			return f.Due && f.Cause == analysis.OpenToAir && slices.Contains(f.Names, analysis.VacuumShort)
		})
		if due && r.LeakMbarLS > 0 {
			m.LeakAsked++
			if v.LeakMbarLS != nil {
				m.LeakPct = append(m.LeakPct, 100*math.Abs(*v.LeakMbarLS/r.LeakMbarLS-1))
				m.gross(r, "leak", *v.LeakMbarLS, r.LeakMbarLS, "mbar·L/s", 0.3*r.LeakMbarLS)
			}
		}
	}
}

// gross notes a figure that is far off.
func (m *marker) gross(r *paper.Run, what string, said, truth float64, unit string, most float64) {
	if math.Abs(said-truth) > most {
		m.miss(r.Start, what, fmt.Sprintf("%.3g %s", said, unit), fmt.Sprintf("%.3g %s", truth, unit))
	}
}
