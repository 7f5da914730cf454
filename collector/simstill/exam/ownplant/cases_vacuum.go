package ownplant

import (
	"fmt"
	"slices"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// pump is a case of a pump-down with a hole of some size, or with less suction.
func pump(name string, history, seeds int, f simstill.Fault, size float64, cause func(set string) analysis.Cause, change func(*exhibit)) Case {
	return Case{Name: name, Seeds: seeds, history: history, build: func(x *exhibit) {
		if change != nil {
			change(x)
		}
		x.fault(f, size)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				x.pumpFault(i, f, cause(x.set))
			}
		}
	}}
}

func always(c analysis.Cause) func(string) analysis.Cause {
	return func(string) analysis.Cause { return c }
}

func every(d time.Duration) func(*exhibit) { return func(x *exhibit) { x.poll = d } }

var open = always(analysis.OpenToAir)

var vacuumCases = slices.Concat([]Case{
	pump("open lid", 0, 3, simstill.OpenLid, 30, open, every(time.Second)),
	pump("open lid, 12 mm", 2, 2, simstill.OpenLid, 12, open, every(time.Second)),
	pump("open lid, 10 s", 0, 2, simstill.OpenLid, 60, open, every(10*time.Second)),
	pump("open lid, inHg steps", 1, 1, simstill.OpenLid, 40, open, func(x *exhibit) { x.o.Sensors.GaugeStep = 1.693 }),
	pump("open lid, 2700 m", 0, 1, simstill.OpenLid, 30, open, func(x *exhibit) { x.altitude(2700); x.poll = time.Second }),
	pump("drain valve open", 0, 1, simstill.DrainValveOpen, 9, open, every(time.Second)),
	pump("drain valve open, 4 mm", 2, 1, simstill.DrainValveOpen, 4, open, nil),
},
	leaks(),
	[]Case{
		pump("weak air", 4, 2, simstill.WeakAir, 0.45, weakAir, nil).also(supply),
		pump("weak air, new still", 0, 1, simstill.WeakAir, 0.35, weakAir, nil).also(supply),
		pump("no air", 0, 1, simstill.WeakAir, 1, weakAir, every(time.Second)).also(supply),
		pump("ejector worn", 4, 2, simstill.EjectorWorn, 0.5, always(analysis.Ejector), nil).also(slow),
		pump("ejector worn, 0.3", 4, 1, simstill.EjectorWorn, 0.3, always(analysis.Ejector), nil).also(slow),
		lost("seal lost while boiling", 6, 0), lost("seal lost while boiling, 12 mm", 12, 1), lost("seal lost while boiling, learned", 9, 4),
		{Name: "air fails while boiling", Sets: []string{Typical, Full}, history: 1, build: func(x *exhibit) {
			at := x.faultAt(75*time.Minute, simstill.WeakAir, 0.6)
			x.judge = func(x *exhibit, i int, f *facts) {
				if i == x.last() {
					f.fault(analysis.AirSupply, at, true, analysis.AirSupplyLow)
					f.allow(analysis.VacuumLost)
				}
			}
		}},
		{Name: "lid eased open for half a minute", history: 1, build: func(x *exhibit) {
			x.brief(60*time.Minute, 30*time.Second, simstill.Leak, 6)
			x.judge = allowed(analysis.VacuumLost)
		}},
	})

// also adds to what is judged.
func (c Case) also(more func(x *exhibit, f *facts)) Case {
	build := c.build
	c.build = func(x *exhibit) {
		build(x)
		judge := x.judge
		x.judge = func(x *exhibit, i int, f *facts) {
			judge(x, i, f)
			if i == x.last() {
				more(x, f)
			}
		}
	}
	return c
}

// weakAir: two channels cannot tell weak air from a tired ejector.
func weakAir(set string) analysis.Cause {
	if set == Two {
		return ""
	}
	return analysis.AirSupply
}

// supply: where the air is measured it is below its minimum.
func supply(x *exhibit, f *facts) {
	f.fault(analysis.AirSupply, f.PumpStart, x.set != Two, analysis.AirSupplyLow)
}

// slow: a pump-down half as fast again as this still's own is slow, if it still comes to its target.
func slow(x *exhibit, f *facts) {
	if len(f.Faults) == 0 {
		f.fault(analysis.Ejector, f.PumpStart, f.TauS > 0 && x.o.Equipment.GasVolumeL()/x.o.Equipment.SpeedLS < f.TauS/1.6, analysis.VacuumSlow, analysis.VacuumShort)
	}
}

// leaks are holes from one that leaves the target in reach to one that an open lid is not far from.
func leaks() []Case {
	var out []Case
	for _, mm := range []float64{0.8, 1.2, 1.6, 2.2, 3, 4.5} {
		// Holes grow with the still: these are for 60 L.
		size := (*exhibit).resize
		out = append(out,
			leak(fmt.Sprintf("leak %g mm", mm), 0, mm, size),
			leak(fmt.Sprintf("leak %g mm, learned", mm), 4, mm, size))
	}
	return append(out,
		leak("leak 2 mm, every 10 s", 0, 2, func(x *exhibit) { x.poll = 10 * time.Second; x.resize() }),
		leak("leak 2 mm, inHg steps, every 5 s", 1, 2, func(x *exhibit) { x.poll, x.o.Sensors.GaugeStep = 5*time.Second, 1.693; x.resize() }),
		leak("leak 2 mm, noise fourfold", 1, 2, func(x *exhibit) { x.o.Sensors.Noise = 4; x.resize() }),
		leak("leak 2 mm, 2200 m", 1, 2, func(x *exhibit) { x.altitude(2200); x.resize() }),
		leak("leak 2 mm, volatile charge", 4, 2, func(x *exhibit) { x.solvent("volatile leak", 4, "acetone", "methyl ethyl ketone"); x.resize() }),
		leak("leak 2 mm, gauge lag 6 s", 0, 2, func(x *exhibit) { x.o.Sensors.GaugeLagS = 6; x.resize() }))
}

func leak(name string, history int, mm float64, change func(*exhibit)) Case {
	return pump(name, history, 2, simstill.Leak, mm, open, change)
}

// resize makes every still's gas space and ejector those of a 60 L still, whose holes these are.
func (x *exhibit) resize() {
	e := &x.o.Equipment
	k := 1.1 / e.SpeedLS // keeps the time constant
	if k < 0.6 || k > 1.6 {
		k = min(max(k, 0.6), 1.6)
	}
	e.SpeedLS *= k
	e.HeadL *= k
	e.ReceiverL = max(e.ReceiverL*k, e.ChargeL)
}

// lost is a gasket that lets go five minutes after the charge began to boil.
func lost(name string, mm float64, history int) Case {
	return Case{Name: name, history: history, build: func(x *exhibit) {
		x.fault(simstill.SealLost, mm)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i != x.last() || f.tr.BoilAt.IsZero() {
				return
			}
			from := f.tr.BoilAt.Add(5 * time.Minute)
			heated := f.tr.HeatOffAt.IsZero() || f.tr.HeatOffAt.Sub(from) > 20*time.Minute
			names := []analysis.Fault{analysis.VacuumLost}
			if f.metAt.IsZero() || f.metAt.After(from) || from.Sub(f.PumpStart) < x.within {
				names = append(names, analysis.VacuumNotPulled, analysis.VacuumShort) // it boiled before the vacuum was there
			}
			f.fault(analysis.OpenToAir, from, heated && f.highKPa > x.target+15, names...)
			f.allow(analysis.BoilingPointOff, analysis.PastDry, analysis.VacuumShort)
		}
	}}
}
