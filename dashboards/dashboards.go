// Package dashboards is what people look at: the page from the binary itself, and its JSON API.
//
// The idea: the page shows what the pipeline has already worked out and stored, and works out nothing of
// its own but how to draw it. Live state comes from a Shop, everything older from the archive; both are
// read, never kept (but for an index of the journal, which never changes what it has), so a page that is
// reloaded and a page that was open all night show the same.
//
// The invariants: nothing is shown as live that is not; a figure that is not known is absent, never zero;
// every figure carries its unit (JSON stays in inside units, the page converts); a page fetches nothing
// from any other host; nothing here writes to a device.
package dashboards

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"time"

	"luted/config"
)

// Options is what New needs.
type Options struct {
	// Site names the place, its units and its time zone.
	Site config.Site
	// Prices are what runs are put into money with. Zero: nothing is.
	Prices config.Prices
	// Simulated says on every page that the stills are not real equipment.
	Simulated bool
	// Shop is the running pipeline. Required.
	Shop Shop
	// Archive is what has been stored. Required.
	Archive Archive
	// Metrics answers /metrics. Nil: there is no /metrics.
	Metrics http.Handler
	// Now is the clock the scans are stamped with. Nil means time.Now.
	Now func() time.Time
	// Log takes what went wrong inside; people outside only learn that something did. Nil: nowhere.
	Log *slog.Logger
	// Hosts are further names this server is asked for by when it listens on this machine only, such as
	// the public name of a proxy in front of it. The names of the machine itself need not be listed.
	Hosts []string
	// Ready adds to what /readyz checks. Nil: only that the archive answers.
	Ready func(context.Context) error
	// Done, once closed, ends open event streams, so that http.Server.Shutdown can return. Nil: never.
	Done <-chan struct{}
	// Version is shown at the foot of the page. Empty: not shown.
	Version string
}

// New returns the handler of the page and the API. Its own limits are in SetLimits, which the server that
// mounts it should be given.
func New(o Options) (http.Handler, error) {
	if o.Shop == nil || o.Archive == nil {
		return nil, errors.New("dashboards: Options.Shop and Options.Archive are required")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Site.TimeZone == nil {
		o.Site.TimeZone = time.UTC
	}
	files, err := embedded()
	if err != nil {
		return nil, err
	}
	s := &server{Options: o, files: files, streams: make(chan struct{}, maxStreams)}
	s.live.stills, s.live.runs, s.live.ticks = map[string]map[string]part{}, map[string]lastRun{}, map[string]lastTick{}
	return s.guard(s.mux()), nil
}

// server answers the routes.
type server struct {
	Options
	files   map[string]*file
	live    live
	ledger  ledger
	streams chan struct{} // one place per open event stream
}

// SetLimits gives a server the time and size limits that fit this handler: short for everything, while
// event streams and recordings push their own write deadline ahead of them as long as the other side
// keeps reading. Limits already set are left alone.
func SetLimits(s *http.Server) {
	setDefault(&s.ReadHeaderTimeout, 5*time.Second)
	setDefault(&s.ReadTimeout, 15*time.Second)
	setDefault(&s.WriteTimeout, 30*time.Second)
	setDefault(&s.IdleTimeout, 2*time.Minute)
	if s.MaxHeaderBytes == 0 {
		s.MaxHeaderBytes = 16 << 10
	}
}

func setDefault(d *time.Duration, to time.Duration) {
	if *d == 0 {
		*d = to
	}
}
