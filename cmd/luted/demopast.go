package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"golang.org/x/sync/errgroup"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/collector/simstill"
	"luted/config"
)

// past builds what came before live watching: every still is simulated and read in this process, with
// the plan that its poller will use, and the sweeps take the pipeline's ordinary path. What the archive
// has already is simulated again, so that the still is in the state it was left in, but not read. It
// returns the time at which live watching begins.
func (d *demoShop) past(ctx context.Context, a *archive.Archive, p *collector.Collector, cfg *config.Config, clock *demoClock, w io.Writer, progress func(day time.Time, scans int)) (time.Time, error) {
	began := time.Now()
	live := d.state.Live
	last := map[string]time.Time{}
	for _, st := range cfg.Stills {
		at, err := a.LastScan(ctx, st.Name)
		if err != nil {
			return live, err
		}
		last[st.Name] = at
		if at.After(live) {
			live = at
		}
	}
	// A demo taken up after a long time has the time between as history too.
	if soonest := time.Now().UTC().Truncate(time.Second).Add(-catchUp); live.Before(soonest) {
		live = soonest
	}
	scans, err := d.build(ctx, a, p, cfg, last, live, clock, progress)
	if err != nil {
		return live, err
	}
	if err := p.Flush(ctx); err != nil {
		return live, err
	}
	if err := a.Maintain(ctx); err != nil {
		return live, err
	}
	if scans > 0 {
		fmt.Fprintf(w, "History: %d scans from %s on, in %.1f s.\n", scans, d.state.Start.Local().Format("2 Jan 2006"), time.Since(began).Seconds())
	}
	return live, nil
}

// build simulates all stills up to a time and feeds what they show to the pipeline, in order of time, a
// day at a time.
func (d *demoShop) build(ctx context.Context, a *archive.Archive, p *collector.Collector, cfg *config.Config, last map[string]time.Time, until time.Time,
	clock *demoClock, progress func(day time.Time, scans int)) (scans int, err error) {
	readers := make([]*pastReader, len(d.stills))
	for i, st := range d.stills {
		if readers[i], err = newPastReader(st, cfg.Still(st.Name()), last[st.Name()]); err != nil {
			return 0, err
		}
	}
	for day := d.state.Start; day.Before(until); day = day.Add(24 * time.Hour) {
		end := day.Add(24 * time.Hour)
		if end.After(until) {
			end = until
		}
		n, err := d.buildDay(ctx, p, readers, day, end)
		if err != nil {
			return scans, err
		}
		if scans += n; n > 0 {
			progress(day, scans)
			if err := acknowledge(ctx, p, end); err != nil {
				return scans, err
			}
		}
		clock.move(end)
		if n > 0 && until.Sub(day) <= demoPeople {
			if err := keepRecords(ctx, a, p); err != nil {
				return scans, err
			}
		}
	}
	return scans, nil
}

// buildDay simulates the stills side by side and merges what they show.
func (d *demoShop) buildDay(ctx context.Context, p *collector.Collector, readers []*pastReader, from, to time.Time) (scans int, err error) {
	sweeps := make([][]modbus.Sweep, len(readers))
	g, gctx := errgroup.WithContext(ctx)
	for i, r := range readers {
		g.Go(func() (err error) { sweeps[i], err = r.read(gctx, from, to); return err })
	}
	if err := g.Wait(); err != nil {
		return 0, err
	}
	for {
		next := -1
		for i, s := range sweeps {
			if len(s) > 0 && (next < 0 || s[0].At.Before(sweeps[next][0].At)) {
				next = i
			}
		}
		if next < 0 {
			return scans, nil
		}
		if err := p.Ingest(ctx, sweeps[next][0]); err != nil {
			return scans, err
		}
		sweeps[next] = sweeps[next][1:]
		scans++
	}
}

// acknowledge has the invented people take note of what was raised by the end of a day.
func acknowledge(ctx context.Context, p *collector.Collector, at time.Time) error {
	if err := p.Flush(ctx); err != nil {
		return err
	}
	for _, v := range p.Stills() {
		for _, a := range v.Alarms {
			if a.State != alarm.Unacknowledged && a.State != alarm.RTNUnacknowledged && a.State != alarm.LatchedUnacknowledged {
				continue
			}
			err := p.Do(ctx, alarm.Command{Key: a.Key, Action: alarm.Acknowledge, At: at, By: "day shift (simulated)"})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// The past is read less often than the present: every few seconds while a still is at work, every minute
// while it stands.
const (
	pastAtWork   = 5 * time.Second
	pastStanding = time.Minute
	pastAfter    = time.Hour // reading stays close for so long after a run
)

// pastReader reads one still in this process.
type pastReader struct {
	still  *simstill.Still
	cfg    *config.Still
	plan   *modbus.Plan
	after  time.Time // what was read up to then is in the archive
	closer time.Time // reading stays close until then
	at     time.Time // of the last reading
}

func newPastReader(st *simstill.Still, cfg *config.Still, after time.Time) (*pastReader, error) {
	plan, err := modbus.NewPlan(cfg, modbus.PlanOptions{})
	return &pastReader{still: st, cfg: cfg, plan: plan, after: after}, err
}

// read sweeps the still at its times in (from, to]. The still is looked at every few seconds, so that
// close reading begins with the run.
func (r *pastReader) read(ctx context.Context, from, to time.Time) ([]modbus.Sweep, error) {
	var out []modbus.Sweep
	for t := from.Add(pastAtWork); !t.After(to); t = t.Add(pastAtWork) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r.still.Advance(t)
		if r.still.Truth().Phase != analysis.Idle {
			r.closer = t.Add(pastAfter)
		}
		if t.Sub(r.at) < pastStanding && !t.Before(r.closer) {
			continue
		}
		r.at = t
		if !t.After(r.after) {
			continue
		}
		values := make([]analysis.Value, len(r.cfg.Channels))
		result := r.plan.Sweep(ctx, r.still, values)
		out = append(out, modbus.Sweep{Still: r.cfg.Name, At: t, Values: values, Result: result})
	}
	return out, nil
}
