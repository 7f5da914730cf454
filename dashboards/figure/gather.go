package figure

import (
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/config"
)

// before and after are how much of the time around a run is shown.
const (
	before = 10 * time.Minute
	after  = 5 * time.Minute
)

// Gatherer keeps what pictures of runs need. Give it every scan with the status after it, then the events
// that the scan caused.
type Gatherer struct {
	title   string
	still   analysis.Still
	zone    *time.Location
	display analysis.Display

	seen   []sample // of the run, and of the time before it
	faults []Mark
	early  analysis.Forecast // the first sure forecast of the run
	fault  analysis.Forecast // the one that a fault was raised on
	at     [2]time.Time      // of early and fault
	from   [2]float64        // pressure then, kPa absolute
	run    int
	status analysis.Status
}

// sample is one scan with what the analysis made of it; NaN is not known.
type sample struct {
	at                                          time.Time
	temperature                                 [4]float64 // as in temperatures
	saturation, pressure, vacuum, power, volume float64
	phase                                       analysis.Phase
}

// temperatures are the lines of the first panel.
var temperatures = [...]struct {
	signal analysis.Signal
	name   string
	look   look
}{
	{analysis.JacketTemperature, "oil", look{color: oilColor}},
	{analysis.ChargeTemperature, "charge", look{color: chargeColor}},
	{analysis.VaporTemperature, "vapour", look{color: vaporColor}},
	{analysis.CondensateTemperature, "condensate", look{color: condensateColor}},
}

// NewGatherer gathers for pictures of a still with the channels of the scans.
func NewGatherer(title string, still analysis.Still, zone *time.Location, display analysis.Display) *Gatherer {
	return &Gatherer{title: title, still: still, zone: zone, display: display}
}

// Scan takes one scan and the status after it.
func (g *Gatherer) Scan(s analysis.Scan, status analysis.Status) {
	if g.status.Run == 0 { // and if a run had just ended, its picture has been made
		g.forget(s.At.Add(-2 * before))
	}
	g.status = status
	p := sample{at: s.At, saturation: deref(status.SaturationC), pressure: deref(status.PressureKPa), vacuum: math.NaN(), volume: math.NaN(), power: math.NaN(), phase: status.Phase}
	for i := range p.temperature {
		p.temperature[i] = math.NaN()
	}
	for i, ch := range g.still.Channels {
		v, ok := s.Values[i].OK()
		if !ok {
			continue
		}
		switch ch.Signal {
		case analysis.HeaterPower:
			p.power = v
		case analysis.DistillateVolume:
			p.volume = v
		case analysis.StillVacuum:
			p.vacuum = v
		}
		for j, t := range temperatures {
			if ch.Signal == t.signal {
				p.temperature[j] = v
			}
		}
	}
	if math.IsNaN(p.pressure) && !math.IsNaN(p.vacuum) { // the analysis has just rested, or does not believe it
		p.pressure = g.atmosphere() - p.vacuum
	}
	g.seen = append(g.seen, p)
	g.forecast(s.At, status)
}

// forget drops what is too old to be shown before the next run.
func (g *Gatherer) forget(until time.Time) {
	n := 0
	for n < len(g.seen) && g.seen[n].at.Before(until) {
		n++
	}
	if n > 256 {
		g.seen = append(g.seen[:0], g.seen[n:]...)
	}
}

// forecast keeps the first forecast of a run that is sure to a tenth of the atmosphere or so.
func (g *Gatherer) forecast(at time.Time, st analysis.Status) {
	if st.Run != 0 && st.Run != g.run { // 0: the last one may still have to be drawn
		g.run, g.at = st.Run, [2]time.Time{}
	}
	if st.Forecast == nil || st.PressureKPa == nil || !g.at[0].IsZero() || st.Forecast.EndSDKPa > 3 {
		return
	}
	g.early, g.at[0], g.from[0] = *st.Forecast, at, *st.PressureKPa
}

// Event takes what the analysis said about the last scan. At the end of a run it returns the picture.
func (g *Gatherer) Event(e analysis.Event) *Run {
	switch e.Kind {
	case analysis.FaultEvent:
		name := string(e.Fault)
		if e.Channel != "" {
			name += " (" + e.Channel + ")"
		}
		if e.State == analysis.Raised {
			g.faults = append(g.faults, Mark{Fault: name, From: e.At})
			if f := g.status.Forecast; f != nil && g.status.PressureKPa != nil && e.Fault == analysis.VacuumShort {
				g.fault, g.at[1], g.from[1] = *f, e.At, *g.status.PressureKPa
			}
			return nil
		}
		for i := range g.faults {
			if g.faults[i].Fault == name && g.faults[i].To.IsZero() {
				g.faults[i].To = e.At
			}
		}
	case analysis.RunEvent:
		if e.Summary != nil {
			return g.finish(e)
		}
	}
	return nil
}

// finish makes the picture of the run that has ended, and makes room for the next.
func (g *Gatherer) finish(e analysis.Event) *Run {
	r := &Run{Number: e.Run, Title: g.title, Zone: g.zone, Display: g.display, Summary: *e.Summary}
	r.from, r.to = e.Start.Add(-before), e.End.Add(after)
	var shown []sample
	for _, p := range g.seen {
		if !p.at.Before(r.from) && !p.at.After(r.to) {
			shown = append(shown, p)
		}
	}
	if len(shown) > 0 {
		r.from = shown[0].at
		r.to = shown[len(shown)-1].at
	}
	var standing []Mark
	for _, f := range g.faults {
		if f.To.IsZero() || f.To.After(e.Start) {
			r.Faults = append(r.Faults, f)
		}
		if f.To.IsZero() {
			standing = append(standing, f)
		}
	}
	g.faults = standing
	g.panels(r, shown)
	g.seen, g.at = g.seen[:0], [2]time.Time{}
	return r
}

// panels turns the samples into lines, in the units of the reader.
func (g *Gatherer) panels(r *Run, shown []sample) {
	unit := func(d analysis.Dimension) func(float64) float64 {
		return config.DisplayUnit(d, g.display).FromInside
	}
	line := func(name string, look look, convert func(float64) float64, of func(sample) float64) line {
		l := line{name: name, look: look}
		for _, p := range shown {
			l.points = append(l.points, point{p.at, convert(of(p))})
		}
		return l.thinned()
	}
	t := unit(analysis.Temperature)
	r.temperatures = panel{name: "temperature, " + config.DisplayUnit(analysis.Temperature, g.display).Symbol, weight: 3}
	for i, k := range temperatures {
		r.temperatures.add(line(k.name, k.look, t, func(p sample) float64 { return p.temperature[i] }))
	}
	name := "boiling point"
	if s := g.still.Solvent; len(s.Parts) == 1 {
		name = "boiling point of " + s.Parts[0].Name
	} else if len(s.Parts) > 1 {
		name = "boiling point of the blend"
	}
	r.temperatures.add(line(name+" at the pressure", look{color: saturationColor, dashes: dashed}, t, func(p sample) float64 {
		if p.phase == analysis.Idle || p.phase == analysis.CoolDown {
			return math.NaN() // nothing boils
		}
		return p.saturation
	}))
	atm := g.atmosphere()
	vac := unit(analysis.Vacuum)
	pressure, what := unit(analysis.AbsolutePressure), "pressure, kPa absolute"
	measured := func(p sample) float64 { return p.pressure }
	if g.display == analysis.US {
		pressure, what = func(kPa float64) float64 { return vac(atm - kPa) }, "vacuum, inHg"
		measured = func(p sample) float64 {
			if !math.IsNaN(p.vacuum) {
				return atm - p.vacuum // as the gauge shows it, whatever the weather
			}
			return p.pressure
		}
	}
	r.pressure = panel{name: what, weight: 2}
	r.pressure.add(line("measured", look{color: pressureColor}, pressure, measured))
	g.targets(r, pressure)
	r.power = panel{name: "power, kW", weight: 1.3, zero: true}
	r.power.add(line("heater", look{color: powerColor}, unit(analysis.Power), func(p sample) float64 { return p.power }))
	r.distillate = panel{name: "distillate, " + config.DisplayUnit(analysis.Volume, g.display).Symbol, weight: 1.3, zero: true}
	r.distillate.add(line("in the receiver", look{color: distillateColor}, unit(analysis.Volume), func(p sample) float64 { return p.volume }))
}

// atmosphere is that of the place in standard weather, against which a vacuum is drawn, kPa absolute.
func (g *Gatherer) atmosphere() float64 { return physics.AtmosphericKPa(g.still.AltitudeM) }

// targets adds the target of the vacuum and the forecast.
func (g *Gatherer) targets(r *Run, convert func(float64) float64) {
	if r.pressure.empty() {
		return
	}
	start, end := r.Summary.Start, r.Summary.End
	if kPa := g.still.Vacuum.TargetKPa; kPa > 0 {
		v := convert(kPa)
		r.pressure.add(line{name: "target", look: look{color: targetColor, dashes: dashed}, points: []point{{start, v}, {end, v}}})
	}
	f, at, from := g.early, g.at[0], g.from[0]
	if !g.at[1].IsZero() {
		f, at, from = g.fault, g.at[1], g.from[1]
	}
	if at.IsZero() || f.TauS <= 0 {
		return
	}
	l := line{name: "forecast of " + at.In(g.zone).Format("15:04:05"), look: look{color: forecastColor, dashes: dotted}}
	until := at.Add(time.Duration(6 * f.TauS * float64(time.Second)))
	if within := start.Add(g.still.Vacuum.Within); until.Before(within) {
		until = within
	}
	if until.After(end) {
		until = end
	}
	step := max(until.Sub(at)/60, time.Millisecond)
	for t := at; !t.After(until); t = t.Add(step) {
		kPa := f.EndKPa + (from-f.EndKPa)*math.Exp(-t.Sub(at).Seconds()/f.TauS)
		l.points = append(l.points, point{t, convert(kPa)})
	}
	r.pressure.add(l)
}

func deref(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}
