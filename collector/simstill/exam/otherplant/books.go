package otherplant

import (
	"math"
	"time"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// books turn what the plant kept into the truth of a recording.
type books struct {
	w   *World
	set string
}

func newBooks(w *World, set string) *books {
	w.note(analysis.Idle)
	return &books{w: w, set: set}
}

// tailS is how long a recording goes on after the last vent, s.
const tailS = 2700

// endS is the end of the recording, s: known once the last batch is done.
func (b *books) endS() float64 {
	c := &b.w.crew
	if c.next < len(c.plan) {
		return math.Inf(1)
	}
	return c.freeAt + tailS
}

// truth is what was true, as far as the scans have been drawn.
func (b *books) truth() paper.Truth {
	c := &b.w.crew
	var out paper.Truth
	for _, m := range c.marks {
		out.Phases = append(out.Phases, paper.Phase{At: c.stamp(m.t), Phase: m.phase})
	}
	healthy := 0
	for i, u := range c.runs {
		out.Runs = append(out.Runs, b.run(i, u, healthy))
		if len(u.ills) == 0 && u.was(AtDry) {
			healthy++
		}
	}
	return out
}

// when is the time of an anchor, or the zero time.
func (b *books) when(t float64) time.Time {
	if math.IsNaN(t) || t == 0 {
		return time.Time{}
	}
	return b.w.crew.stamp(t)
}

// run is the truth of one run.
func (b *books) run(i int, u *run, healthy int) paper.Run {
	r := paper.Run{
		Start: b.w.crew.stamp(u.at[AtStart]), End: b.when(u.end), PumpStart: b.when(u.at[AtPump]),
		Complete: u.end > 0, TauS: u.tau, EndKPa: u.endPa / 1000, LeakMbarLS: u.leak,
		TargetMet:  u.targetMet(b.w.r),
		DryAt:      b.when(u.at[AtDry]),
		EnergyKWh:  math.NaN(),
		RecoveredL: math.NaN(),
	}
	if r.Complete {
		r.EnergyKWh, r.RecoveredL = u.energy/3.6e6, u.condensed
	}
	v := view{r: b.w.r, u: u, set: b.set, i: i, runs: b.w.crew.runs, healthy: healthy, baroPa: b.w.r.baroPa}
	r.Faults, r.Allowed = v.judge()
	for j := range r.Faults {
		r.Faults[j].From = b.w.crew.stamp(v.from[j])
	}
	return r
}

// targetMet says whether the true pressure came to the target in the stated time.
func (u *run) targetMet(r *Rig) bool {
	return u.was(AtTarget) && u.at[AtTarget]-u.at[AtPump] <= r.Within.Seconds()
}
