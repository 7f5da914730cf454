package collector

import (
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/export"
	"luted/collector/modbus"
)

// metrics tells the metrics what the pipeline does. The zero value tells nobody.
type metrics struct{ to *export.Metrics }

// swept is called for each sweep of a poller.
func (m metrics) swept(st *still, s modbus.Sweep) {
	if m.to == nil || st == nil || st.cfg.Line == nil {
		return
	}
	m.to.Sweep(st.cfg.Line.Name, s.Still, s.Took, s.Missed, s.Result.Errors)
}

// committed is called after each commit: lag is the age of its oldest scan.
func (m metrics) committed(lag, took time.Duration) {
	if m.to != nil {
		m.to.Archive(lag, took)
	}
}

// published is called with each update, and the whole alarm book.
func (m metrics) published(u Update, alarms []alarm.Alarm) {
	if m.to == nil {
		return
	}
	for _, v := range u.Stills {
		if !v.Scan.At.IsZero() {
			m.to.Scan(v.Still.Name, v.Still.Equipment.Channels, v.Scan)
		}
		m.to.Status(v.Still.Name, v.Status)
	}
	for _, e := range u.Events {
		switch e.Kind {
		case analysis.FaultEvent:
			m.to.Fault(e)
		case analysis.RunEvent:
			m.to.Run(e.Still, e)
		}
	}
	m.to.Alarms(alarms)
}
