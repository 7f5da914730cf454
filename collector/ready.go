package collector

import (
	"fmt"
	"time"
)

// health is what Ready reports of the archive.
type health struct {
	failing time.Time // since; zero: it does not
	err     error
	waiting int // scans in memory
	dropped int
}

// setHealth shows the state of the archive to Ready. The caller holds c.mu.
func (c *Collector) setHealth() {
	t := c.trouble
	h := health{failing: t.since, err: t.err, dropped: t.dropped}
	if !t.since.IsZero() {
		h.waiting = len(c.batch.scans)
	}
	c.viewMu.Lock()
	c.health = h
	c.viewMu.Unlock()
	c.metrics.writable(h.failing.IsZero(), h.waiting)
}

// Ready reports whether scans are read, analysed and stored, and if not, or not fully, why: one sentence
// each. Safe for concurrent use.
func (c *Collector) Ready() (ok bool, reasons []string) {
	ok = true
	if !c.recovered.Load() {
		return false, []string{"starting: the archive is being read back"}
	}
	c.viewMu.RLock()
	defer c.viewMu.RUnlock()
	if h := c.health; !h.failing.IsZero() {
		ok = false
		reasons = append(reasons, fmt.Sprintf("the archive cannot be written since %s; %d scans wait in memory: %v",
			h.failing.UTC().Format(time.RFC3339), h.waiting, h.err))
	}
	if c.health.dropped > 0 {
		reasons = append(reasons, fmt.Sprintf("%d scans were lost because the archive could not be written", c.health.dropped))
	}
	for _, v := range c.views {
		switch {
		case v.Scan.At.IsZero() && v.Still.Line != nil:
			ok = false
			reasons = append(reasons, fmt.Sprintf("still %s: no sweep yet", v.Still.Name))
		case v.Lead > time.Minute:
			reasons = append(reasons, fmt.Sprintf("still %s: the clock was set back; scans are stamped %s ahead of it until it has caught up",
				v.Still.Name, v.Lead.Round(time.Second)))
		}
	}
	return ok, reasons
}

// Beat is the real time at which the analysing goroutine last went round: at least once a second while
// Run is at work, unless the disk hangs. The zero time: not running.
func (c *Collector) Beat() time.Time {
	ns := c.beat.Load()
	if ns == 0 {
		return time.Time{}
	}
	return time.Unix(0, ns)
}
