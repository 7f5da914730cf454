package collector

import (
	"context"
	"time"
)

// Clock is the time the pollers live in. SleepUntil returns nil when Now has reached t, or the error
// of ctx.
type Clock interface {
	Now() time.Time
	SleepUntil(ctx context.Context, t time.Time) error
}

// System is the computer's own clock.
type System struct{}

// Now is time.Now.
func (System) Now() time.Time { return time.Now() }

// SleepUntil waits for t on the wall clock: when the clock is set while it waits, it waits on.
func (s System) SleepUntil(ctx context.Context, t time.Time) error { return sleepUntil(ctx, s.Now, t, 1) }

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

// SleepUntil waits until the simulated time is t.
func (p *Paced) SleepUntil(ctx context.Context, t time.Time) error {
	return sleepUntil(ctx, p.Now, t, max(p.speed, 1))
}

// sleepUntil waits until now() has reached t. Waiting (t − now)/speed and looking again converges: the
// clock is never faster than speed, so a step is never too long, and what is left shrinks by that
// factor. Steps are at most a minute of real time, so that a wall clock that was set is noticed.
func sleepUntil(ctx context.Context, now func() time.Time, t time.Time, speed float64) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		left := t.Sub(now())
		if left <= 0 {
			return nil
		}
		step := min(time.Duration(float64(left)/speed)+1, time.Minute)
		timer := time.NewTimer(step)
		select {
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		case <-timer.C:
		}
	}
}
