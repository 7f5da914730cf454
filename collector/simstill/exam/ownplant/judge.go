package ownplant

import (
	"math"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill/exam/paper"
)

// What must be found follows from the books. Between what must and what must not be called lies what a
// careful expert could call or leave: it is allowed. The limits in this file are those of an expert who has
// the catalogue's sentence, the ratings and the whole recording before him; no source.

// after are faults that another fault of the run may bring with it.
var after = []analysis.Fault{analysis.NotDry, analysis.YieldLow, analysis.EnergyHigh, analysis.CondenserWarm, analysis.GasLevelHigh,
	analysis.HeatingSlow, analysis.SealWear}

func (f *facts) fault(cause analysis.Cause, from time.Time, due bool, names ...analysis.Fault) {
	f.Faults = append(f.Faults, paper.Fault{Names: names, Cause: cause, From: from, Due: due})
	f.allow(after...)
}

func (f *facts) allow(faults ...analysis.Fault) { f.Allowed = append(f.Allowed, faults...) }

// unsureKPa is how near to the target an end pressure may lie before nobody can say on which side it is: a
// display step, the gauge's calibration, and half a kPa for the curve of the ejector.
func (x *exhibit) unsureKPa() float64 {
	return 0.8 + x.o.Sensors.GaugeStep/2 + 0.6*math.Max(0, x.o.Sensors.Offsets)
}

// vacuum: a pump-down that levels off short of the target must be called if something was done to the still,
// and may be if its charge alone holds it up.
func (x *exhibit) vacuum(i int, f *facts) {
	if x.target <= 0 || f.PumpStart.IsZero() || math.IsInf(f.lowKPa, 1) {
		return
	}
	short := f.shownEndKPa - x.target
	switch {
	case f.metAt.IsZero() || short > -x.unsureKPa():
		f.allow(analysis.VacuumShort, analysis.VacuumSlow)
		if f.lowKPa > 0.7*f.tr.RoomKPa {
			f.allow(analysis.VacuumNotPulled)
		}
	case f.metAt.Sub(f.PumpStart) > x.within*8/10:
		f.allow(analysis.VacuumShort, analysis.VacuumSlow)
	}
}

// coldVaporKPa is what the cold charge may hold to the best of an expert's knowledge: of the solvent stated, or
// of acetone, the most volatile that shops distil; at the temperature of the thermometer in it, or 5 K above
// the truth with none.
func (x *exhibit) coldVaporKPa(f *facts) float64 {
	c := f.coldC + 1
	if x.set == Two {
		c = f.coldC + 5
	}
	mix := x.stated
	if !mix.Known() {
		mix = solvent.Mixture{Parts: []solvent.Part{{Name: "acetone", Fraction: 1}}}
	}
	kPa, _ := mix.VaporPressureKPa(c)
	return kPa
}

// pumpFault is for runs in which something was done to the vacuum: called if it ends short. A charge whose own
// vapour holds as much hides that from anyone who has not seen this still do better: it may be called then.
// A worn ejector or weak air that such a charge hides is called slow by who has.
func (x *exhibit) pumpFault(i int, f *facts, cause analysis.Cause) {
	if short := f.shownEndKPa - x.target; short <= x.unsureKPa() {
		return
	}
	hidden := f.shownEndKPa < 1.1*x.coldVaporKPa(f)+x.unsureKPa()
	if hidden && i < 3 {
		f.fault(cause, f.PumpStart, false, analysis.VacuumShort, analysis.VacuumNotPulled)
		f.allow(analysis.VacuumSlow, analysis.BoilingPointOff)
		return
	}
	names := []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled}
	if f.lowKPa > 0.85*f.tr.RoomKPa {
		slices.Reverse(names)
	}
	if hidden {
		names = append(names, analysis.VacuumSlow)
	}
	f.fault(cause, f.PumpStart, true, names...)
	f.allow(analysis.VacuumSlow, analysis.BoilingPointOff)
}

// ending: solvent left in the bag, or heated long after there was none.
func (x *exhibit) ending(i int, f *facts) {
	tr := f.tr
	if tr.HeatOffAt.IsZero() {
		return
	}
	measured := x.set != Two
	switch {
	case f.leftShare > 0.1 && f.coming > 0.01 && tr.HeatOffAt.Sub(tr.BoilAt) > 20*time.Minute:
		f.fault("", tr.HeatOffAt, measured, analysis.NotDry)
		f.allow(analysis.HeatingStalled) // heat that is taken away under vacuum looks like heat that fails
	case f.leftShare > 0.01:
		f.allow(analysis.NotDry, analysis.YieldLow)
	}
	if f.tr.DryAt.IsZero() {
		f.allow(analysis.HeatingStalled)
	}
	if tr.DryAt.IsZero() {
		return
	}
	switch past := tr.HeatOffAt.Sub(tr.DryAt); {
	case past > 140*time.Minute && x.o.Stated.Hold == 0:
		f.fault("", tr.DryAt, measured, analysis.PastDry)
		f.allow(analysis.HeatingStalled)
	case past > 45*time.Minute:
		f.allow(analysis.PastDry, analysis.EnergyHigh)
	}
}

// ledger: energy and yield against the runs before. They are measured in the full set only.
func (x *exhibit) ledger(i int, runs []*facts) {
	f := runs[i]
	var energy, yield []float64
	for _, g := range runs[:i] {
		if len(g.Faults) == 0 && g.Complete && g.RecoveredL > 1 {
			energy, yield = append(energy, g.EnergyKWh/g.RecoveredL), append(yield, g.RecoveredL)
		}
	}
	if len(energy) < 3 || f.RecoveredL < 1 {
		return
	}
	slices.Sort(energy)
	slices.Sort(yield)
	n, many := len(energy)/2, len(energy) >= 8
	switch worse := f.EnergyKWh / f.RecoveredL / energy[n]; {
	case worse > 1.4 && many:
		f.fault("", f.Start, x.set == Full, analysis.EnergyHigh)
	case worse > 1.06:
		f.allow(analysis.EnergyHigh)
	}
	switch share := f.RecoveredL / yield[n]; {
	case share < 0.7 && len(yield) >= 4:
		f.fault("", f.Start, x.set == Full, analysis.YieldLow)
	case share < 0.93:
		f.allow(analysis.YieldLow)
	}
}
