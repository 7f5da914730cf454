package collector

import (
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
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

// size is called now and then with the size of the archive's files.
func (m metrics) size(bytes int64) {
	if m.to != nil {
		m.to.ArchiveSize(bytes)
	}
}

// lastRun is called at the start with a still's last finished run.
func (m metrics) lastRun(still string, s analysis.Summary) {
	if m.to != nil {
		m.to.LastRun(still, s)
	}
}

// writable is called after each try to commit, with the scans that wait in memory if it failed.
func (m metrics) writable(ok bool, waiting int) {
	if m.to != nil {
		m.to.Writable(ok, waiting)
	}
}

// lost is called when scans of a still are lost, with how many that makes since the start.
func (m metrics) lost(still string, scans int) {
	if m.to != nil {
		m.to.Lost(still, scans)
	}
}

// scans is called once with each scan, before the update that it belongs to.
func (m metrics) scans(scans []archive.Scan, stills map[string]*still) {
	if m.to == nil {
		return
	}
	for _, s := range scans {
		m.to.Scan(s.Still, stills[s.Still].cfg.Equipment.Channels, s.Scan)
	}
}

// published is called with each update, and the whole alarm book.
func (m metrics) published(u Update, alarms []alarm.Alarm) {
	if m.to == nil {
		return
	}
	for _, v := range u.Stills {
		m.to.Status(v.Still.Name, v.Status)
		m.to.ClockLead(v.Still.Name, v.Lead)
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
