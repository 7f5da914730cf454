package export

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// trouble is what the pipeline has to say when the archive or the clock fails it.
type trouble struct {
	writable prometheus.Gauge
	waiting  prometheus.Gauge
	lost     *total
	lead     *prometheus.GaugeVec
}

func newTrouble(reg prometheus.Registerer) trouble {
	t := trouble{
		writable: prometheus.NewGauge(prometheus.GaugeOpts{Name: "luted_archive_writable", Help: "1 while scans can be stored, 0 while the archive refuses them."}),
		waiting:  prometheus.NewGauge(prometheus.GaugeOpts{Name: "luted_archive_waiting_scans", Help: "Scans that wait in memory because the archive could not be written."}),
		lost:     newTotal("luted_archive_lost_scans_total", "Scans lost since the start of the program because the archive could not be written for too long.", "still"),
		lead: prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "luted_clock_lead_seconds",
			Help: "How far the times of a still's scans are ahead of the clock after it was set back; normally 0."}, []string{"still"}),
	}
	t.writable.Set(1)
	reg.MustRegister(t.writable, t.waiting, t.lost, t.lead)
	return t
}

// Writable takes whether the archive can be written, and how many scans wait in memory if not.
func (m *Metrics) Writable(ok bool, waiting int) {
	m.health.trouble.writable.Set(0)
	if ok {
		m.health.trouble.writable.Set(1)
	}
	m.health.trouble.waiting.Set(float64(waiting))
}

// Lost takes how many of a still's scans have been lost since the start because the archive could not be
// written.
func (m *Metrics) Lost(still string, scans int) { m.health.trouble.lost.set(still, scans) }

// ClockLead takes how far a still's scans are stamped ahead of the clock.
func (m *Metrics) ClockLead(still string, lead time.Duration) {
	m.health.trouble.lead.WithLabelValues(still).Set(lead.Seconds())
}
