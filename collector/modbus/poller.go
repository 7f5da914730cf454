package modbus

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"slices"
	"time"

	"luted/analysis"
	"luted/config"
)

// Sweep is one reading of all channels of one still.
type Sweep struct {
	Still  string
	At     time.Time        // when it began: UTC, whole milliseconds, later than the still's sweep before
	Values []analysis.Value // parallel to the still's channels; the receiver's to keep
	Took   time.Duration
	Missed int // beats that were due since the sweep before and could not be kept
	Result SweepResult
	Raw    []Raw // what the device sent last, parallel to the channels; the receiver's to keep
}

// PollerOptions are for tests and simulations; the zero value polls real devices.
type PollerOptions struct {
	Clock Clock        // nil: SystemClock
	Log   *slog.Logger // nil: slog.Default()
	// Dial opens TCP connections. Nil: a net.Dialer.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
	// Reader answers in place of the line, without any connection. Nil: the line is used.
	Reader Reader
	// Rand gives numbers from [0, 1) for the jitter of pauses. Nil: math/rand/v2.
	Rand func() float64
	// Plan says how a still's device wants to be read. Nil: PlanOptions{} for all.
	Plan func(*config.Still) PlanOptions
}

// Poller owns one line and sweeps the stills on it, each on its own steady beat.
type Poller struct {
	o      PollerOptions
	reader Reader
	close  func()
	stills []*polled
	// A dead line is not dialled at every beat, and a device that is silent behind a gateway must not
	// keep the others waiting: it has its own pause, in polled.
	connecting backoff
	down       standing
}

// polled is one still on the line.
type polled struct {
	*config.Still
	plan   *Plan
	device *backoff // shared by the stills that are read from the same device
	beat   beat
	stamps stamps
	log    *slog.Logger
	silent standing // the device does not answer
	partly standing // some requests fail
	late   standing // beats are missed
}

// NewPoller plans the requests of all stills on the line. The error names every channel that cannot
// be read.
func NewPoller(line *config.Line, stills []*config.Still, o PollerOptions) (*Poller, error) {
	if o.Clock == nil {
		o.Clock = SystemClock{}
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if o.Rand == nil {
		o.Rand = rand.Float64
	}
	if o.Plan == nil {
		o.Plan = func(*config.Still) PlanOptions { return PlanOptions{} }
	}
	p := &Poller{o: o, reader: o.Reader, close: func() {}, connecting: backoff{longest: longestPause}}
	p.o.Log = o.Log.With(keyLine, line.Name)
	if p.reader == nil {
		link, err := NewLink(line, LinkOptions{Dial: o.Dial})
		if err != nil {
			return nil, err
		}
		p.reader, p.close = link, func() { link.Close() }
	}
	devices := map[uint8]*backoff{}
	for _, st := range stills {
		devices[st.Device] = &backoff{longest: longestPause}
	}
	if len(devices) > 1 {
		for _, b := range devices {
			b.longest = longestShared
		}
	}
	var errs []error
	for _, st := range stills {
		plan, err := NewPlan(st, o.Plan(st))
		if err == nil && st.Every <= 0 {
			err = fmt.Errorf("still %s: no time between sweeps; give every, for example 1 s", st.Name)
		}
		if err != nil {
			errs = append(errs, err)
			continue
		}
		p.stills = append(p.stills, &polled{Still: st, plan: plan, device: devices[st.Device],
			beat: beat{every: st.Every}, log: p.o.Log.With(keyStill, st.Name, keyDevice, st.Device)})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return p, nil
}

// Run polls until ctx ends, then returns nil: nothing it started is alive and the line is closed. Every
// kept beat hands one sweep to out, also while the device is silent or the line is down; a sweep that
// the end of ctx interrupts is dropped. out is called from Run's goroutine: while it takes its time,
// the line waits.
func (p *Poller) Run(ctx context.Context, out func(Sweep)) error {
	defer p.close()
	start := p.o.Clock.Now()
	for _, s := range p.stills {
		s.beat.start = start
	}
	for len(p.stills) > 0 {
		s := p.next()
		if p.o.Clock.SleepUntil(ctx, s.beat.due()) != nil {
			return nil
		}
		sweep := p.sweep(ctx, s)
		if ctx.Err() != nil {
			return nil
		}
		out(sweep)
	}
	<-ctx.Done()
	return nil
}

// next is the still whose beat is due first. Of several, the one in front, and it goes to the back:
// on a line that is too slow for its stills, all are served in turn.
func (p *Poller) next() *polled {
	first := 0
	for i, s := range p.stills {
		if s.beat.due().Before(p.stills[first].beat.due()) {
			first = i
		}
	}
	s := p.stills[first]
	p.stills = append(append(p.stills[:first:first], p.stills[first+1:]...), s)
	return s
}

// sweep keeps one beat.
func (p *Poller) sweep(ctx context.Context, s *polled) Sweep {
	began := p.o.Clock.Now()
	sw := Sweep{Still: s.Name, Values: make([]analysis.Value, len(s.Channels))}
	sw.Missed = s.beat.take(began)
	sw.At = s.stamps.at(began)
	if !p.connecting.ready(began) || !s.device.ready(began) {
		for i := range sw.Values {
			sw.Values[i].Quality = analysis.Silent
		}
	} else {
		sw.Result = s.plan.Sweep(ctx, p.reader, sw.Values)
	}
	sw.Raw = slices.Clone(s.plan.Raw())
	ended := p.o.Clock.Now()
	sw.Took = ended.Sub(began)
	if ctx.Err() == nil {
		p.learn(s, sw.Result, ended)
		s.tellLate(sw.Missed, ended)
	}
	return sw
}

// learn adjusts the pauses to how a sweep went, and says what has changed.
func (p *Poller) learn(s *polled, r SweepResult, now time.Time) {
	if r.Requests == 0 {
		return
	}
	var failed *Error
	errors.As(r.Err, &failed)
	if r.Answered == 0 && failed != nil && failed.Connecting {
		p.connecting.fail(now, p.o.Rand())
		p.down.note(now, p.o.Log, "line down", keyErr, failed)
		return
	}
	p.connecting.ok()
	p.down.end(now, p.o.Log, "line up again")
	if r.Answered == 0 {
		s.device.fail(now, p.o.Rand())
		s.silent.note(now, s.log, "device cannot be read", keyErr, r.Err)
		return
	}
	s.device.ok()
	s.silent.end(now, s.log, "device can be read again")
	if r.Err != nil {
		s.partly.note(now, s.log, "some values cannot be read", keyErr, r.Err)
	} else if r.Skipped == 0 {
		s.partly.end(now, s.log, "all values can be read again")
	}
}

// tellLate speaks about missed beats; a minute without any ends the trouble.
func (s *polled) tellLate(missed int, now time.Time) {
	if missed > 0 {
		s.late.note(now, s.log, "line too slow for its beat", "every", s.Every, "missed", missed)
	} else if now.Sub(s.late.last) >= time.Minute {
		s.late.end(now, s.log, "beat kept again")
	}
}
