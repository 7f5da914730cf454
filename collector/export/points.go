package export

import (
	"bytes"
	"math"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"
	lp "github.com/influxdata/line-protocol"

	"luted/analysis"
	"luted/collector/archive"
)

// point is one point as it goes over the wire, and where it came from.
type point struct {
	line  string
	at    time.Time
	still string
	scan  time.Time // zero if it came from an entry
	seq   int64     // 0 if it came from a scan
}

// maker makes points.
type maker struct {
	site      string
	simulated bool
}

func newMaker(site string, simulated bool) maker { return maker{tagValue(site), simulated} }

// scan makes the point of a scan. Not ok: nothing was measured, there is nothing to say.
func (m maker) scan(still string, l archive.Layout, s analysis.Scan) (point, bool) {
	p := m.start("luted_scan", still, s.At)
	for i, v := range s.Values {
		if i >= len(l.Columns) || v.Quality == analysis.Missing {
			continue
		}
		name := fieldName(l.Columns[i].Name)
		if x, ok := v.OK(); !ok {
			p.AddField(name+"_quality", v.Quality.String())
		} else if !math.IsNaN(x) && !math.IsInf(x, 0) {
			p.AddField(name, x)
		}
	}
	return m.finish(p, point{at: s.At, still: still, scan: s.At})
}

// event makes the point of a fault or of a finished run. Not ok: another event.
func (m maker) event(seq int64, e analysis.Event) (point, bool) {
	var p *write.Point
	switch {
	case e.Kind == analysis.FaultEvent:
		p = m.fault(e)
	case e.Kind == analysis.RunEvent && e.Summary != nil:
		p = m.run(e)
	default:
		return point{}, false
	}
	return m.finish(p, point{at: e.At, still: e.Still, seq: seq})
}

func (m maker) fault(e analysis.Event) *write.Point {
	p := m.start("luted_fault", e.Still, e.At)
	p.AddTag("fault", tagValue(string(e.Fault)))
	p.AddTag("channel", tagValue(e.Channel))
	p.AddField("state", string(e.State))
	active := 0.0
	if e.State == analysis.Raised {
		active = 1
	}
	p.AddField("active", active)
	p.AddField("run", int64(e.Run))
	p.AddField("text", e.Text)
	for _, l := range e.Likely {
		number(p, "weight_"+string(l.Cause), &l.Weight)
	}
	return p
}

func (m maker) run(e analysis.Event) *write.Point {
	s := e.Summary
	p := m.start("luted_run", e.Still, e.At)
	p.AddField("run", int64(e.Run))
	p.AddField("verdict", string(s.Verdict))
	text(p, "why", s.Why)
	text(p, "solvent", s.Solvent)
	p.AddField("start", s.Start.UTC().Format(time.RFC3339Nano))
	p.AddField("end", s.End.UTC().Format(time.RFC3339Nano))
	seconds := s.End.Sub(s.Start).Seconds()
	number(p, "duration_s", &seconds)
	for ph, d := range phaseTimes(s.Phases) {
		spent := d.Seconds()
		number(p, "phase_"+string(ph)+"_s", &spent)
	}
	faults := make([]string, len(s.Faults))
	for i, f := range s.Faults {
		faults[i] = string(f)
	}
	text(p, "faults", strings.Join(faults, ","))
	if v := s.Vacuum; v != nil {
		number(p, "tau_s", v.TauS)
		number(p, "end_pressure_kpa", v.EndKPa)
		number(p, "time_to_target_s", v.TimeToTargetS)
		number(p, "leak_mbar_l_s", v.LeakMbarLS)
		number(p, "hole_mm", v.HoleMM)
	}
	if b := s.Boiling; b != nil {
		number(p, "plateau_c", b.PlateauC)
		number(p, "pressure_kpa", b.PressureKPa)
		number(p, "expected_c", b.ExpectedC)
	}
	if s.DryAt != nil {
		text(p, "dry_at", s.DryAt.UTC().Format(time.RFC3339Nano))
	}
	text(p, "dry_basis", s.DryBasis)
	number(p, "past_dry_s", s.PastDryS)
	number(p, "energy_kwh", s.EnergyKWh)
	text(p, "energy_basis", s.EnergyBasis)
	for ph, kwh := range s.EnergyByPhaseKWh {
		number(p, "energy_"+string(ph)+"_kwh", &kwh)
	}
	number(p, "recovered_l", s.RecoveredL)
	text(p, "recovered_basis", s.RecoveredBasis)
	number(p, "kwh_per_gal", s.KWhPerGal)
	number(p, "kwh_per_gal_u", s.KWhPerGalU)
	number(p, "minimum_kwh_per_gal", s.MinimumKWhPerGal)
	if c := s.Cost; c != nil {
		text(p, "currency", c.Currency)
		money(p, "energy_cost", c.Energy)
		money(p, "purchase_avoided", c.Purchase)
		money(p, "disposal_avoided", c.Disposal)
		money(p, "saving", c.Saving)
	}
	number(p, "bad_share", s.BadShare)
	return p
}

// number adds a figure that may be unknown: then the field is absent.
func number(p *write.Point, name string, v *float64) {
	if v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) {
		p.AddField(name, *v)
	}
}

// money adds an amount in the run's currency.
func money(p *write.Point, name string, f *analysis.CostFigure) {
	if f != nil {
		number(p, name, &f.Value)
	}
}

func text(p *write.Point, name, v string) {
	if v != "" {
		p.AddField(name, v)
	}
}

func (m maker) start(measurement, still string, at time.Time) *write.Point {
	p := write.NewPointWithMeasurement(measurement).SetTime(at)
	p.AddTag("site", m.site)
	p.AddTag("still", tagValue(still))
	if m.simulated {
		p.AddTag("simulated", "true")
	}
	return p
}

// finish encodes the point with the client library's own encoder, set as the client sets it.
func (m maker) finish(p *write.Point, into point) (point, bool) {
	if len(p.FieldList()) == 0 {
		return point{}, false
	}
	p.SortTags().SortFields() // so that the same point is the same line
	var buf bytes.Buffer
	e := lp.NewEncoder(&buf)
	e.SetFieldTypeSupport(lp.UintSupport)
	e.SetPrecision(time.Millisecond)
	if _, err := e.Encode(p); err != nil {
		return point{}, false // a point without a field that can be written
	}
	into.line = strings.TrimSuffix(buf.String(), "\n")
	return into, true
}

// fieldName makes a channel's name one that the line protocol allows: not beginning with an underscore,
// and not the reserved word time. (A single space, comma or equals sign is allowed, but the library's
// encoder leaves such a field out.)
func fieldName(name string) string {
	name = strings.TrimLeft(plain(name), "_")
	switch name {
	case "", " ", ",", "=":
		return "channel"
	case "time":
		return "time_"
	}
	return name
}

// tagValue makes a name one that the line protocol allows. Empty values are left out by the encoder.
func tagValue(v string) string { return plain(v) }

// plain replaces what the line protocol cannot carry in names: line feeds and the like, and the
// backslash, which cannot be escaped there and would escape the comma or space behind it.
func plain(v string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ':
			return ' '
		case r == '\\':
			return '/'
		}
		return r
	}, v)
}
