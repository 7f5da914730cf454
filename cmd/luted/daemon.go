package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"time"

	"github.com/prometheus/exporter-toolkit/web"
	"golang.org/x/sync/errgroup"

	"luted/collector"
	"luted/collector/archive"
	"luted/collector/export"
	"luted/config"
	"luted/dashboards"
)

// daemon is everything that runs: the pipeline, its outlets, the web server. run and demo differ only in
// what they put in here.
type daemon struct {
	cfg       *config.Config
	archive   *archive.Archive // open; the caller closes it after serve has returned
	clock     collector.Clock
	log       *slog.Logger
	simulated bool
	flush     time.Duration // collector.Options.Flush
	// listenName is where people have written the address of the page. Empty: web.listen.
	listenName string
	// now is the time that the page takes for now. Nil: the clock's.
	now func(*collector.Collector) time.Time
	// prepare is called after recovery and before polling. Nil: nothing to prepare.
	prepare func(context.Context, *collector.Collector) error
	// ready is called with the address of the page when everything runs. Nil: nobody waits for it.
	ready func(net.Addr)
}

// serve runs until ctx ends. What is started is stopped in this order: the pollers, the last commit, the
// outlets (package collector does these), then the web server, so that people see the end.
func (d daemon) serve(ctx context.Context) error {
	metrics := export.NewMetrics(export.MetricsOptions{Simulated: d.simulated, Version: version(), Now: d.clock.Now})
	outlets, err := d.outlets(metrics)
	if err != nil {
		return err
	}
	pipeline, err := collector.New(d.cfg, d.archive, collector.Options{
		Log: d.log, Clock: d.clock, Metrics: metrics, Outlets: outlets, Flush: d.flush,
	})
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", d.cfg.Web.Listen)
	if err != nil {
		return fmt.Errorf("%s: %w", cmp.Or(d.listenName, "web.listen"), err)
	}
	done := make(chan struct{})
	server, err := d.server(pipeline, metrics.Handler(), done)
	if err != nil {
		listener.Close()
		return err
	}

	g, gctx := errgroup.WithContext(ctx)
	pipelineEnded := make(chan struct{})
	g.Go(func() error { // ends with the pipeline; a server that fails ends everything
		return serveHTTP(listener, server, d.cfg.Web.Config, d.log)
	})
	g.Go(func() error {
		select {
		case <-gctx.Done():
			d.log.Info("stopping; a second signal ends the program at once")
			<-pipelineEnded
		case <-pipelineEnded:
		}
		close(done)
		return shutdownHTTP(server)
	})
	g.Go(func() error {
		defer close(pipelineEnded)
		return d.pipeline(gctx, pipeline, listener.Addr())
	})
	err = g.Wait()
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

// pipeline recovers and runs the pipeline, and keeps the service manager informed.
func (d daemon) pipeline(ctx context.Context, c *collector.Collector, addr net.Addr) error {
	start := time.Now()
	if err := c.Recover(ctx); err != nil {
		return err
	}
	if d.prepare != nil {
		if err := d.prepare(ctx, c); err != nil {
			return err
		}
	}
	d.log.Info("watching", "stills", len(d.cfg.Stills), "page", addr.String(), "archive", d.archive.Path(), "recovered_in", time.Since(start).Round(time.Millisecond))
	if d.ready != nil {
		d.ready(addr)
	}
	manager := tellManager(ctx, d.log, c.Beat)
	err := c.Run(ctx)
	manager.stopped()
	if err != nil {
		d.log.Error("stopped", keyErr, err)
	} else {
		d.log.Info("stopped")
	}
	return err
}

// server is the page, the API and the metrics.
func (d daemon) server(c *collector.Collector, metrics http.Handler, done <-chan struct{}) (*http.Server, error) {
	handler, err := dashboards.New(dashboards.Options{
		Site: d.cfg.Site, Prices: d.cfg.Prices, Simulated: d.simulated, Shop: shop{c}, Archive: d.archive, Metrics: metrics,
		Now: d.pageNow(c), Log: d.log, Ready: ready(c), Done: done, Version: version(), Hosts: d.hosts(),
	})
	if err != nil {
		return nil, err
	}
	s := &http.Server{Handler: handler, ErrorLog: slog.NewLogLogger(d.log.Handler(), slog.LevelDebug)}
	dashboards.SetLimits(s)
	return s, nil
}

// hosts are the names the page is asked for by beside this machine's own: that of web.page.
func (d daemon) hosts() []string {
	if u, err := url.Parse(d.cfg.Web.Page); err == nil && u.Hostname() != "" {
		return []string{u.Hostname()}
	}
	return nil
}

func (d daemon) pageNow(c *collector.Collector) func() time.Time {
	if d.now == nil {
		return d.clock.Now
	}
	return func() time.Time { return d.now(c) }
}

// serveHTTP serves until the server is shut down. webConfig is the exporter toolkit's file for TLS and
// logins; empty: plain HTTP.
func serveHTTP(l net.Listener, s *http.Server, webConfig string, log *slog.Logger) error {
	quiet := slog.New(levelHandler{log.Handler(), slog.LevelWarn}) // its usual messages repeat ours
	err := web.Serve(l, s, &web.FlagConfig{WebConfigFile: &webConfig}, quiet)
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// shutdownGrace is how long open requests may take to end.
const shutdownGrace = 3 * time.Second

func shutdownHTTP(s *http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), shutdownGrace)
	defer cancel()
	if err := s.Shutdown(ctx); err != nil {
		return s.Close()
	}
	return nil
}

// levelHandler passes on records of at least a level.
type levelHandler struct {
	slog.Handler
	min slog.Level
}

func (h levelHandler) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= h.min && h.Handler.Enabled(ctx, l)
}
