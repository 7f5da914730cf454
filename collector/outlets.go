package collector

import (
	"context"
	"time"
)

// outletPause is how long an outlet rests that has ended with an error.
const outletPause = 10 * time.Second

// runOutlet keeps an outlet running until ctx ends.
func (c *Collector) runOutlet(ctx context.Context, o Outlet) {
	for {
		err := o.Run(ctx)
		if ctx.Err() != nil {
			return
		}
		c.log.Error("outlet ended; it is started again", KeyOutlet, o.Name(), "pause", outletPause, KeyErr, err)
		if pause(ctx, outletPause) != nil {
			return
		}
	}
}

// graceForOutlets lets the outlets deliver what the last commit stored, for as long as that takes but
// no longer than the grace.
func (c *Collector) graceForOutlets() {
	const look = 50 * time.Millisecond
	ctx, cancel := context.WithTimeout(context.Background(), c.options.Grace)
	defer cancel()
	for !c.delivered(ctx) {
		if pause(ctx, look) != nil {
			return
		}
	}
}

// delivered reports whether every outlet has read to the end of the archive. An outlet whose cursor
// names no still carries only the journal.
func (c *Collector) delivered(ctx context.Context) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	last, err := c.store.LastSeq(ctx)
	if err != nil {
		return ctx.Err() == nil // an archive that cannot be read will not be delivered by waiting
	}
	for _, o := range c.options.Outlets {
		cursor, err := c.store.Cursor(ctx, o.Name())
		if err != nil || cursor.Seq < last {
			return false
		}
		for still, at := range cursor.Scans {
			if st := c.stills[still]; st != nil && at.Before(st.latest.At) {
				return false
			}
		}
	}
	return true
}
