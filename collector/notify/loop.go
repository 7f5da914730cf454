package notify

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/export/outlet"
)

// Outlet sends the alarm transitions of the journal through one channel.
type Outlet struct {
	name    string
	channel channel
	journal Journal
	keeper  outlet.Keeper
	log     *slog.Logger
	health  outlet.Health

	read     int64  // number of the last entry taken into pending
	pending  []Item // wanted, not yet accepted
	passed   int64  // last entry of those read that lies before all pending ones
	moved    int64  // where the cursor stands
	told     past
	pause    outlet.Backoff
	setAside int
	retries  int
}

func newOutlet(name string, c channel, j Journal, o Options) *Outlet {
	log := o.Log.With(keyOutlet, name)
	return &Outlet{
		name: name, channel: c, journal: j, log: log, health: o.Health,
		keeper: outlet.Keeper{Name: name, Spool: j, Log: o.Log},
	}
}

// Keys of log records.
const (
	keyOutlet = "outlet"
	keyErr    = "err"
)

// Name is the outlet's name: its cursor's, and that of logs and metrics.
func (o *Outlet) Name() string { return o.name }

// repeater is a channel that must say again what stands: now and then, and first of all after a start.
type repeater interface {
	start(standing []alarm.Alarm)
	repeat(ctx context.Context) (wait time.Duration)
}

// Run sends until ctx ends, and then returns nil; nothing it started is alive then. Any other return is
// an archive that cannot be used any more. Run may be called again; never twice at once.
func (o *Outlet) Run(ctx context.Context) error {
	defer o.channel.close()
	err := o.run(ctx)
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

func (o *Outlet) run(ctx context.Context) error {
	if err := o.keeper.Read(ctx, o.open); err != nil {
		return err
	}
	for {
		news := o.journal.Changed() // before reading, so that nothing falls between
		var more bool
		err := o.keeper.Read(ctx, func(ctx context.Context) (err error) {
			more, err = o.fill(ctx)
			return err
		})
		if err != nil {
			return err
		}
		o.report()
		p := o.channel.policy().next(&o.told, o.pending, more, time.Now())
		switch {
		case p.n > 0:
			err = o.deliver(ctx, p)
		case more:
			err = o.move(ctx) // nothing wanted among the first: read on
		default:
			if err = o.move(ctx); err == nil {
				err = o.sleep(ctx, news, p.wait)
			}
		}
		if err != nil {
			return err
		}
	}
}

// open goes back to the cursor, and remembers what was told shortly before it.
func (o *Outlet) open(ctx context.Context) error {
	c, err := o.journal.Cursor(ctx, o.name)
	if err != nil {
		return err
	}
	o.read, o.passed, o.moved = c.Seq, c.Seq, c.Seq
	o.pending, o.told = nil, past{}
	before, err := o.journal.Entries(ctx, archive.EntryQuery{AfterSeq: max(0, c.Seq-rememberCount), Kind: archive.AlarmEntry, Limit: rememberCount})
	if err != nil {
		return err
	}
	for _, e := range before {
		if it, err := decode(e); err == nil && e.Seq <= c.Seq && o.channel.wants(it) {
			o.told.add(it)
		}
	}
	if r, ok := o.channel.(repeater); ok {
		all, err := o.journal.Alarms(ctx)
		if err != nil {
			return err
		}
		r.start(all)
	}
	return nil
}

// fill reads on until enough is pending for one message, and reports whether the journal holds more.
func (o *Outlet) fill(ctx context.Context) (more bool, err error) {
	room := most - len(o.pending)
	if room <= 0 {
		return true, nil
	}
	es, err := o.journal.Entries(ctx, archive.EntryQuery{AfterSeq: o.read, Kind: archive.AlarmEntry, Limit: room})
	if err != nil {
		return false, err
	}
	for _, e := range es {
		it, err := decode(e)
		if err != nil {
			if err := o.refuse(ctx, e, err); err != nil {
				return false, err
			}
		} else if o.channel.wants(it) {
			it.seen = time.Now()
			o.pending = append(o.pending, it)
		}
		o.read = e.Seq
		if len(o.pending) == 0 {
			o.passed = e.Seq
		}
	}
	return len(es) == room, nil
}

// refuse sets an entry aside that no message can be made of.
func (o *Outlet) refuse(ctx context.Context, e archive.Entry, why error) error {
	o.setAside++
	o.log.Error("entry cannot be told", keyErr, why)
	return o.keeper.Aside(ctx, archive.Aside{At: time.Now(), Still: e.Still, Seq: e.Seq, Item: string(e.Body), Reason: why.Error()})
}

// move moves the cursor past what nobody wants to hear of.
func (o *Outlet) move(ctx context.Context) error {
	if o.passed == o.moved {
		return nil
	}
	if err := o.keeper.Move(ctx, archive.Cursor{Seq: o.passed}); err != nil {
		return err
	}
	o.moved = o.passed
	return nil
}

// sleep waits for news, for the end of wait if there is one, or for the time to repeat.
func (o *Outlet) sleep(ctx context.Context, news <-chan struct{}, wait time.Duration) error {
	if r, ok := o.channel.(repeater); ok {
		if again := r.repeat(ctx); wait == 0 || again < wait {
			wait = again
		}
	}
	var timer <-chan time.Time
	if wait > 0 {
		t := time.NewTimer(wait)
		defer t.Stop()
		timer = t.C
	}
	select {
	case <-news:
	case <-timer:
	case <-ctx.Done():
	}
	return ctx.Err()
}

func (o *Outlet) report() {
	var lag time.Duration
	if len(o.pending) > 0 {
		lag = max(0, time.Since(o.pending[0].At))
	}
	o.health(o.name, lag, len(o.pending), o.setAside, o.retries)
}
