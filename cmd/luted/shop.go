package main

import (
	"context"
	"errors"
	"strings"
	"sync"

	"luted/analysis/alarm"
	"luted/collector"
	"luted/collector/archive"
	"luted/dashboards"
)

// shop shows the pipeline to the page.
type shop struct{ c *collector.Collector }

// Stills implements dashboards.Shop.
func (s shop) Stills() []dashboards.StillView {
	views := s.c.Stills()
	out := make([]dashboards.StillView, len(views))
	for i, v := range views {
		out[i] = dashboards.StillView{Config: v.Still, Scan: v.Scan, LastGood: v.Good, Status: v.Status, Memory: v.Memory, Alarms: v.Alarms, NotStored: !v.Stored, Raw: rawWords(v)}
	}
	return out
}

// rawWords is what the device sent last, as plain registers.
func rawWords(v collector.StillView) [][]uint16 {
	out := make([][]uint16, len(v.Raw))
	for i, r := range v.Raw {
		out[i] = r.Registers()
	}
	return out
}

// Do implements dashboards.Shop.
func (s shop) Do(ctx context.Context, cmd alarm.Command) error { return s.c.Do(ctx, cmd) }

// Check implements dashboards.Recorder.
func (s shop) Check(ctx context.Context, still string, run int, k archive.Check) error {
	return s.c.Check(ctx, still, run, k)
}

// Amend implements dashboards.Recorder.
func (s shop) Amend(ctx context.Context, still string, run int, a archive.Amend) error {
	return s.c.Amend(ctx, still, run, a)
}

// Note implements dashboards.Recorder.
func (s shop) Note(ctx context.Context, still string, run int, n archive.Note) error {
	return s.c.Note(ctx, still, run, n)
}

// Done implements dashboards.Shop.
func (s shop) Done(ctx context.Context, still, upkeep, by string) error {
	return s.c.Done(ctx, still, upkeep, by)
}

// Subscribe implements dashboards.Shop: the page only wants to know that there is news, so news that it
// has not looked at yet is merged, and it is never too slow.
func (s shop) Subscribe() (<-chan dashboards.Update, func()) {
	updates, end := s.c.Subscribe()
	hints := make(chan dashboards.Update, 1)
	go func() { // ends when the subscription does
		defer close(hints)
		for u := range updates {
			select {
			case hints <- dashboards.Update{Seq: u.Seq}:
			default:
			}
		}
	}()
	return hints, sync.OnceFunc(end)
}

// ready is the pipeline's part of /readyz.
func ready(c *collector.Collector) func(context.Context) error {
	return func(context.Context) error {
		if ok, reasons := c.Ready(); !ok {
			return errors.New(strings.Join(reasons, "; "))
		}
		return nil
	}
}
