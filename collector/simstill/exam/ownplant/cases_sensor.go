package ownplant

import (
	"math"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// sensing is a case in which the measurement fails, not the still.
func sensing(name string, history int, f simstill.Fault, size float64, when, mended time.Duration, allow []analysis.Fault, names ...analysis.Fault) Case {
	return Case{Name: name, history: history, build: func(x *exhibit) {
		var at time.Time
		if when > 0 {
			at = x.faultAt(when, f, size)
		} else {
			x.fault(f, size)
			at = x.begin(x.last())
		}
		if mended > 0 {
			x.plan = append(x.plan, simstill.Step{At: at.Add(mended), Clear: f})
		}
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				f.fault("", at, true, names...)
				f.allow(allow...)
			}
		}
	}}
}

var vacuumFaults = []analysis.Fault{analysis.VacuumNotPulled, analysis.VacuumShort, analysis.VacuumSlow, analysis.VacuumLost}

var sensorCases = []Case{
	unknowable(sensing("gauge reads too deep", 3, simstill.GaugeOffset, 7, 0, 0, append([]analysis.Fault{analysis.BoilingPointOff}, vacuumFaults...), analysis.SignalImplausible)),
	fine(sensing("gauge stuck", 1, simstill.GaugeStuck, 1, 45*time.Minute, 0, vacuumFaults, analysis.SignalStuck, analysis.SignalImplausible)),
	sensing("broken wire of the gauge", 1, simstill.BrokenWire, 1, 40*time.Minute, 30*time.Minute, nil, analysis.SignalOutOfRange),
	sensing("broken wire of the oil sensor", 1, simstill.BrokenWire+":jacket_temperature", 1, 40*time.Minute, 30*time.Minute, nil, analysis.SignalOutOfRange),
	sensing("oil sensor stuck while heating", 1, simstill.SensorStuck+":jacket_temperature", 1, 15*time.Minute, 0,
		[]analysis.Fault{analysis.HeatingStalled, analysis.OverTemperature, analysis.PastDry}, analysis.SignalStuck, analysis.SignalImplausible, analysis.HeatingStalled),
	sensing("device silent for a quarter of an hour", 1, simstill.DeviceSilent, 1, 60*time.Minute, 15*time.Minute, nil, analysis.DeviceSilent),
	sensing("device answers with exceptions", 1, simstill.DeviceException, 4, 60*time.Minute, 15*time.Minute, nil, analysis.DeviceSilent, analysis.SignalOutOfRange),
	{Name: "charge sensor stuck", Sets: measuring, history: 1, build: sensing("", 1, simstill.SensorStuck+":charge_temperature", 1, 20*time.Minute, 0,
		[]analysis.Fault{analysis.BoilingPointOff, analysis.HeatTransferFalling, analysis.HeatingStalled}, analysis.SignalStuck, analysis.SignalImplausible).build},
	{Name: "upkeep due", history: 3, build: func(x *exhibit) {
		x.still = func(s *analysis.Still) { s.Upkeep = []analysis.Upkeep{{Name: "lid gasket", Runs: 4}} }
		x.judge = func(x *exhibit, i int, f *facts) {
			if i == x.last() {
				f.fault("", f.Start, true, analysis.UpkeepDue)
			}
		}
	}},
	{Name: "oil above its channel's own limit", history: 1, build: func(x *exhibit) {
		limit := x.o.Stated.JacketC - 15
		x.still = func(s *analysis.Still) {
			for i := range s.Channels {
				if s.Channels[i].Signal == analysis.JacketTemperature {
					s.Channels[i].Limits = analysis.Limits{High: &limit, Deadband: 2}
				}
			}
		}
		x.judge = func(x *exhibit, i int, f *facts) { f.fault("", f.Start, true, analysis.LimitHigh) }
	}},
}

// unknowable takes the end pressure out of the truth of the last run: nobody can read it from a gauge that is off.
func unknowable(c Case) Case {
	build := c.build
	c.build = func(x *exhibit) {
		build(x)
		judge := x.judge
		x.judge = func(x *exhibit, i int, f *facts) {
			judge(x, i, f)
			if i == x.last() {
				f.EndKPa = math.NaN()
			}
		}
	}
	return c
}

// fine fits a gauge that shows its noise: one that stands still between coarse steps cannot be told from one
// that is stuck.
func fine(c Case) Case {
	build := c.build
	c.build = func(x *exhibit) {
		x.o.Sensors.GaugeStep, x.o.Sensors.Noise = 0, max(x.o.Sensors.Noise, 1)
		build(x)
	}
	return c
}
