package main

import (
	"context"
	"fmt"
	"time"

	"luted/collector"
	"luted/collector/archive"
)

// demoPeople is how far back the invented people have kept their records, so that the pages have something to
// show and the history stays quick to build.
const demoPeople = 4 * 24 * time.Hour

const dayShift = "day shift (simulated)"

// keepRecords has the invented people enter what they know of the runs that have ended, and go through the
// start checks of the next one, at the end of a day of the history. One check is left out now and then, and
// one value is corrected, as it happens.
func keepRecords(ctx context.Context, a *archive.Archive, p *collector.Collector) error {
	for _, v := range p.Stills() {
		st, ended := v.Still, v.Status.Runs
		if v.Status.Run > 0 {
			ended--
		}
		for run := max(1, ended-1); run <= ended; run++ {
			if err := enterRun(ctx, a, p, st.Name, run); err != nil {
				return err
			}
		}
		ticked, err := a.Entries(ctx, archive.EntryQuery{Still: st.Name, Run: ended + 1, Kind: archive.CheckEntry, Limit: 1})
		if err != nil {
			return err
		}
		if v.Status.Run > 0 || len(ticked) > 0 {
			continue
		}
		for i, check := range st.Checks.List {
			if (ended+i)%11 == 0 {
				continue
			}
			if err := p.Check(ctx, st.Name, ended+1, archive.Check{Check: check, Done: true, By: dayShift}); err != nil {
				return err
			}
		}
	}
	return nil
}

// enterRun enters what the record of a run leaves to people, once.
func enterRun(ctx context.Context, a *archive.Archive, p *collector.Collector, still string, run int) error {
	known, err := a.Entries(ctx, archive.EntryQuery{Still: still, Run: run, Kind: archive.AmendEntry, Limit: 1})
	if err != nil || len(known) > 0 {
		return err
	}
	residue := 5 + float64((run*7)%13)/10
	kg := func(v float64) archive.Amend {
		return archive.Amend{Field: "residue", New: fmt.Sprintf("%.1f kg", v), Number: &v, Unit: "kg", By: dayShift}
	}
	said := []archive.Amend{
		{Field: "lot", New: fmt.Sprintf("D-%d", 2200+run), By: dayShift},
		{Field: "liner", New: "nylon, 0.1 mm", By: dayShift},
		{Field: "operator", New: "R. Okafor (invented)", By: dayShift},
		kg(residue),
	}
	if run%5 == 0 {
		right := kg(residue - 1.5)
		right.Old, right.Why = fmt.Sprintf("%.1f kg", residue), "weighed with the drum's lid"
		said = append(said, right)
	}
	for _, s := range said {
		if err := p.Amend(ctx, still, run, s); err != nil {
			return err
		}
	}
	return nil
}
