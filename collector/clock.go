package collector

import (
	"context"
	"math"
	"time"

	"luted/collector/modbus"
)

// Clock is the time the pollers, the alarms and the page live by.
type Clock = modbus.Clock

// Paced is a clock for simulated stills: it starts at a moment in the past and runs faster than real
// time until it has caught up with the wall clock. From then on it is the wall clock. It is never ahead
// of the wall clock, so nothing stamped by it lies in the future.
type Paced struct {
	start time.Time // simulated time at wall
	wall  time.Time // carries the monotonic reading
	speed float64
}

// NewPaced starts a clock at the simulated time start, speed times as fast as real time. A speed of 1
// or less never catches up: the clock stays behind by what it started with. A start in the future is now.
func NewPaced(start time.Time, speed float64) *Paced {
	wall := time.Now()
	if start.After(wall) {
		start = wall
	}
	return &Paced{start: start.Round(0), wall: wall, speed: max(speed, 0)}
}

// Now is the simulated time.
func (p *Paced) Now() time.Time {
	now := time.Now()
	sim := p.start.Add(time.Duration(float64(now.Sub(p.wall)) * p.speed))
	if sim.After(now) {
		return now
	}
	return sim
}

// CaughtUp reports whether the clock is the wall clock by now.
func (p *Paced) CaughtUp() bool {
	now := time.Now()
	return !p.start.Add(time.Duration(float64(now.Sub(p.wall)) * p.speed)).Before(now)
}

// CatchUp is the real time that the clock needs from its start until it is the wall clock; negative:
// never.
func (p *Paced) CatchUp() time.Duration {
	behind := p.wall.Sub(p.start)
	if behind <= 0 {
		return 0
	}
	if p.speed <= 1 {
		return -1
	}
	return time.Duration(float64(behind) / (p.speed - 1))
}

// SleepUntil waits until the simulated time is t. Waiting for what is left divided by the speed, and
// looking again, converges: the clock is never faster than that, so no step is too long. Steps are at
// most a minute, so that a wall clock that was set is noticed.
func (p *Paced) SleepUntil(ctx context.Context, t time.Time) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		left := t.Sub(p.Now())
		if left <= 0 {
			return nil
		}
		step := time.Duration(math.Ceil(float64(left) / max(p.speed, 1)))
		if err := pause(ctx, min(step, time.Minute)); err != nil {
			return err
		}
	}
}

// pause waits for d of real time, or for the end of ctx.
func pause(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
