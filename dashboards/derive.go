package dashboards

import (
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/analysis/solvent"
	"luted/config"
)

// The lines that a picture of a run has besides the channels. They follow the rules of the analysis: the
// absolute pressure is measured, or what the barometer (else the site's altitude) leaves above the vacuum.
const (
	pressureLine   = "pressure"               // kPa absolute
	saturationLine = "saturation_temperature" // where the stated solvent boils at that pressure, °C
	floorLine      = "vapor_pressure"         // what the charge holds by itself at its temperature, kPa absolute
)

// deriver works those lines out for one still.
type deriver struct {
	sat        *solvent.Saturation // nil: solvent not known
	atmosphere float64             // of the altitude, kPa
	fitted     []string
}

func newDeriver(c *config.Still, altitudeM float64) *deriver {
	d := &deriver{atmosphere: physics.AtmosphericKPa(altitudeM)}
	if c.Equipment.Solvent.Known() {
		if sat, err := solvent.NewSaturation(c.Equipment.Solvent); err == nil {
			d.sat = sat // an unknown part: no line rather than a wrong one
		}
	}
	for _, ch := range c.Channels {
		d.fitted = append(d.fitted, ch.Name)
	}
	return d
}

// needs are the channels it reads that are not among the names already.
func (d *deriver) needs(names []string) []string {
	var out []string
	for _, sig := range []analysis.Signal{analysis.StillPressure, analysis.StillVacuum, analysis.BarometricPressure, analysis.ChargeTemperature} {
		if name := string(sig); slices.Contains(d.fitted, name) && !slices.Contains(names, name) {
			out = append(out, name)
		}
	}
	return out
}

// derive makes the lines from the buckets. The saturation temperature is that of the mean pressure, while
// there is something to boil; the charge's own pressure is drawn until it boils, as what is left in the pot
// afterwards is no longer the solvent.
func (d *deriver) derive(list []bucket, columns []string, phases []phaseMark, packed bool) []series {
	pressures := make([]bucket, len(list))
	saturation := make([]bucket, len(list))
	floor := make([]bucket, len(list))
	find := func(sig analysis.Signal) func(b *bucket) *aggregate {
		i := slices.Index(columns, string(sig))
		return func(b *bucket) *aggregate {
			if i < 0 || b.columns[i].n == 0 {
				return nil
			}
			return &b.columns[i]
		}
	}
	abs, vac := find(analysis.StillPressure), find(analysis.StillVacuum)
	baro, charge := find(analysis.BarometricPressure), find(analysis.ChargeTemperature)
	for i := range list {
		b := &list[i]
		for _, line := range [][]bucket{pressures, saturation, floor} {
			line[i] = bucket{b.start, make([]aggregate, 1)}
		}
		p := d.pressure(abs(b), vac(b), baro(b))
		if p.n > 0 {
			pressures[i].columns[0] = p
		}
		if d.sat == nil {
			continue
		}
		phase := phaseAt(phases, b.start)
		if p.n > 0 && phase != analysis.Idle && phase != analysis.CoolDown {
			one(&saturation[i], p.mean(), d.sat.BoilingC)
		}
		if c := charge(b); c != nil && (phase == analysis.PumpDown || phase == analysis.HeatUp) {
			one(&floor[i], c.mean(), d.sat.VaporPressureKPa)
		}
	}
	var out []series
	for _, l := range []struct {
		list []bucket
		as   series
	}{
		{pressures, series{Name: pressureLine, Words: "absolute pressure", Dimension: analysis.AbsolutePressure}},
		{saturation, series{Name: saturationLine, Words: "boiling point at this pressure", Dimension: analysis.Temperature}},
		{floor, series{Name: floorLine, Words: "vapour floor", Dimension: analysis.AbsolutePressure}},
	} {
		if slices.ContainsFunc(l.list, func(b bucket) bool { return b.columns[0].n > 0 }) {
			l.as.Unit, l.as.Derived = l.as.Dimension.InsideUnit(), true
			out = append(out, seriesOf(l.list, 0, packed, l.as))
		}
	}
	return out
}

// pressure is the absolute pressure of one bucket; n is 0 if it is not known.
func (d *deriver) pressure(abs, vac, baro *aggregate) aggregate {
	if abs != nil {
		return *abs
	}
	if vac == nil {
		return aggregate{}
	}
	atmosphere := d.atmosphere
	if baro != nil && analysis.BarometerFits(baro.mean(), d.atmosphere) {
		atmosphere = baro.mean()
	}
	return aggregate{min: atmosphere - vac.max, max: atmosphere - vac.min, sum: (atmosphere - vac.mean()) * vac.n, n: vac.n}
}

// one puts f(x) into a bucket if it is known there.
func one(b *bucket, x float64, f func(float64) (float64, bool)) {
	if y, ok := f(x); ok {
		b.columns[0].add(y, y, y, 1)
	}
}

// phaseAt is the phase at a time; idle outside all of them.
func phaseAt(phases []phaseMark, at time.Time) analysis.Phase {
	for _, p := range phases {
		if !at.Before(p.Start) && (p.End == nil || at.Before(*p.End)) {
			return p.Name
		}
	}
	return analysis.Idle
}

func nameIs(name string) func(*config.Channel) bool {
	return func(c *config.Channel) bool { return c.Name == name }
}
