package collector

import (
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/config"
)

// StillView is the present moment of one still. It is a copy: it does not change, and what it points to
// must not be changed.
type StillView struct {
	Still  *config.Still
	Scan   analysis.Scan   // the latest; the zero time: none yet
	Good   []time.Time     // when each channel last had a good value; the zero time: not since the last rest point
	Status analysis.Status // as of Scan
	Memory analysis.Memory // what has been learned and counted, as of Scan
	Alarms []alarm.Alarm   // every alarm of the still that is not normal, in the order of the book
	Device Device
	Lead   time.Duration // of the scan's time on the clock, after the clock was set back; normally zero
	Raw    []modbus.Raw  // what the device sent last, parallel to the channels; nil: not known
	Stored bool          // false: the archive could not be written, this exists in memory only
}

// Update is what subscribers get after each commit. Nothing in it may be changed.
type Update struct {
	Stills      []StillView        // those that changed
	Scans       []archive.Scan     // all that were stored
	Events      []analysis.Event   // in the order in which they were journaled
	Transitions []alarm.Transition // likewise
	Seq         int64              // of the last journal entry stored; 0: nothing was stored
	Stored      bool               // false: see StillView.Stored; the same scans and events come again when they are stored
}

// subscriberBuffer is how many updates a reader may fall behind before it is dropped: at two commits a
// second, about half a minute.
const subscriberBuffer = 64

// Stills returns the present moment of every still, in the order of the configuration. Safe for
// concurrent use.
func (c *Collector) Stills() []StillView {
	c.viewMu.RLock()
	defer c.viewMu.RUnlock()
	return slices.Clone(c.views)
}

// Subscribe returns a channel of updates and a function that ends the subscription; it may be called
// twice. A reader that falls behind is dropped, not waited for: its channel is closed. Safe for
// concurrent use.
func (c *Collector) Subscribe() (<-chan Update, func()) {
	ch := make(chan Update, subscriberBuffer)
	c.viewMu.Lock()
	defer c.viewMu.Unlock()
	if c.ended {
		close(ch)
		return ch, func() {}
	}
	c.subscribers[ch] = true
	return ch, func() {
		c.viewMu.Lock()
		defer c.viewMu.Unlock()
		c.unsubscribe(ch)
	}
}

// unsubscribe ends a subscription once. The caller holds c.viewMu.
func (c *Collector) unsubscribe(ch chan Update) {
	if c.subscribers[ch] {
		delete(c.subscribers, ch)
		close(ch)
	}
}

// publish shows the stills that the batch touched; seq is the last journal entry stored. The caller holds c.mu.
func (c *Collector) publish(seq int64, stored bool) {
	u := Update{Seq: seq, Stored: stored}
	book := c.book.Alarms()
	alarms := standing(book)
	for i, name := range c.order {
		if !c.batch.touched[name] {
			continue
		}
		v := c.stills[name].view(alarms[name])
		v.Stored = stored
		u.Stills = append(u.Stills, v)
		c.viewMu.Lock()
		c.views[i] = v
		c.viewMu.Unlock()
	}
	if stored {
		u.Scans, u.Events, u.Transitions = c.batch.scans, c.batch.events, c.batch.transitions
	}
	c.metrics.scans(c.batch.scans[c.batch.told:], c.stills)
	c.batch.told = len(c.batch.scans)
	c.metrics.published(u, book)
	c.viewMu.Lock()
	defer c.viewMu.Unlock()
	for ch := range c.subscribers {
		select {
		case ch <- u:
		default:
			c.unsubscribe(ch)
		}
	}
}

// standing returns the alarms that are not normal, by still.
func standing(book []alarm.Alarm) map[string][]alarm.Alarm {
	by := map[string][]alarm.Alarm{}
	for _, a := range book {
		if a.State != alarm.Normal {
			by[a.Still] = append(by[a.Still], a)
		}
	}
	return by
}

// view is the still now. The status is copied as far as the analysis might change it.
func (s *still) view(alarms []alarm.Alarm) StillView {
	v := StillView{Still: s.cfg, Scan: s.latest, Good: slices.Clone(s.good), Status: s.fold.Status(), Memory: s.fold.Now(), Alarms: alarms, Device: s.device, Lead: s.lead, Raw: s.raw}
	v.Status.Phases = slices.Clone(v.Status.Phases)
	v.Status.Faults = slices.Clone(v.Status.Faults)
	return v
}

// endSubscriptions closes every channel: nothing more will come.
func (c *Collector) endSubscriptions() {
	c.viewMu.Lock()
	defer c.viewMu.Unlock()
	c.ended = true
	for ch := range c.subscribers {
		c.unsubscribe(ch)
	}
}
