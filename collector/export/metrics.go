package export

import (
	"maps"
	"net/http"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"luted/analysis"
	"luted/analysis/alarm"
)

// MetricsOptions are the choices of NewMetrics.
type MetricsOptions struct {
	Simulated bool   // marks every series with the label simulated="true"
	Version   string // of luted, for luted_build_info
	// Stale is how long numbers of a still are shown after they were given; zero means a minute, or five
	// times the pause between its last two scans if that is longer. The phase and the faults stay.
	Stale time.Duration
	// Runtime adds the families of the Go runtime and of the process (go_..., process_...), which have
	// not luted's prefix.
	Runtime bool
	// Now is the clock by which values grow stale; nil means time.Now.
	Now func() time.Time
}

// Metrics holds the present moment for Prometheus. All methods may be called at once from anywhere.
type Metrics struct {
	o        MetricsOptions
	registry *prometheus.Registry
	health   health

	mu     sync.Mutex
	stills map[string]*still
	alarms map[alarmLabels]int
}

// still is what the metrics remember of one still.
type still struct {
	channels []analysis.Channel
	scan     analysis.Scan
	seen     time.Time     // by our clock, not the scan's: a demo's scans may lie in the past
	pause    time.Duration // between the last two scans

	status  *analysis.Status
	told    time.Time // when status was given, by our clock
	faults  map[faultLabels]bool
	raised  map[analysis.Fault]uint64
	verdict map[analysis.Verdict]uint64
	last    *analysis.Summary
	scans   uint64
	bad     map[badLabels]uint64
}

type (
	faultLabels struct {
		fault   analysis.Fault
		channel string
	}
	badLabels   struct{ channel, quality string }
	alarmLabels struct {
		still    string
		state    alarm.State
		priority alarm.Priority
	}
)

// NewMetrics returns metrics with their own registry.
func NewMetrics(o MetricsOptions) *Metrics {
	if o.Now == nil {
		o.Now = time.Now
	}
	m := &Metrics{o: o, registry: prometheus.NewRegistry(), stills: make(map[string]*still)}
	var reg prometheus.Registerer = m.registry
	if o.Simulated {
		reg = prometheus.WrapRegistererWith(prometheus.Labels{"simulated": "true"}, reg)
	}
	reg.MustRegister(present{m})
	m.health = newHealth(reg)
	build := prometheus.NewGaugeVec(prometheus.GaugeOpts{
		Name: "luted_build_info", Help: "The running program; always 1.",
	}, []string{"version", "goversion"})
	build.WithLabelValues(o.Version, runtime.Version()).Set(1)
	reg.MustRegister(build)
	if o.Runtime {
		reg.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	}
	return m
}

// Handler serves the metrics, in OpenMetrics to whoever asks for it.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{EnableOpenMetrics: true})
}

// Scan takes a still's latest scan. chs runs parallel to s.Values and must not change afterwards; the
// values are copied.
func (m *Metrics) Scan(name string, chs []analysis.Channel, s analysis.Scan) {
	now := m.o.Now()
	m.mu.Lock()
	defer m.mu.Unlock()
	st := m.still(name)
	if !st.seen.IsZero() {
		st.pause = now.Sub(st.seen)
	}
	st.seen = now
	st.channels = chs
	st.scan = analysis.Scan{At: s.At, Values: append(st.scan.Values[:0], s.Values...)}
	st.scans++
	for i, v := range s.Values {
		if i < len(chs) && v.Quality != analysis.Good {
			st.bad[badLabels{chs[i].Name, v.Quality.String()}]++
		}
	}
}

// Status takes a still's present status.
func (m *Metrics) Status(name string, s analysis.Status) {
	now := m.o.Now()
	m.mu.Lock()
	defer m.mu.Unlock()
	st := m.still(name)
	st.status, st.told = &s, now
	clear(st.faults)
	for _, f := range s.Faults {
		st.faults[faultLabels{f.Fault, f.Channel}] = true
	}
}

// Fault takes a fault event; other events are ignored.
func (m *Metrics) Fault(e analysis.Event) {
	if e.Kind != analysis.FaultEvent {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	st := m.still(e.Still)
	key := faultLabels{e.Fault, e.Channel}
	switch e.State {
	case analysis.Raised:
		st.raised[e.Fault]++
		st.faults[key] = true
	case analysis.Cleared:
		delete(st.faults, key)
	}
}

// Run takes a run event, the result of a finished run; other events are ignored.
func (m *Metrics) Run(name string, e analysis.Event) {
	if e.Kind != analysis.RunEvent || e.Summary == nil {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	st := m.still(name)
	st.verdict[e.Verdict]++
	last := *e.Summary
	st.last = &last
}

// LastRun sets the result of the last finished run without counting a run: what a restart reads from
// the archive.
func (m *Metrics) LastRun(name string, s analysis.Summary) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.still(name).last = &s
}

// Alarms takes the whole alarm book.
func (m *Metrics) Alarms(all []alarm.Alarm) {
	counts := make(map[alarmLabels]int)
	for _, a := range all {
		if a.State != alarm.Normal {
			counts[alarmLabels{a.Still, a.State, a.Priority}]++
		}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.alarms = counts
}

// Forget drops a still that is no longer configured.
func (m *Metrics) Forget(name string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.stills, name)
}

func (m *Metrics) still(name string) *still {
	st := m.stills[name]
	if st == nil {
		st = &still{
			faults:  make(map[faultLabels]bool),
			raised:  make(map[analysis.Fault]uint64),
			verdict: make(map[analysis.Verdict]uint64),
			bad:     make(map[badLabels]uint64),
		}
		m.stills[name] = st
	}
	return st
}

// fresh reports whether numbers that were given at a time are still worth showing.
func (st *still) fresh(given, now time.Time, limit time.Duration) bool {
	if limit == 0 {
		limit = max(time.Minute, 5*st.pause)
	}
	return !given.IsZero() && now.Sub(given) <= limit
}

func names(stills map[string]*still) []string { return slices.Sorted(maps.Keys(stills)) }
