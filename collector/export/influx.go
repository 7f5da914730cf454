package export

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/export/outlet"
	"luted/config"
)

// InfluxName is the outlet's name, as in its cursor, logs and metrics.
const InfluxName = "export/influx"

// Source is the part of the archive that Influx reads. *archive.Archive is one.
type Source interface {
	outlet.Spool
	// Stills names every still that has scans.
	Stills(ctx context.Context) ([]string, error)
	// ReadScans calls fn with the scans later than from, in time order; an error from fn ends it.
	ReadScans(ctx context.Context, still string, from, to time.Time, fn func(archive.Layout, analysis.Scan) error) error
}

// Options are the choices of NewInflux. The zero value works.
type Options struct {
	Site      string            // tag site of every point; empty: no such tag
	Simulated bool              // tag simulated=true on every point
	Log       *slog.Logger      // nil: nothing is logged
	Health    outlet.Health     // nil: nobody asks. Its backlog counts the points of the batch under way.
	Transport http.RoundTripper // nil: the usual one
}

// Influx writes everything the archive holds to an InfluxDB, or to an engine that takes its v2 writes.
//
// Measurements, all with the tags still, site and (if so) simulated:
//
//   - luted_scan, one point a scan: a float field for each channel, in the inside unit of its dimension
//     (switches 0 or 1). A bad value has no number; the string field <channel>_quality then says why.
//     A channel that nobody measured has neither.
//   - luted_run, one point a finished run, at its end: the figures of its summary under the same names.
//   - luted_fault, one point whenever a fault is raised or cleared, with the further tags fault and
//     channel, so that two faults of one scan are two points: state, active (1 or 0), run, text, and a
//     field weight_<cause> for each likely cause.
//
// Times have the resolution of a millisecond, as scans have, so that a point written twice is one point.
type Influx struct {
	cfg    config.Influx
	source Source
	o      Options
	keeper outlet.Keeper
	log    *slog.Logger

	client *http.Client
	api    api.WriteAPIBlocking
	maker  maker

	cursor   archive.Cursor
	proven   bool // the server has taken something, so its refusals are believed
	pause    outlet.Backoff
	setAside int
	retries  int
}

// NewInflux returns the outlet. It connects when Run does.
func NewInflux(cfg config.Influx, s Source, o Options) (*Influx, error) {
	if u, err := url.Parse(cfg.URL); err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" {
		return nil, fmt.Errorf("%s:%d: %s: %q is no web address: write http://host:8086", cfg.At.File, cfg.At.Line, cfg.At.Key, cfg.URL)
	}
	if cfg.Bucket == "" {
		return nil, fmt.Errorf("%s:%d: %s: no bucket: say where the points go", cfg.At.File, cfg.At.Line, cfg.At.Key)
	}
	if cfg.Batch <= 0 {
		cfg.Batch = 5000
	}
	if cfg.Every <= 0 {
		cfg.Every = time.Second
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Health == nil {
		o.Health = func(string, time.Duration, int, int, int) {}
	}
	if o.Transport == nil {
		o.Transport = http.DefaultTransport.(*http.Transport).Clone()
	}
	x := &Influx{
		cfg: cfg, source: s, o: o, log: o.Log.With("outlet", InfluxName),
		keeper: outlet.Keeper{Name: InfluxName, Spool: s, Log: o.Log},
		maker:  newMaker(o.Site, o.Simulated),
	}
	x.client, x.api = connect(cfg, o.Transport)
	return x, nil
}

// Name is the outlet's name.
func (x *Influx) Name() string { return InfluxName }

// Run writes until ctx ends, and then returns nil; nothing it started is alive then. Any other return is
// an archive that cannot be used any more. Run may be called again; never twice at once.
func (x *Influx) Run(ctx context.Context) error {
	defer x.client.CloseIdleConnections() // their goroutines end with them
	err := x.run(ctx)
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

func (x *Influx) run(ctx context.Context) error {
	err := x.keeper.Read(ctx, func(ctx context.Context) (err error) {
		x.cursor, err = x.source.Cursor(ctx, InfluxName)
		return err
	})
	if err != nil {
		return err
	}
	var last time.Time // when the last write began
	for {
		news := x.source.Changed() // before reading, so that nothing falls between
		var b batch
		err := x.keeper.Read(ctx, func(ctx context.Context) (err error) {
			b, err = x.next(ctx)
			return err
		})
		if err != nil {
			return err
		}
		x.report(b.points)
		switch due := last.Add(x.cfg.Every); {
		case b.empty():
			select {
			case <-news:
			case <-ctx.Done():
			}
			err = ctx.Err()
		case !b.full && time.Now().Before(due):
			err = outlet.Wait(ctx, time.Until(due)) // let it grow
		default:
			last = time.Now()
			err = x.deliver(ctx, b)
		}
		if err != nil {
			return err
		}
	}
}

// deliver writes a batch and moves the cursor past it.
func (x *Influx) deliver(ctx context.Context, b batch) error {
	rejected, err := x.write(ctx, b.points)
	if u, ok := errors.AsType[*unproven](err); ok {
		return x.wait(ctx, u)
	}
	if err != nil {
		return err
	}
	if err := x.putAside(ctx, rejected); err != nil {
		return err
	}
	if err := x.keeper.Move(ctx, b.cursor); err != nil {
		return err
	}
	x.cursor = b.cursor
	return nil
}

// wait says once what is wrong, and pauses.
func (x *Influx) wait(ctx context.Context, why error) error {
	if !x.pause.Waiting() {
		x.log.Warn("not written, will be tried again", "err", why)
	}
	x.retries++
	return outlet.Wait(ctx, x.pause.Next(outlet.After(why)))
}

func (x *Influx) report(points []point) {
	var lag time.Duration
	for _, p := range points {
		lag = max(lag, time.Since(p.at))
	}
	x.o.Health(InfluxName, lag, len(points), x.setAside, x.retries)
}
