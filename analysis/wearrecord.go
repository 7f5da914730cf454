package analysis

import "math"

// WearRecord is how the end pressure of the pump-down has grown over the runs of one solvent, for people. A
// figure that cannot be known is nil.
type WearRecord struct {
	Points    []WearPoint `json:"points"` // oldest first
	TargetKPa *float64    `json:"target_kpa,omitempty"`
	Grows     bool        `json:"grows"`                 // beyond what runs scatter
	PerRunKPa *float64    `json:"per_run_kpa,omitempty"` // while it grows
	NowKPa    *float64    `json:"now_kpa,omitempty"`     // where the line is at the latest run, absolute
	GrownKPa  *float64    `json:"grown_kpa,omitempty"`   // since the first run of the record
	RunsLeft  *float64    `json:"runs_left,omitempty"`   // until the target will be missed
	LeftLow   *float64    `json:"runs_left_low,omitempty"`
	LeftHigh  *float64    `json:"runs_left_high,omitempty"` // nil while RunsLeft is known: no end to be seen
	Least     int         `json:"least"`                    // points that are needed before anything is said
}

// WearRecord looks at the record of the present solvent against the still's target.
func (m Memory) WearRecord(s Still) WearRecord {
	pts := m.Learned.Wear
	target := s.Vacuum.TargetKPa
	out := WearRecord{Points: pts, TargetKPa: number(target, target > 0), Least: wearLeast}
	step := m.Learned.GaugeStep
	if step > 4 {
		step = 0
	}
	in := newInputs(&s)
	w, grows, ok := m.Learned.wearTrend(target, step, in.weatherShows())
	if !ok {
		return out
	}
	out.Grows, out.Points = true, grows
	out.PerRunKPa, out.NowKPa, out.GrownKPa = number(w.perRun, true), number(w.now, true), number(w.grown, true)
	if target > 0 {
		out.RunsLeft, out.LeftLow, out.LeftHigh = number(w.left, true), number(w.low, true), number(w.high, !math.IsInf(w.high, 0))
	}
	return out
}
