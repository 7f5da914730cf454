package collector

import (
	"context"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sync/errgroup"

	"luted/collector/modbus"
	"luted/config"
)

// tick is how often the analysing goroutine looks for shelves that run out, and shows that it is alive.
const tick = time.Second

// sweepBuffer is how many sweeps may wait while a commit is under way, beside two for each still: a line
// must not miss a beat because of a slow disk, also when a simulation is paced.
const sweepBuffer = 256

// Run polls, analyses, stores and serves the outlets until ctx ends, and returns when all it started has
// ended: first the pollers, then, with the last batch committed, the outlets, which get Options.Grace to
// deliver it. The error is nil if ctx ended it and everything was stored. A panic anywhere ends the
// program: recovery is exact, a half-broken pipeline is not.
func (c *Collector) Run(ctx context.Context) error {
	pollers, err := c.makePollers()
	if err != nil {
		return err
	}
	defer c.endSubscriptions()
	defer c.beat.Store(0)

	outletCtx, stopOutlets := context.WithCancel(context.WithoutCancel(ctx))
	defer stopOutlets()
	var outlets errgroup.Group
	for _, o := range c.options.Outlets {
		outlets.Go(func() error { c.runOutlet(outletCtx, o); return nil })
	}

	g, ctx := errgroup.WithContext(ctx)
	sweeps := make(chan arrival, sweepBuffer+2*len(c.order))
	g.Go(func() error { // ends when the pollers have; closes sweeps
		defer close(sweeps)
		return c.poll(ctx, pollers, func(s modbus.Sweep) {
			s.At = began(s, c.clock.Now())
			sweeps <- arrival{s, time.Now()}
		})
	})
	g.Go(func() error { return c.analyse(sweeps) }) // ends when sweeps is closed
	g.Go(func() error { return c.maintain(ctx) })   // ends with ctx
	err = g.Wait()

	c.graceForOutlets()
	stopOutlets()
	return errors.Join(err, outlets.Wait())
}

// poll runs the pollers until ctx ends. A poller that ends earlier ends them all: a line that nobody
// reads must not go unnoticed.
func (c *Collector) poll(ctx context.Context, pollers []poller, out func(modbus.Sweep)) error {
	g, ctx := errgroup.WithContext(ctx)
	for _, p := range pollers {
		g.Go(func() error {
			err := p.Run(ctx, out)
			if ctx.Err() != nil {
				return nil
			}
			return fmt.Errorf("a line's poller ended: %w", err)
		})
	}
	if len(pollers) == 0 {
		<-ctx.Done()
	}
	return g.Wait()
}

// analyse takes sweeps until there are no more, and commits the last of them.
func (c *Collector) analyse(sweeps <-chan arrival) error {
	ctx := context.Background() // a commit is never broken off; each is bounded by commitTimeout
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	due := time.NewTimer(time.Hour)
	defer due.Stop()
	for {
		c.beat.Store(time.Now().UnixNano())
		select {
		case s, more := <-sweeps:
			if !more {
				return c.last(ctx)
			}
			c.sweep(ctx, s)
		case <-due.C:
			c.flushTimely(ctx)
		case <-ticker.C:
			c.tick(ctx)
		}
		c.schedule(due)
	}
}

// last commits what is left when everything ends.
func (c *Collector) last(ctx context.Context) error {
	if err := c.Flush(ctx); err != nil {
		return fmt.Errorf("%d scans are lost at the end: %w", len(c.batch.scans), err)
	}
	return nil
}

// began is when the clock said that a sweep began that has just ended. Pollers keep their times rising
// too, a millisecond a sweep, when the clock is set back; the stamper needs to know what the clock said.
// A time later than the sweep's end gives it away.
func began(s modbus.Sweep, now time.Time) time.Time {
	if s.At.After(now.Add(stampResolution)) {
		return now.Add(-s.Took)
	}
	return s.At
}

// arrival is a sweep with the real time at which it was read: the second in which it must be stored
// begins there, not when a commit under way lets it in.
type arrival struct {
	modbus.Sweep
	read time.Time
}

// sweep takes one sweep of a poller.
func (c *Collector) sweep(ctx context.Context, s arrival) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.metrics.swept(c.stills[s.Still], s.Sweep)
	told := len(c.batch.events)
	if err := c.take(s.Sweep, s.read); err != nil {
		c.log.Error("sweep refused", KeyStill, s.Still, KeyErr, err)
		return
	}
	for _, e := range c.batch.events[told:] {
		c.tell(e)
	}
	_ = c.flushIfDue(ctx) // logged where it begins and ends; shown by Ready and metrics
}

func (c *Collector) flushTimely(ctx context.Context) {
	c.mu.Lock()
	defer c.mu.Unlock()
	_ = c.flushIfDue(ctx)
}

// tick ends shelves that have run out.
func (c *Collector) tick(ctx context.Context) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.transitions(c.book.Tick(c.clock.Now().UTC().Truncate(stampResolution)))
	_ = c.flushIfDue(ctx)
}

// schedule sets the timer to when the batch is due.
func (c *Collector) schedule(timer *time.Timer) {
	c.mu.Lock()
	due := c.due()
	c.mu.Unlock()
	if due.IsZero() {
		timer.Reset(time.Hour)
		return
	}
	timer.Reset(time.Until(due))
}

// maintain has the archive seal, sum up and forget, now and then. A failure is logged when it begins.
func (c *Collector) maintain(ctx context.Context) error {
	ticker := time.NewTicker(c.options.Maintain)
	defer ticker.Stop()
	failing := false
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
		err := c.store.Maintain(ctx)
		if stats, serr := c.store.Stats(ctx); serr == nil {
			c.metrics.size(stats.FileBytes + stats.WALBytes)
		}
		switch {
		case err != nil && ctx.Err() == nil && !failing:
			c.log.Error("archive maintenance fails", KeyErr, err)
			failing = true
		case err == nil && failing:
			c.log.Info("archive maintenance works again")
			failing = false
		}
	}
}

func (c *Collector) makePollers() ([]poller, error) {
	if c.options.pollers != nil {
		return c.options.pollers, nil
	}
	var pollers []poller
	for _, line := range c.cfg.Lines {
		stills := stillsOf(c.cfg, line)
		if len(stills) == 0 {
			c.log.Warn("line without a still is not polled", KeyLine, line.Name)
			continue
		}
		p, err := modbus.NewPoller(line, stills, modbus.PollerOptions{Clock: c.clock, Log: c.log})
		if err != nil {
			return nil, fmt.Errorf("line %s: %w", line.Name, err)
		}
		pollers = append(pollers, p)
	}
	return pollers, nil
}

func stillsOf(cfg *config.Config, line *config.Line) []*config.Still {
	var out []*config.Still
	for _, st := range cfg.Stills {
		if st.Line == line {
			out = append(out, st)
		}
	}
	return out
}
