// Package collector is the pipeline: read, analyse, alarm, archive, publish.
//
// The idea: every scan, wherever it comes from, takes one path. A poller (one goroutine a line) hands
// over a sweep; one goroutine at a time analyses it, keeps the alarm book, gathers scans, events, alarm
// states and rest points into one batch, and commits the batch to the archive as one transaction. Only
// then do the page, the metrics and the subscribers learn of it. The outlets read the archive from their
// own cursors, at their own pace.
//
// The invariants: scans of a still are strictly later than those before, whatever the wall clock does.
// A scan is durable at the latest one second after it was read, unless the archive refuses to be
// written; then it waits in memory, within a bound, and everybody is told. What the archive holds is
// what the analysis saw, in the same order, so replaying the archive gives the same events, byte for
// byte, and Recover needs nothing but the last rest point and the scans after it.
package collector

import (
	"cmp"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/export"
	"luted/collector/modbus"
	"luted/config"
)

// Options are what a Collector can do without.
type Options struct {
	Log     *slog.Logger    // nil: no log
	Clock   Clock           // what the pollers and the alarms live by; nil: the system's
	Metrics *export.Metrics // nil: none
	// Flush is how long a scan may wait in memory before its commit begins. Zero means 500 ms: half of
	// the second is left to the disk.
	Flush time.Duration
	// BatchScans makes a commit begin early. Zero means 5000.
	BatchScans int
	// KeepScans is how many scans are kept in memory while the archive cannot be written. Zero means
	// 100000: a day of one still at 1 s, some tens of megabytes.
	KeepScans int
	// Outlets run beside the pipeline.
	Outlets []Outlet
	// Grace is how long the outlets may go on after the last commit when the program stops, to deliver
	// what it stored. Zero means 3 s.
	Grace time.Duration
	// Maintain is the time between two rounds of sealing, summing up and retention in the archive. Zero
	// means 1 min.
	Maintain time.Duration

	newFold func(analysis.Still, analysis.Memory) fold // nil: analysis.New
	pollers []poller                                   // nil: one for each line
}

// Collector is the pipeline for the stills of one configuration.
type Collector struct {
	cfg     *config.Config
	store   store
	options Options
	log     *slog.Logger
	clock   Clock
	metrics metrics
	order   []string // of the stills

	// mu lets one goroutine at a time take a scan, a command or a tick through the analysis, the alarm
	// book and the batch: their order is the order of the journal. It is held while committing.
	mu      sync.Mutex
	stills  map[string]*still
	book    *alarm.Book
	batch   *batch
	trouble trouble

	// viewMu guards what readers see; it is never held while waiting for anything.
	viewMu      sync.RWMutex
	views       []StillView
	subscribers map[chan Update]bool
	ended       bool
	health      health

	recovered atomic.Bool
	beat      atomic.Int64 // real time of the last turn of the analysing goroutine, Unix ns
}

// New returns a pipeline for the configuration over an open archive, which stays the caller's to close
// after Run has returned. Recover comes next, then Run.
func New(cfg *config.Config, arch *archive.Archive, o Options) (*Collector, error) {
	return newCollector(cfg, arch, o)
}

func newCollector(cfg *config.Config, s store, o Options) (*Collector, error) {
	if len(cfg.Stills) == 0 {
		return nil, errors.New("the configuration has no still")
	}
	o.Flush = cmp.Or(o.Flush, 500*time.Millisecond)
	o.BatchScans = cmp.Or(o.BatchScans, 5000)
	o.KeepScans = cmp.Or(o.KeepScans, 100_000)
	o.Grace = cmp.Or(o.Grace, 3*time.Second)
	o.Maintain = cmp.Or(o.Maintain, time.Minute)
	if o.newFold == nil {
		o.newFold = func(s analysis.Still, m analysis.Memory) fold { return analysis.New(s, m) }
	}
	c := &Collector{
		cfg: cfg, store: s, options: o, log: o.Log, clock: o.Clock,
		stills: map[string]*still{}, book: alarm.NewBook(nil), batch: newBatch(),
		metrics: metrics{o.Metrics}, subscribers: map[chan Update]bool{},
	}
	if c.log == nil {
		c.log = slog.New(slog.DiscardHandler)
	}
	if c.clock == nil {
		c.clock = modbus.SystemClock{}
	}
	for _, st := range cfg.Stills {
		if c.stills[st.Name] != nil {
			return nil, fmt.Errorf("two stills are called %s", st.Name)
		}
		c.stills[st.Name] = newStill(st, o.newFold(st.Equipment, analysis.Memory{}))
		c.order = append(c.order, st.Name)
		c.views = append(c.views, StillView{Still: st, Status: analysis.Status{Phase: analysis.Idle}})
	}
	return c, nil
}
