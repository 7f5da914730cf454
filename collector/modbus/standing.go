package modbus

import (
	"log/slog"
	"time"
)

// Log keys.
const (
	keyLine   = "line"
	keyStill  = "still"
	keyDevice = "device"
	keyErr    = "err"
)

// standing is a trouble that lasts: said when it starts, every hour while it lasts, and once when it
// ends.
type standing struct {
	since time.Time // first noted
	last  time.Time // last noted
	said  time.Time // last logged
	times int
}

const sayAgain = time.Hour

// note logs the trouble if it is new, or was last logged long ago.
func (s *standing) note(now time.Time, log *slog.Logger, what string, args ...any) {
	s.times++
	s.last = now
	switch {
	case s.times == 1:
		s.since, s.said = now, now
		log.Warn(what, args...)
	case now.Sub(s.said) >= sayAgain:
		s.said = now
		log.Warn(what+", still", append(args, "since", s.since.UTC(), "times", s.times)...)
	}
}

// end logs that the trouble is over, if there was any.
func (s *standing) end(now time.Time, log *slog.Logger, what string, args ...any) {
	if s.times == 0 {
		return
	}
	log.Info(what, append(args, "after", now.Sub(s.since).Round(time.Second).String(), "times", s.times)...)
	*s = standing{}
}
