package collector

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// CheckRun is the run of a still that a start check ticked now is for: the present one if it has begun no
// longer than after ago, else the next.
func CheckRun(st analysis.Status, now time.Time, after time.Duration) int {
	if st.Run > 0 && st.RunStart != nil && now.Sub(*st.RunStart) <= after {
		return st.Run
	}
	return st.Runs + 1
}

// Check journals that a person ticked a start check of the still's list, or took a tick back, for the run
// that the person was shown: it must be the one that ticks are for now (CheckRun). It records; nothing is
// locked. Errors as for Do.
func (c *Collector) Check(ctx context.Context, still string, run int, k archive.Check) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	st := c.stills[still]
	if st == nil {
		return fmt.Errorf("there is no still %q; the stills are %v", still, c.order)
	}
	now := c.clock.Now().UTC().Truncate(stampResolution)
	switch due := CheckRun(st.fold.Status(), now, st.cfg.Checks.AfterStart); {
	case k.By == "":
		return errors.New("a check without a name")
	case !slices.Contains(st.cfg.Checks.List, k.Check):
		return fmt.Errorf("%q is not on the list of still %s; it may have been changed, so load the page again", k.Check, still)
	case run != due:
		return fmt.Errorf("checks of still %s are for run %d now, not for run %d; load the page again", still, due, run)
	}
	c.batch.touch(still, time.Now())
	c.journal(now, still, run, archive.CheckEntry, k)
	return c.flush(ctx)
}

// Amend journals a value that a person has put into the record of a run: of any run that has begun, or of
// the next one. a.Old is what the person was shown: if somebody has changed the value meanwhile, the error
// says so. What a person has entered can be corrected or taken back only with a reason. Errors as for Do.
func (c *Collector) Amend(ctx context.Context, still string, run int, a archive.Amend) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	st := c.stills[still]
	switch {
	case st == nil:
		return fmt.Errorf("there is no still %q; the stills are %v", still, c.order)
	case a.Field == "" || a.By == "":
		return errors.New("a value without its field or a name")
	case run < 1 || run > st.fold.Status().Runs+1:
		return fmt.Errorf("still %s has no run %d; its last run is %d", still, run, st.fold.Status().Runs)
	}
	before, entered, err := c.amended(ctx, still, run, a.Field)
	switch {
	case err != nil:
		return err
	case entered && before.New != a.Old:
		return fmt.Errorf("%s of run %d was changed meanwhile: it is %s, entered by %s; load the page again", a.Field, run, quoted(before.New), before.By)
	case a.New == a.Old:
		return fmt.Errorf("%s of run %d is %s already; nothing was changed", a.Field, run, quoted(a.Old))
	case entered && before.New != "" && a.Why == "":
		return fmt.Errorf("%s of run %d is %s, entered by %s: a correction needs its reason", a.Field, run, quoted(before.New), before.By)
	}
	c.batch.touch(still, time.Now())
	c.journal(c.clock.Now().UTC().Truncate(stampResolution), still, run, archive.AmendEntry, a)
	return c.flush(ctx)
}

func quoted(s string) string {
	if s == "" {
		return "empty"
	}
	return fmt.Sprintf("%q", s)
}

// amended is the last entry about a field of a run's record, in the archive or still waiting for it.
func (c *Collector) amended(ctx context.Context, still string, run int, field string) (last archive.Amend, ok bool, err error) {
	entries, err := c.store.Entries(ctx, archive.EntryQuery{Still: still, Run: run, Kind: archive.AmendEntry})
	if err != nil {
		return last, false, err
	}
	for _, e := range append(entries, c.batch.entries...) {
		if e.Kind != archive.AmendEntry || e.Still != still || e.Run != run {
			continue
		}
		a, err := archive.Body[archive.Amend](e)
		if err != nil {
			return last, false, fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
		if a.Field == field {
			last, ok = a, true
		}
	}
	return last, ok, nil
}

// keepLists journals the list of start checks of each still whose list is not the one journaled last, so
// that a record shows the list of its own day.
func (c *Collector) keepLists(ctx context.Context) error {
	for _, name := range c.order {
		list := c.stills[name].cfg.Checks.List
		last, err := c.store.Entries(ctx, archive.EntryQuery{Still: name, Kind: archive.CheckListEntry, Newest: true, Limit: 1})
		if err != nil {
			return fmt.Errorf("reading the start checks of still %s back: %w", name, err)
		}
		var known archive.CheckList
		if len(last) > 0 {
			if err := json.Unmarshal(last[0].Body, &known); err != nil {
				c.log.Warn("start checks in the journal cannot be read; writing them again", KeyStill, name, KeyErr, err)
			}
		}
		if slices.Equal(list, known.Checks) {
			continue
		}
		c.batch.touch(name, time.Now())
		c.journal(c.clock.Now().UTC().Truncate(stampResolution), name, 0, archive.CheckListEntry, archive.CheckList{Checks: append([]string{}, list...)})
	}
	return nil
}
