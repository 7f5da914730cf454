package ownplant

import (
	"math"
	"time"

	"luted/analysis"
	"luted/analysis/physics"
	"luted/collector/simstill"
)

// Trends across runs: what is wrong grows from run to run.
var trendCases = []Case{
	wear("seal wears", 17), wear("seal wears slowly", 19), wear("seal wears fast", 13),
	{Name: "oil and wall foul", Sets: measuring, history: 15, build: func(x *exhibit) {
		for i := 4; i < x.batches; i++ {
			x.plan = append(x.plan, simstill.Step{At: x.load(i).Add(-time.Minute), Fault: simstill.OilFouled, Size: 0.05 * float64(i-3)})
		}
		x.longer(4 * time.Hour)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i >= 4 {
				f.fault(analysis.ThermalOil, f.Start, i == x.last(), analysis.HeatTransferFalling)
				f.allow(analysis.HeatingSlow, analysis.PastDry)
			}
		}
	}},
	{Name: "gauge drifts", history: 11, build: func(x *exhibit) {
		for i := 3; i < x.batches; i++ {
			x.plan = append(x.plan, simstill.Step{At: x.load(i).Add(-time.Minute), Fault: simstill.GaugeOffset, Size: 0.6 * float64(i-2)})
		}
		x.judge = func(x *exhibit, i int, f *facts) {
			if i >= 3 {
				f.fault("", f.Start, i == x.last(), analysis.SignalImplausible)
				f.allow(vacuumFaults...)
				f.allow(analysis.BoilingPointOff)
				f.EndKPa = math.NaN() // nobody can read it from a gauge that is off
			}
		}
	}},
}

// wear is a gasket that wears a little with every run, so that the target is first missed about at a run.
func wear(name string, missedAt int) Case {
	return Case{Name: name, Seeds: 1, history: 23, build: func(x *exhibit) {
		x.solvent(name, 23, heavy...)
		e := x.o.Equipment
		room := physics.AtmosphericKPa(x.o.AltitudeM)
		// Choked air at 20 °C through 1 mm², kPa·L/s; the curve of the ejector bends a little.
		perMM2 := 0.7 * 1e-6 * room * 198600 / e.SpeedLS
		// The target lies 4 kPa above the end pressure. It takes some time constants to come near that, so it
		// is missed in the stated time when some 3 kPa of them are gone.
		x.altitude(x.o.AltitudeM)
		x.plan = append(x.plan, simstill.Step{At: x.start, Fault: simstill.SealWear, Size: math.Max(0.002, 3/perMM2/float64(missedAt))})
		warned := false
		x.judge = func(x *exhibit, i int, f *facts) {
			// Wear must have been called by the run in which the target is first missed.
			missed := !f.TargetMet
			f.fault(analysis.OpenToAir, f.Start, missed && !warned, analysis.SealWear)
			warned = warned || missed
			f.allow(analysis.VacuumShort, analysis.VacuumSlow)
		}
	}}
}
