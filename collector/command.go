package collector

import (
	"context"
	"fmt"
	"time"

	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// Ingest takes one sweep through the same path as a poller's: the history of a demo, an import. Commits
// come when they are due; call Flush at the end. The sweep must be later than all before of its still.
// An error that is ErrNotStored means that the sweep was taken and waits in memory. The values are kept.
// Safe for concurrent use.
func (c *Collector) Ingest(ctx context.Context, s modbus.Sweep) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if st := c.stills[s.Still]; st != nil && !s.At.Truncate(stampResolution).After(st.stamp.last) {
		return fmt.Errorf("a scan of still %s at %s, which is not later than its last one in the archive, at %s",
			s.Still, s.At.UTC().Format(stampLayout), st.stamp.last.Format(stampLayout))
	}
	if err := c.take(s, time.Now()); err != nil {
		return err
	}
	return c.flushIfDue(ctx)
}

const stampLayout = "2006-01-02T15:04:05.999Z07:00"

// Flush commits what waits in memory.
func (c *Collector) Flush(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.flush(ctx)
}

// Do carries out what a person does about an alarm, and journals it: nil means done and stored. A zero
// cmd.At is now. An error that is ErrNotStored means done, but not stored yet; any other error says why
// it cannot be done, and nothing has changed. Safe for concurrent use.
func (c *Collector) Do(ctx context.Context, cmd alarm.Command) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.stills[cmd.Still] == nil {
		return fmt.Errorf("there is no still %q; the stills are %v", cmd.Still, c.order)
	}
	if cmd.At.IsZero() {
		cmd.At = c.clock.Now().UTC().Truncate(stampResolution)
	}
	ts, err := c.book.Do(cmd)
	if err != nil {
		return err
	}
	c.transitions(ts)
	return c.flush(ctx)
}

// Note journals what a person writes about a still, or about one of its runs if run is not 0. Errors as
// for Do.
func (c *Collector) Note(ctx context.Context, still string, run int, n archive.Note) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	st := c.stills[still]
	switch {
	case st == nil:
		return fmt.Errorf("there is no still %q; the stills are %v", still, c.order)
	case n.Text == "":
		return fmt.Errorf("a note without text")
	case run < 0 || run > st.fold.Status().Runs:
		return fmt.Errorf("still %s has no run %d; its last run is %d", still, run, st.fold.Status().Runs)
	}
	now := c.clock.Now().UTC().Truncate(stampResolution)
	c.batch.touch(still, time.Now())
	c.journal(now, still, run, archive.NoteEntry, n)
	return c.flush(ctx)
}
