package modbus

import (
	"context"
	"time"
)

// Clock is the time that a poller keeps its beat by.
type Clock interface {
	Now() time.Time
	// SleepUntil returns nil at t, at once if t has passed, or the error of ctx if that ends before.
	SleepUntil(ctx context.Context, t time.Time) error
}

// SystemClock is the machine's clock. Its times carry the monotonic reading, so beats do not move when
// somebody sets the clock.
type SystemClock struct{}

// Now is time.Now.
func (SystemClock) Now() time.Time { return time.Now() }

// SleepUntil waits for t.
func (SystemClock) SleepUntil(ctx context.Context, t time.Time) error {
	return sleep(ctx, time.Until(t))
}

// sleep waits for d, or for the end of ctx.
func sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil || d <= 0 {
		return err
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
