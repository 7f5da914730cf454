package ownplant

import (
	"math"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

var measuring = []string{Typical, Full}

// heat is a case of heating in which the named faults must be found in the sets given.
func heat(name string, history int, f simstill.Fault, size float64, when time.Duration, cause analysis.Cause, due []string, names ...analysis.Fault) Case {
	return Case{Name: name, history: history, build: func(x *exhibit) {
		at := time.Time{}
		if when > 0 {
			at = x.faultAt(when, f, size)
		} else {
			x.fault(f, size)
			at = x.begin(x.last())
		}
		x.judge = func(x *exhibit, i int, f *facts) {
			if i != x.last() {
				return
			}
			must := Case{Sets: due}.In(x.set)
			f.fault(cause, at, must, names...)
			f.allow(analysis.PastDry, analysis.HeatTransferFalling, analysis.HeatingStalled)
		}
	}}
}

var none = []string{}

var heatCases = []Case{
	heat("element lost", 0, simstill.ElementLost, 1, 10*time.Minute, analysis.Element, measuring, analysis.HeaterPhaseLost),
	heat("element lost before the run, learned", 4, simstill.ElementLost, 1, 0, analysis.Element, measuring, analysis.HeaterPhaseLost, analysis.HeatingSlow),
	heat("phase lost", 0, simstill.PhaseLost, 0.5, 10*time.Minute, "", measuring, analysis.HeaterPhaseLost),
	heat("phase lost, learned", 4, simstill.PhaseLost, 0.5, 12*time.Minute, "", measuring, analysis.HeaterPhaseLost),
	heat("half the heat before the run, learned", 4, simstill.PhaseLost, 0.5, 0, "", nil, analysis.HeatingSlow, analysis.HeaterPhaseLost),
	heat("thermostat open while heating", 1, simstill.ThermostatOpen, 1, 12*time.Minute, analysis.Thermostat, nil, analysis.HeatingStalled),
	heat("thermostat open while boiling", 1, simstill.ThermostatOpen, 1, 70*time.Minute, analysis.Thermostat, nil, analysis.HeatingStalled),
	heat("high-limit opens early", 1, simstill.HighLimitEarly, 90, 0, analysis.Thermostat, nil, analysis.HeatingStalled),
	stuck("contactor stuck", 1, 0), stuck("contactor stuck, no high-limit", 2, 1),
	heat("oil fouled at once", 4, simstill.OilFouled, 0.5, 0, "", none, analysis.HeatTransferFalling, analysis.HeatingSlow),
	warm("coolant warm", simstill.CondenserWarm, 28, 0), warm("coolant warm, learned", simstill.CondenserWarm, 22, 4), warm("coolant lost", simstill.CoolantLost, 0.95, 1),
	drum("wrong drum: light", simstill.WrongSolvent, 1), drum("wrong drum: heavy", simstill.WrongSolvent, 2), drum("wrong drum: water", simstill.WrongSolvent, 3),
	drum("water in the drum", simstill.WaterInCharge, 0.25),
	{Name: "half a charge, learned", history: 7, build: func(x *exhibit) {
		x.fault(simstill.ShortCharge, 0.5)
		x.judge = allowed(analysis.YieldLow, analysis.EnergyHigh, analysis.HeatTransferFalling)
	}},
	{Name: "stopped wet", history: 1, build: func(x *exhibit) {
		h := &x.batch().Habit
		h.Hold, h.Abort = 0, 110*time.Minute
		x.hurry()
	}},
	{Name: "left on", history: 1, build: func(x *exhibit) {
		h := &x.batch().Habit
		h.Hold, h.DryMargin = 0, 170*time.Minute
		x.o.Stated.Hold = 0
		x.longer(3 * time.Hour)
	}},
	{Name: "left on, learned", history: 9, build: func(x *exhibit) {
		h := &x.batch().Habit
		h.Hold, h.DryMargin = 0, 5*time.Hour
		x.o.Stated.Hold = 0
		x.longer(5 * time.Hour)
	}},
	{Name: "vapour in the room", Sets: []string{Full}, history: 1, build: func(x *exhibit) {
		at := x.faultAt(50*time.Minute, simstill.GasLeak, 25)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				f.fault("", at, true, analysis.GasLevelHigh)
			}
		}
	}},
}

// stuck is a welded contactor: it shows when the oil goes past its set point.
func stuck(name string, size float64, history int) Case {
	return Case{Name: name, history: history, build: func(x *exhibit) {
		x.fault(simstill.ContactorStuck, size)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				f.fault(analysis.Thermostat, f.hotFrom, f.maxC > x.o.Stated.JacketC+20, analysis.OverTemperature)
				f.allow(analysis.PastDry, analysis.HeatingStalled, analysis.BoilingPointOff)
			}
		}
	}}
}

// warm is a condenser that cannot hold the vapour; it must be called where the condensate is measured and
// solvent is lost.
func warm(name string, f simstill.Fault, size float64, history int) Case {
	return Case{Name: name, history: history, build: func(x *exhibit) {
		at := x.faultAt(50*time.Minute, f, size)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				f.fault(analysis.Condenser, at, x.set == Full && f.lostShare > 0.05, analysis.CondenserWarm)
				f.allow(analysis.VacuumLost, analysis.VacuumShort, analysis.BoilingPointOff, analysis.PastDry)
			}
		}
	}}
}

// drum is a wrong or wet drum: what boils at another temperature must be called where the charge is measured.
func drum(name string, f simstill.Fault, size float64) Case {
	return Case{Name: name, history: 1, build: func(x *exhibit) {
		x.solvent(name, 1, known...)
		x.fault(f, size)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i != x.last() {
				return
			}
			// By what the pot did: water and a solvent that do not mix boil below both, not between them.
			off := math.Abs(f.offC) / math.Max(1, f.offN)
			if off < 3 {
				f.allow(analysis.BoilingPointOff)
				return
			}
			f.fault(analysis.WrongSolvent, f.Start, x.set != Two && off > 10 && !f.tr.BoilAt.IsZero(), analysis.BoilingPointOff)
			f.allow(analysis.VacuumShort, analysis.VacuumSlow, analysis.HeatingStalled, analysis.PastDry, analysis.HeatTransferFalling, analysis.VacuumLost)
		}
	}}
}
