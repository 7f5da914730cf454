package collector

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// Recover brings every still back to where it was when the archive was last written: its analysis
// starts from the last rest point and takes the archived scans after it. What the analysis says again
// on the way is in the journal already, since events are committed with their scans, so it is dropped,
// and compared: a difference is logged, for it means that the configuration or the program has changed
// since. Alarms whose fault the analysis no longer knows of, or knows of and the book does not, are put
// right, and start checks that the configuration has changed are journaled. Call it once, before Run and Ingest.
func (c *Collector) Recover(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	alarms, err := c.store.Alarms(ctx)
	if err != nil {
		return fmt.Errorf("reading the alarms back: %w", err)
	}
	c.book = alarm.NewBook(alarms)
	for _, name := range c.order {
		if err := c.recoverStill(ctx, c.stills[name]); err != nil {
			return fmt.Errorf("reading still %s back: %w", name, err)
		}
	}
	c.reconcile()
	if err := c.keepLists(ctx); err != nil {
		return err
	}
	shown := standing(c.book.Alarms())
	c.viewMu.Lock()
	for i, name := range c.order {
		c.views[i] = c.stills[name].view(shown[name])
		c.views[i].Stored = true
	}
	c.viewMu.Unlock()
	c.recovered.Store(true)
	return c.flush(ctx)
}

func (c *Collector) recoverStill(ctx context.Context, st *still) error {
	name, start := st.cfg.Name, time.Now()
	if err := c.store.SetLayout(ctx, name, archive.LayoutOf(st.cfg.Channels)); err != nil {
		return err
	}
	rest, err := c.restOf(ctx, name)
	if err != nil {
		return err
	}
	st.fold = c.options.newFold(st.cfg.Equipment, rest.memory)
	st.rest = rest.at
	acts, err := c.actsOf(ctx, name)
	if err != nil {
		return err
	}
	// The rest point has in it what was done before its scan.
	old := slices.IndexFunc(acts, func(a analysis.Act) bool { return !a.After.Before(rest.at) })
	if old < 0 {
		old = len(acts)
	}
	again, scans, err := c.replay(ctx, st, acts[old:])
	if err != nil {
		return err
	}
	if err := c.compare(ctx, name, rest.at, again, acts[:old]); err != nil {
		return err
	}
	if st.stamp.last, err = c.store.LastScan(ctx, name); err != nil {
		return err
	}
	if err := c.showLastRun(ctx, name); err != nil {
		return err
	}
	words := []any{KeyStill, name, "scans", scans, KeyPhase, st.fold.Status().Phase, "took", time.Since(start)}
	if !rest.at.IsZero() { // not on a still that was never seen to rest
		words = append(words, "rest", rest.at)
	}
	if last := st.stamp.last; !last.IsZero() {
		words = append(words, "last", last)
	}
	c.log.Info("recovered", words...)
	return nil
}

// showLastRun gives the metrics the result of the still's last run, so that a restart does not make a
// gap in them. A run has few events, and idle stills none, so the last ones hold it.
func (c *Collector) showLastRun(ctx context.Context, name string) error {
	const enough = 200
	entries, err := c.store.Entries(ctx, archive.EntryQuery{Still: name, Kind: archive.EventEntry, Newest: true, Limit: enough})
	if err != nil {
		return err
	}
	for _, entry := range entries {
		var e analysis.Event
		if json.Unmarshal(entry.Body, &e) == nil && e.Kind == analysis.RunEvent && e.Summary != nil {
			c.metrics.lastRun(name, *e.Summary)
			return nil
		}
	}
	return nil
}

type restPoint struct {
	at     time.Time
	memory analysis.Memory
}

// restOf is the still's last rest point. A memory that cannot be read is no reason not to watch a
// still: everything is read back from the beginning instead.
func (c *Collector) restOf(ctx context.Context, name string) (restPoint, error) {
	rest, ok, err := c.store.Rest(ctx, name)
	if err != nil || !ok {
		return restPoint{}, err
	}
	var m analysis.Memory
	if err := json.Unmarshal(rest.Memory, &m); err != nil {
		c.log.Warn("rest point cannot be read; reading the archive back from its beginning", KeyStill, name, KeyErr, err)
		return restPoint{}, nil
	}
	return restPoint{rest.At, m}, nil
}

// replay feeds the archived scans after the rest point, with the acts of people in their places among them,
// and returns what the analysis says again.
func (c *Collector) replay(ctx context.Context, st *still, acts []analysis.Act) (again []analysis.Event, scans int, err error) {
	after := st.rest
	var columns mapping
	actBefore := func(scan time.Time) {
		for ; len(acts) > 0 && (scan.IsZero() || acts[0].After.Before(scan)); acts = acts[1:] {
			again = append(again, st.fold.Act(acts[0])...)
		}
	}
	err = c.store.ReadScans(ctx, st.cfg.Name, after, time.Time{}, func(l archive.Layout, s analysis.Scan) error {
		scans++
		actBefore(s.At)
		st.scanned(columns.apply(l, st.cfg.Equipment.Channels, s))
		again = append(again, st.fold.Step(st.latest)...)
		c.keepRest(st)
		return nil
	})
	actBefore(time.Time{}) // after the last scan
	return again, scans, err
}

// compare warns if what the analysis says again is not what is in the journal. What acts before the rest
// point caused is not said again, although the clock may put it later.
func (c *Collector) compare(ctx context.Context, name string, after time.Time, again []analysis.Event, old []analysis.Act) error {
	journaled, err := c.store.Entries(ctx, archive.EntryQuery{Still: name, Kind: archive.EventEntry, From: after})
	if err != nil {
		return err
	}
	journaled = slices.DeleteFunc(journaled, func(e archive.Entry) bool {
		return slices.ContainsFunc(old, func(a analysis.Act) bool { return a.At.Equal(e.At) })
	})
	for i := range max(len(journaled), len(again)) {
		var was, now []byte
		if i < len(journaled) {
			was = journaled[i].Body
		}
		if i < len(again) {
			if now, err = EncodeEvent(again[i]); err != nil {
				return err
			}
		}
		if !bytes.Equal(was, now) {
			c.log.Warn("the analysis now says something else about archived scans than it did; the journal stays as it is",
				KeyStill, name, "journaled", string(was), "now", string(now))
			return nil
		}
	}
	return nil
}

// reconcile makes the alarms agree with the faults that stand. After an ordinary restart they do; after
// a change of configuration or version a fault may have gone without ever being cleared, and its alarm
// would stand for ever.
func (c *Collector) reconcile() {
	found := map[alarm.Key]bool{}
	for _, name := range c.order {
		for _, f := range c.stills[name].fold.Status().Faults {
			key := alarm.Key{Still: name, Fault: f.Fault, Channel: f.Channel}
			found[key] = true
			if a, ok := c.book.Get(key); !ok || !a.Active {
				c.correct(analysis.Event{At: c.present(name), Still: name, Run: f.Run, Kind: analysis.FaultEvent,
					Fault: f.Fault, Channel: f.Channel, State: analysis.Raised, Text: f.Text, Likely: f.Likely, TextUS: f.TextUS, TextMetric: f.TextMetric})
			}
		}
	}
	for _, a := range c.book.Alarms() {
		if a.Active && !found[a.Key] {
			c.correct(analysis.Event{At: c.present(a.Still), Still: a.Still, Run: a.Run, Kind: analysis.FaultEvent,
				Fault: a.Fault, Channel: a.Channel, State: analysis.Cleared,
				Text: "no longer found after a restart with another configuration or version"})
		}
	}
}

// correct applies what an event would have done to the alarms. The event itself is not journaled: the
// analysis has not said it.
func (c *Collector) correct(e analysis.Event) {
	c.log.Warn("alarm put right after a restart", KeyStill, e.Still, KeyFault, e.Fault, KeyChannel, e.Channel, "state", e.State)
	c.batch.touch(e.Still, time.Now())
	c.transitions(c.book.Apply(e, alarm.DefaultPriority))
}

// present is the latest time that is known of a still.
func (c *Collector) present(name string) time.Time {
	if st := c.stills[name]; st != nil && !st.stamp.last.IsZero() {
		return st.stamp.last
	}
	return c.clock.Now().UTC().Truncate(stampResolution)
}

// mapping puts the values of an archived scan where the present channels are; a channel that was not
// there then is missing.
type mapping struct {
	of   archive.Layout
	from []int // by present channel; -1: not in the layout
}

func (m *mapping) apply(l archive.Layout, chs []analysis.Channel, s analysis.Scan) analysis.Scan {
	if m.from == nil || !m.of.Equal(l) {
		m.of = l
		m.from = make([]int, len(chs))
		for i, ch := range chs {
			m.from[i] = slices.IndexFunc(l.Columns, func(c archive.Column) bool {
				return c.Name == ch.Name && c.Dimension == ch.Dimension
			})
		}
	}
	out := analysis.Scan{At: s.At, Values: make([]analysis.Value, len(chs))}
	for i, j := range m.from {
		if j >= 0 {
			out.Values[i] = s.Values[j]
		} else {
			out.Values[i].Quality = analysis.Missing
		}
	}
	return out
}
