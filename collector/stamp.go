package collector

import "time"

// stamper gives the scans of one still strictly increasing times of millisecond resolution.
//
// The policy: the wall clock is believed while it moves on. When it is set back (a wrong date that was
// corrected, a battery that died), the still's time does not go back with it, and no scan is thrown
// away: stamps run on from the last one at 95 % of the pace of the wall clock until it has caught up.
// So monitoring never pauses, durations are wrong by at most 5 % meanwhile, an hour is made up for in
// twenty, and the lead shows in a metric. A clock set forward is believed at once: the still then has a
// gap, as after an outage.
type stamper struct {
	every time.Duration // expected beat, for the one scan whose distance the step has hidden
	raw   time.Time     // what the clock said last
	last  time.Time     // last stamp given
}

const (
	stampResolution = time.Millisecond
	stampPace       = 0.95
)

// stamp returns the time of a scan read at the given clock time, and how far that is ahead of it: zero
// unless the clock was set back.
func (s *stamper) stamp(clock time.Time) (at time.Time, lead time.Duration) {
	clock = clock.UTC().Truncate(stampResolution)
	passed := clock.Sub(s.raw)
	if s.raw.IsZero() || passed <= 0 {
		passed = s.every
	}
	s.raw = clock
	if clock.After(s.last) {
		s.last = clock
		return clock, 0
	}
	step := time.Duration(float64(passed) * stampPace).Truncate(stampResolution)
	s.last = s.last.Add(max(step, stampResolution))
	return s.last, s.last.Sub(clock)
}
