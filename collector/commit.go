package collector

import (
	"context"
	"errors"
	"fmt"
	"time"

	"luted/collector/archive"
)

// ErrNotStored says that something was taken in but could not be written to the archive yet. It is kept
// in memory and tried again; a power cut now would lose it.
var ErrNotStored = errors.New("kept in memory, not yet written to the archive")

// commitTimeout ends a commit that hangs, on a dead network drive for example.
const commitTimeout = 30 * time.Second

// maxRetry is the longest pause between tries: also how old the page may get meanwhile.
const maxRetry = 5 * time.Second

// trouble is how writing to the archive fails.
type trouble struct {
	since   time.Time // real time; zero: it does not
	err     error
	tries   int
	next    time.Time // real time of the next try
	dropped int       // scans lost since the start of the program because the bound was reached
}

// flush commits the batch and then tells everybody. On an error the batch stays for the next try, and
// people are shown the present moment marked as not stored: an operator must see a failed vacuum even if
// the disk is full. The caller holds c.mu.
func (c *Collector) flush(ctx context.Context) error {
	if c.batch.empty() {
		return nil
	}
	// A commit under way is finished even when the program is asked to stop.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitTimeout)
	defer cancel()
	c.batch.setAlarms(c.book.Changed())
	start := time.Now()
	var seq int64
	err := c.settleTried(ctx)
	if err == nil {
		c.batch.tried = mark{len(c.batch.scans), len(c.batch.entries)}
		seq, err = c.store.Commit(ctx, c.batch.archived())
	}
	took := time.Since(start)
	if err != nil {
		c.commitFailed(err)
		c.publish(0, false)
		return fmt.Errorf("%w: %w", ErrNotStored, err)
	}
	c.committed(took)
	c.publish(seq, true)
	c.batch = newBatch()
	return nil
}

// settleTried asks the archive whether an earlier try that ended with an error was stored all the same
// (the answer was lost, not the data), and then takes that part out of the batch. Without this question
// the second try would double the events, or be refused for ever because its scans are not new.
func (c *Collector) settleTried(ctx context.Context) error {
	n := c.batch.tried.scans
	if n == 0 {
		return nil
	}
	tried := c.batch.scans[n-1]
	last, err := c.store.LastScan(ctx, tried.Still)
	if err != nil {
		return err
	}
	if !last.Before(tried.At) {
		c.log.Warn("a commit that seemed to fail was stored after all", KeyStill, tried.Still, "scans", n)
		c.batch.forgetTried()
	}
	return nil
}

// commitFailed notes the failure, sets the next try and keeps the batch within its bound.
func (c *Collector) commitFailed(err error) {
	now := time.Now()
	t := &c.trouble
	if t.since.IsZero() {
		t.since = now
		c.log.Error("archive cannot be written; scans and events wait in memory", KeyErr, err)
	}
	t.err = err
	t.tries++
	t.next = now.Add(min(time.Second<<min(t.tries-1, 3), maxRetry))
	c.keepBound()
	c.setHealth()
}

// keepBound drops the oldest scans beyond the bound.
func (c *Collector) keepBound() {
	gone := c.batch.dropOldest(c.options.KeepScans)
	n := len(gone)
	if n == 0 {
		return
	}
	for _, s := range gone {
		c.stills[s.Still].lost++
		c.metrics.lost(s.Still, c.stills[s.Still].lost)
	}
	if c.trouble.dropped == 0 || c.trouble.dropped/10000 != (c.trouble.dropped+n)/10000 {
		c.log.Error("memory bound reached while the archive cannot be written; the oldest scans are lost",
			"bound", c.options.KeepScans, "lost", c.trouble.dropped+n)
	}
	c.trouble.dropped += n
}

func (c *Collector) committed(took time.Duration) {
	if t := c.trouble; !t.since.IsZero() {
		c.log.Info("archive can be written again", "since", t.since, "tries", t.tries, "scans", len(c.batch.scans), "lost", t.dropped)
		c.trouble = trouble{dropped: t.dropped}
	}
	c.setHealth()
	c.metrics.committed(time.Since(c.batch.since), took)
}

// due is the real time at which the batch must be committed; zero if there is nothing to commit.
func (c *Collector) due() time.Time {
	if c.batch.empty() {
		return time.Time{}
	}
	if !c.trouble.since.IsZero() {
		return c.trouble.next
	}
	if len(c.batch.scans) >= c.options.BatchScans {
		return c.batch.since
	}
	return c.batch.since.Add(c.options.Flush)
}

// flushIfDue commits if the time has come.
func (c *Collector) flushIfDue(ctx context.Context) error {
	due := c.due()
	if due.IsZero() || time.Now().Before(due) {
		return nil
	}
	return c.flush(ctx)
}

var _ store = (*archive.Archive)(nil)
