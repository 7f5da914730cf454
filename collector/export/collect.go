package export

import (
	"math"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"luted/analysis"
	"luted/analysis/alarm"
)

// present is the collector of the present moment. It builds the series at each scrape from what is true
// then, so that a value that has gone bad is gone, and not standing at its last good number.
type present struct{ m *Metrics }

// Describe implements prometheus.Collector.
func (present) Describe(ch chan<- *prometheus.Desc) {
	for _, f := range families {
		ch <- f.desc
	}
}

// Collect implements prometheus.Collector.
func (p present) Collect(ch chan<- prometheus.Metric) {
	p.m.mu.Lock()
	defer p.m.mu.Unlock()
	now := p.m.o.Now()
	for _, name := range names(p.m.stills) {
		st := p.m.stills[name]
		e := emit{ch, name}
		e.counters(st)
		e.last(st.last)
		if st.fresh(st.seen, now, p.m.o.Stale) {
			e.values(st)
		}
		if st.status != nil {
			e.status(st)
		}
		if st.fresh(st.told, now, p.m.o.Stale) {
			e.figures(st.status)
		}
	}
	for l, n := range p.m.alarms {
		emit{ch, l.still}.send(alarms, float64(n), string(l.state), string(l.priority))
	}
}

// emit sends the series of one still.
type emit struct {
	ch    chan<- prometheus.Metric
	still string
}

func (e emit) send(f family, v float64, labels ...string) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return // no number: as absent as a bad value
	}
	e.ch <- prometheus.MustNewConstMetric(f.desc, f.kind, v, append([]string{e.still}, labels...)...)
}

// maybe sends a figure that may be unknown.
func (e emit) maybe(f family, v *float64, factor float64) {
	if v != nil {
		e.send(f, *v*factor)
	}
}

func (e emit) time(f family, t time.Time) {
	if !t.IsZero() {
		e.send(f, float64(t.UnixMilli())/1000)
	}
}

func (e emit) counters(st *still) {
	e.send(scans, float64(st.scans))
	for l, n := range st.bad {
		e.send(badValues, float64(n), l.channel, l.quality)
	}
	for _, f := range alarm.Faults {
		e.send(raisedAll, float64(st.raised[f]), string(f))
	}
	for _, v := range verdicts {
		e.send(runs, float64(st.verdict[v]), string(v))
	}
}

func (e emit) values(st *still) {
	e.time(scanTime, st.scan.At)
	for i, v := range st.scan.Values {
		x, ok := v.OK()
		if !ok || i >= len(st.channels) {
			continue
		}
		c := st.channels[i]
		d, known := dimensions[c.Dimension]
		switch {
		case !known:
			e.send(other, x, c.Name, c.Unit)
		case d.label != "":
			e.send(d.family, x*d.factor, c.Name, d.label)
		default:
			e.send(d.family, x*d.factor, c.Name)
		}
	}
}

func (e emit) status(st *still) {
	s := st.status
	for _, p := range phases {
		e.send(phase, one(s.Phase == p), string(p))
	}
	e.time(phaseSince, s.PhaseSince)
	e.send(runActive, one(s.Run != 0))
	raised := make(map[analysis.Fault]bool)
	for l := range st.faults {
		raised[l.fault] = true
		if l.channel != "" {
			e.send(chFault, 1, l.channel, string(l.fault))
		}
	}
	for _, f := range alarm.Faults {
		e.send(fault, one(raised[f]), string(f))
	}
}

// figures are the numbers of the present moment.
func (e emit) figures(s *analysis.Status) {
	e.maybe(nowPressure, s.PressureKPa, 1000)
	e.maybe(nowTarget, s.TargetKPa, 1000)
	e.maybe(nowFloor, s.VaporFloorKPa, 1000)
	e.maybe(nowSaturation, s.SaturationC, 1)
	if s.Forecast != nil {
		e.send(nowEnd, s.Forecast.EndKPa*1000)
		e.send(nowChance, s.Forecast.ChanceOK)
	}
	e.maybe(nowEnergy, s.EnergyKWh, joulesPerKWh)
	e.maybe(nowRecovered, s.RecoveredL, 1)
	e.maybe(nowRemaining, s.RemainingS, 1)
}

func (e emit) last(s *analysis.Summary) {
	if s == nil {
		return
	}
	for _, v := range verdicts {
		e.send(lastVerdict, one(s.Verdict == v), string(v))
	}
	e.time(lastEnd, s.End)
	e.send(lastDuration, s.End.Sub(s.Start).Seconds())
	for p, d := range phaseTimes(s.Phases) {
		e.send(lastPhase, d.Seconds(), string(p))
	}
	e.maybe(lastEnergy, s.EnergyKWh, joulesPerKWh)
	e.maybe(lastRecovered, s.RecoveredL, 1)
	e.maybe(lastPer, s.KWhPerGal, joulesPerKWh/litersPerGallon)
	e.maybe(lastPerU, s.KWhPerGalU, joulesPerKWh/litersPerGallon)
	e.maybe(lastPerMin, s.MinimumKWhPerGal, joulesPerKWh/litersPerGallon)
	if v := s.Vacuum; v != nil {
		e.maybe(lastTau, v.TauS, 1)
		e.maybe(lastPressure, v.EndKPa, 1000)
		e.maybe(lastToTarget, v.TimeToTargetS, 1)
		e.maybe(lastLeak, v.LeakMbarLS, 0.1) // 1 mbar·L/s = 100 Pa × 0.001 m³/s
	}
	if b := s.Boiling; b != nil {
		e.maybe(lastPlateau, b.PlateauC, 1)
	}
	e.maybe(lastPastDry, s.PastDryS, 1)
}

// phaseTimes adds up the spans of a run by phase: a phase may come more than once.
func phaseTimes(spans []analysis.PhaseSpan) map[analysis.Phase]time.Duration {
	out := make(map[analysis.Phase]time.Duration)
	for _, p := range spans {
		if !p.End.IsZero() {
			out[p.Name] += p.End.Sub(p.Start)
		}
	}
	return out
}

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
