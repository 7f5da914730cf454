package export

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// health is luted's own state: how well it reads, stores and delivers.
type health struct {
	sweep       *prometheus.HistogramVec
	missed      *prometheus.CounterVec
	errors      *prometheus.CounterVec
	commit      prometheus.Histogram
	archiveLag  prometheus.Gauge
	archiveSize prometheus.Gauge
	lag         *prometheus.GaugeVec
	backlog     *prometheus.GaugeVec
	setAside    *total
	retries     *total
	trouble     trouble
}

func newHealth(reg prometheus.Registerer) health {
	gauges := func(name, help string, labels ...string) *prometheus.GaugeVec {
		return prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: name, Help: help}, labels)
	}
	counters := func(name, help string, labels ...string) *prometheus.CounterVec {
		return prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)
	}
	h := health{
		sweep: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "luted_sweep_seconds", Help: "Time to read all channels of a still once.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10},
		}, []string{"line", "still"}),
		missed: counters("luted_missed_beats_total", "Scans that were due and not taken, for want of time.", "line", "still"),
		errors: counters("luted_read_errors_total", "Requests to devices that went wrong, by kind.", "line", "still", "kind"),
		commit: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "luted_archive_commit_seconds", Help: "Time to make a batch durable in the archive.",
			Buckets: []float64{.0005, .001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5},
		}),
		archiveLag:  prometheus.NewGauge(prometheus.GaugeOpts{Name: "luted_archive_lag_seconds", Help: "Age of the oldest scan of the last batch when it was durable."}),
		archiveSize: prometheus.NewGauge(prometheus.GaugeOpts{Name: "luted_archive_size_bytes", Help: "Size of the archive's files."}),
		lag:         gauges("luted_outlet_lag_seconds", "Age of the oldest thing that an outlet has still to deliver; 0 when there is nothing.", "outlet"),
		backlog:     gauges("luted_outlet_backlog", "Things that an outlet has still to deliver.", "outlet"),
		setAside:    newTotal("luted_outlet_set_aside_total", "Things that the other side refused for good since the start of the program.", "outlet"),
		retries:     newTotal("luted_outlet_retries_total", "Deliveries that had to be tried again since the start of the program.", "outlet"),
	}
	reg.MustRegister(h.sweep, h.missed, h.errors, h.commit, h.archiveLag, h.archiveSize, h.lag, h.backlog, h.setAside, h.retries)
	h.trouble = newTrouble(reg)
	return h
}

// Sweep takes the figures of one sweep: how long it took, how many beats were missed before it, and the
// errors of its requests by kind.
func (m *Metrics) Sweep(line, still string, took time.Duration, missed int, errorsByKind map[string]int) {
	m.health.sweep.WithLabelValues(line, still).Observe(took.Seconds())
	m.health.missed.WithLabelValues(line, still).Add(float64(max(missed, 0)))
	for kind, n := range errorsByKind {
		m.health.errors.WithLabelValues(line, still, kind).Add(float64(max(n, 0)))
	}
}

// Archive takes the figures of one commit: the age of its oldest scan when it was durable, and how long
// the transaction took.
func (m *Metrics) Archive(lag, commit time.Duration) {
	m.health.archiveLag.Set(lag.Seconds())
	m.health.commit.Observe(commit.Seconds())
}

// ArchiveSize takes the size of the archive's files.
func (m *Metrics) ArchiveSize(bytes int64) { m.health.archiveSize.Set(float64(bytes)) }

// Outlet takes the figures of one outlet: the age of the oldest thing still to deliver (0: none), how
// many there are, and, counted since its start, how many were refused for good and how many deliveries
// were tried again.
func (m *Metrics) Outlet(name string, lag time.Duration, backlog, setAside, retries int) {
	m.health.lag.WithLabelValues(name).Set(lag.Seconds())
	m.health.backlog.WithLabelValues(name).Set(float64(backlog))
	m.health.setAside.set(name, setAside)
	m.health.retries.set(name, retries)
}
