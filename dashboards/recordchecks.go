package dashboards

import (
	"fmt"
	"slices"
	"time"

	"luted/collector/archive"
	"luted/config"
)

// checksOfRun lists the start checks of the day on which the run began, each ticked or not. lists are the
// still's check-list entries in the order of the journal.
func checksOfRun(st *config.Still, rec *Record, ticks []saidCheck, lists []archive.Entry) (RecordChecks, error) {
	out := RecordChecks{List: []RecordCheck{}}
	list, known, err := listOn(lists, rec.Start)
	switch {
	case err != nil:
		return out, err
	case rec.Start == nil:
		list = st.Checks.List
	case !known && len(ticks) == 0:
		out.Note = "No list of start checks was kept when this run began."
		return out, nil
	case !known:
		out.Note = "The list of start checks was not kept when this run began; these were ticked."
	case len(list) == 0 && len(ticks) == 0:
		out.Note = "The list of start checks was empty when this run began."
	}
	for _, k := range ticks { // also what was ticked before the list was changed
		if !slices.Contains(list, k.Check.Check) {
			list = append(slices.Clone(list), k.Check.Check)
		}
	}
	for _, text := range list {
		c := checkState(text, ticks, rec.Start, st.Checks.GoodFor)
		if c.Done {
			out.Ticked++
		}
		out.List = append(out.List, c)
	}
	return out, nil
}

// listOn is the list that was in force at a time; the latest if the time is nil.
func listOn(lists []archive.Entry, at *time.Time) (list []string, known bool, err error) {
	for _, e := range lists {
		if at != nil && e.At.After(*at) {
			break
		}
		l, err := archive.Body[archive.CheckList](e)
		if err != nil {
			return nil, false, fmt.Errorf("journal entry %d: %w", e.Seq, err)
		}
		list, known = l.Checks, true
	}
	return list, known, nil
}

// checkState is how a check stands after all its ticks. A tick made too long before the start does not count:
// it was about another state of the still. goodFor 0: it always counts.
func checkState(text string, ticks []saidCheck, start *time.Time, goodFor time.Duration) RecordCheck {
	c := RecordCheck{Check: text}
	for _, k := range ticks {
		if k.Check.Check == text {
			c.Done, c.By, c.At, c.Note = k.Done, k.By, moment(k.at), ""
			if !k.Done {
				c.Note = "tick taken back"
			}
		}
	}
	if c.Done && start != nil && goodFor > 0 && start.Sub(*c.At) > goodFor {
		c.Done = false
		c.Note = fmt.Sprintf("ticked %s before the start; ticks count for %s", config.FormatDuration(start.Sub(*c.At).Round(time.Minute)), config.FormatDuration(goodFor))
	}
	return c
}
