package dashboards

import (
	"context"
	"time"

	"luted/collector/archive"
)

// lastTick remembers when the latest start check for a run to come was ticked, of those whose ticks stand; a
// zero time: none is.
type lastTick struct {
	run int
	at  time.Time
}

// checksOpen reports whether a still is idle and nobody has begun with its start checks. The journal is asked
// only when there is another run to come or somebody has ticked something. s.live.mu is held.
func (s *server) checksOpen(ctx context.Context, v StillView) (bool, error) {
	c, name, next := v.Config.Checks, v.Config.Name, v.Status.Runs+1
	if v.Status.Run != 0 || len(c.List) == 0 {
		return false, nil
	}
	tick, known := s.live.ticks[name]
	if !known || tick.run != next {
		entries, err := s.Archive.Entries(ctx, archive.EntryQuery{Still: name, Run: next, Kind: archive.CheckEntry})
		if err != nil {
			return false, err
		}
		j, err := readRun(entries)
		if err != nil {
			return false, err
		}
		tick = lastTick{run: next}
		for _, text := range c.List {
			if k := checkState(text, j.checks, nil, 0); k.Done && k.At.After(tick.at) {
				tick.at = *k.At
			}
		}
		s.live.ticks[name] = tick
	}
	return tick.at.IsZero() || c.GoodFor > 0 && s.Now().Sub(tick.at) > c.GoodFor, nil
}
