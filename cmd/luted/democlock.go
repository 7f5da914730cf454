package main

import (
	"context"
	"sync"
	"time"

	"luted/collector"
)

// demoClock stands at the point that the history has been built up to, and is paced from the moment
// live watching begins.
type demoClock struct {
	mu      sync.Mutex
	at      time.Time
	paced   *collector.Paced
	started chan struct{}
}

func newDemoClock(at time.Time) *demoClock { return &demoClock{at: at, started: make(chan struct{})} }

// Now implements collector.Clock.
func (c *demoClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.paced != nil {
		return c.paced.Now()
	}
	return c.at
}

// SleepUntil implements collector.Clock; before live watching has begun it waits for that first.
func (c *demoClock) SleepUntil(ctx context.Context, t time.Time) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-c.started:
	}
	return c.paced.SleepUntil(ctx, t)
}

// move sets the point that the history has come to.
func (c *demoClock) move(to time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = to
}

// start begins live watching at a simulated time.
func (c *demoClock) start(at time.Time, speed float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.paced = collector.NewPaced(at, speed)
	close(c.started)
}

// shown is the time that the page takes for now. While the clock runs fast, what is a moment old has a
// time that lies minutes back, though nothing is wrong; then the newest scan is now.
func (c *demoClock) shown(p *collector.Collector) time.Time {
	now := c.Now()
	if c.caughtUp() {
		return now
	}
	var newest time.Time
	for _, v := range p.Stills() {
		if v.Scan.At.After(newest) {
			newest = v.Scan.At
		}
	}
	if newest.IsZero() {
		return now
	}
	return newest
}

func (c *demoClock) caughtUp() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.paced != nil && c.paced.CaughtUp()
}

// behind is the real time until the wall clock is caught up with.
func (c *demoClock) behind() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.paced == nil || c.paced.CaughtUp() {
		return 0
	}
	return c.paced.CatchUp()
}
