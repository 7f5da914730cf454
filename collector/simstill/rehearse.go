package simstill

import (
	"fmt"
	"time"
)

// Rehearsal is how a batch would go on a healthy still that starts cold. Times are from the start of the
// run; a time of zero was not reached.
type Rehearsal struct {
	Set   time.Duration // oil at its set point
	Boil  time.Duration
	Dry   time.Duration // 99.5 % of the recoverable solvent over
	Quiet time.Duration // the operator would see that nothing more comes over
	KPa   float64       // lowest pressure in the first quarter of an hour, absolute
}

// Rehearse runs a batch on a still of these options, out of sight, so that a plan can be made with holding
// times that suit the equipment. It costs some hundredths of a second.
func Rehearse(o Options, b Batch, start time.Time) (Rehearsal, error) {
	b.Habit = Habit{Hold: longestRun}
	o.Sensors = Sensors{Set: TwoChannel}
	s, err := New(o, start)
	if err != nil {
		return Rehearsal{}, err
	}
	if err := s.Start(b); err != nil {
		return Rehearsal{}, err
	}
	r := Rehearsal{KPa: s.gas.kPa}
	for t := 10 * time.Second; t < longestRun; t += 10 * time.Second {
		s.Advance(start.Add(t))
		if t <= 15*time.Minute {
			r.KPa = min(r.KPa, s.gas.kPa)
		}
		if r.Set == 0 && s.control.reachedAt > 0 {
			r.Set = t
		}
		if r.Boil == 0 && s.truth.boilAt != never {
			r.Boil = time.Duration(s.truth.boilAt-s.truth.startAt) * time.Second
		}
		if r.Quiet == 0 && s.control.quietFor >= quietS {
			r.Quiet = t
		}
		if r.Dry == 0 && s.truth.dryAt != never {
			r.Dry = t
		}
		if r.Dry > 0 && r.Quiet > 0 && r.Set > 0 {
			return r, nil
		}
	}
	return r, fmt.Errorf("%s: the batch is not dry after %v", o.Name, longestRun)
}
