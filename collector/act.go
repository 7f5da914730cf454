package collector

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// Acts of people change what the analysis remembers, between two scans. Each is journaled with its place
// among the scans, in one transaction with the events it causes, and done again at the same place when the
// scans are read back: so recovery stays exact.

// Done says that somebody has done an upkeep of a still: its counter begins anew, and its alarm goes. Errors
// as for Do. Safe for concurrent use.
func (c *Collector) Done(ctx context.Context, still, upkeep, by string) error {
	return c.act(ctx, still, analysis.Act{Kind: analysis.ActDone, Upkeep: upkeep, By: by})
}

// ResetLearned forgets what was learned about a still with its present solvent, for a still that has been
// rebuilt; why is kept in the journal and may be empty. Upkeep counters and what is known of the gauge
// stay. Errors as for Do. Safe for concurrent use.
func (c *Collector) ResetLearned(ctx context.Context, still, by, why string) error {
	return c.act(ctx, still, analysis.Act{Kind: analysis.ActReset, By: by, Why: why})
}

// act does what a person did, journals it, and stores it at once.
func (c *Collector) act(ctx context.Context, name string, a analysis.Act) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	st := c.stills[name]
	if st == nil {
		return fmt.Errorf("there is no still %q; the stills are %v", name, c.order)
	}
	if a.By = strings.TrimSpace(a.By); a.By == "" {
		return errors.New("nobody is named: say who did it")
	}
	if a.Kind == analysis.ActDone && !slices.ContainsFunc(st.cfg.Equipment.Upkeep, func(u analysis.Upkeep) bool { return u.Name == a.Upkeep }) {
		return fmt.Errorf("still %s has no upkeep %q; %s", name, a.Upkeep, upkeepNames(st.cfg.Equipment))
	}
	a.After = st.stamp.last
	if a.At = c.clock.Now().UTC().Truncate(stampResolution); !a.At.After(a.After) {
		a.At = a.After.Add(stampResolution)
	}
	c.batch.touch(name, time.Now())
	c.journal(a.At, name, st.fold.Status().Run, archive.ActEntry, a)
	told := len(c.batch.events)
	for _, e := range st.fold.Act(a) {
		c.event(e)
	}
	for _, e := range c.batch.events[told:] {
		c.tell(e)
	}
	return c.flush(ctx)
}

func upkeepNames(s analysis.Still) string {
	if len(s.Upkeep) == 0 {
		return "its configuration has none: write for instance upkeep: {thermal oil: {hours: 1000 h}}"
	}
	var names []string
	for _, u := range s.Upkeep {
		names = append(names, u.Name)
	}
	return "write one of " + strings.Join(names, ", ")
}

// actsOf are the acts of people that the journal has of a still, in their order.
func (c *Collector) actsOf(ctx context.Context, name string) ([]analysis.Act, error) {
	entries, err := c.store.Entries(ctx, archive.EntryQuery{Still: name, Kind: archive.ActEntry})
	if err != nil {
		return nil, err
	}
	var out []analysis.Act
	for _, e := range entries {
		var a analysis.Act
		if err := json.Unmarshal(e.Body, &a); err != nil {
			c.log.Error("an act in the journal cannot be read and is not done again", KeyStill, name, "seq", e.Seq, KeyErr, err)
			continue
		}
		out = append(out, a)
	}
	return out, nil
}
