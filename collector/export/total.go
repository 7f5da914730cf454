package export

import (
	"sync"

	"github.com/prometheus/client_golang/prometheus"
)

// total is a counter that somebody else counts: it shows the count it was last given.
type total struct {
	desc *prometheus.Desc
	mu   sync.Mutex
	n    map[string]int
}

func newTotal(name, help, label string) *total {
	return &total{desc: prometheus.NewDesc(name, help, []string{label}, nil), n: make(map[string]int)}
}

func (t *total) set(label string, n int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.n[label] = n
}

// Describe implements prometheus.Collector.
func (t *total) Describe(ch chan<- *prometheus.Desc) { ch <- t.desc }

// Collect implements prometheus.Collector.
func (t *total) Collect(ch chan<- prometheus.Metric) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for label, n := range t.n {
		ch <- prometheus.MustNewConstMetric(t.desc, prometheus.CounterValue, float64(n), label)
	}
}
