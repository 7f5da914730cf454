package ownplant

import (
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// Healthy stills of every make, and healthy stills that do something odd. None may raise a fault.
var healthyCases = []Case{
	{Name: "healthy", Seeds: 24, history: 3},
	{Name: "healthy, 25 runs", Seeds: 1, history: 24},
	{Name: "healthy, 2400 m", Seeds: 2, history: 1, build: func(x *exhibit) { x.altitude(2400) }},
	{Name: "healthy, 3000 m", Seeds: 2, history: 1, build: func(x *exhibit) { x.altitude(3000) }},
	{Name: "healthy, volatile", Seeds: 2, history: 2, build: func(x *exhibit) { x.solvent("volatile", 2, "acetone", "{methyl ethyl ketone: 0.6, acetone: 0.4}") }},
	{Name: "healthy, unknown solvent", Seeds: 2, history: 2, build: func(x *exhibit) { x.solvent("unknown", 2, "unknown") }},
	{Name: "healthy, inHg steps, every 10 s", Seeds: 2, history: 2, build: func(x *exhibit) { x.o.Sensors.GaugeStep, x.poll = 1.693, 10*time.Second }},
}

// oddCases are made to fool the detector.
var oddCases = []Case{
	{Name: "gauge with a lag of 10 s", build: func(x *exhibit) { x.o.Sensors.GaugeLagS = 10 }},
	{Name: "noise fourfold", history: 1, build: func(x *exhibit) { x.o.Sensors.Noise = 4 }},
	{Name: "noise fourfold, inHg steps, every 5 s", build: func(x *exhibit) { x.o.Sensors.Noise, x.o.Sensors.GaugeStep, x.poll = 4, 1.693, 5*time.Second }},
	{Name: "air comes on three minutes late", history: 3, build: func(x *exhibit) {
		for i := range x.batches {
			h := &x.plan[i].Batch.Habit
			h.AirDelay, h.HeatDelay = 3*time.Minute, 0
		}
		if x.set == Two { // nothing but the warming oil says that a run has begun
			x.judge = func(x *exhibit, i int, f *facts) { f.allow(analysis.VacuumNotPulled, analysis.VacuumShort) }
		}
	}},
	{Name: "heat waits for the vacuum", history: 1, build: func(x *exhibit) {
		for i := range x.batches {
			x.plan[i].Batch.Habit.HeatDelay = 12 * time.Minute
		}
	}},
	{Name: "left closed under vacuum", history: 2, build: func(x *exhibit) {
		for i := range x.batches {
			x.plan[i].Batch.Habit.NoVent = true
		}
	}},
	{Name: "cooled for three hours under vacuum", history: 1, build: func(x *exhibit) {
		for i := range x.batches {
			x.plan[i].Batch.Habit.Cool = 3 * time.Hour
		}
		x.longer(3 * time.Hour)
	}},
	{Name: "given up after twenty minutes", history: 2, build: func(x *exhibit) {
		// Heat that is taken away under vacuum looks like heat that fails: who watches cannot know that it was meant.
		x.batch().Habit.Abort = 20 * time.Minute
	}},
	{Name: "second run on hot oil", history: 1, build: func(x *exhibit) {
		h := &x.plan[0].Batch.Habit
		h.OpenAfter = 15 * time.Minute
		d := x.plan[1].At.Sub(x.plan[0].At)
		// Load again an hour after the first run was opened: its end is not known yet, so let the plan's own
		// guess stand where it is sooner.
		if d > 9*time.Hour {
			x.plan[1].At = x.plan[0].At.Add(9 * time.Hour)
			x.end = x.end.Add(9*time.Hour - d)
		}
	}},
	{Name: "cold drum", history: 2, build: func(x *exhibit) { x.batch().ChargeC = 4 }},
	{Name: "warm drum", history: 2, build: func(x *exhibit) { x.batch().ChargeC = 34 }},
	{Name: "cold room", build: func(x *exhibit) { x.o.RoomC = 8 }},
	{Name: "wide thermostat", history: 1, build: func(x *exhibit) { x.o.Equipment.HysteresisK = 14 }},
	{Name: "small charge on a new still", build: func(x *exhibit) { x.batch().Litres = 0.45 * x.o.Equipment.ChargeL }},
	{Name: "seal that leaks a little, target in reach", history: 1, build: func(x *exhibit) { x.fault(simstill.Leak, 0.35) }},
	{Name: "cabinet opened for two minutes", history: 2, build: func(x *exhibit) { x.brief(25*time.Minute, 2*time.Minute, simstill.ThermostatOpen, 1) }},
	{Name: "supply dips for ten seconds", history: 1, build: func(x *exhibit) { x.brief(15*time.Minute, 10*time.Second, simstill.PhaseLost, 0.5) }},
	{Name: "air dips for five seconds", history: 1, build: func(x *exhibit) { x.brief(50*time.Minute, 5*time.Second, simstill.WeakAir, 0.5) }},
	{Name: "spikes on the vacuum gauge", Seeds: 2, history: 2, build: func(x *exhibit) {
		x.fault(simstill.NoiseSpikes, 0.02)
		x.judge = func(x *exhibit, i int, f *facts) {
			if i >= x.last()-1 { // they begin while the still stands idle
				f.allow(analysis.SignalImplausible, analysis.SignalOutOfRange)
			}
		}
	}},
	{Name: "device skips an answer in twenty", history: 1, build: func(x *exhibit) {
		x.drop = func(at time.Time) bool { return mixed("skip", uint64(at.Unix())*2654435761)>>13%20 == 0 }
	}},
	{Name: "cells empty in one reading of ten", history: 1, build: func(x *exhibit) {
		x.edit = func(at time.Time, value func(string) *analysis.Value) {
			for _, s := range analysis.Signals {
				if mixed(string(s.Signal), uint64(at.Unix())*2654435761)>>13%10 == 0 {
					*value(string(s.Signal)) = analysis.Value{Quality: analysis.Missing}
				}
			}
		}
	}},
	{Name: "nobody watched for ten minutes of boiling", history: 2, build: func(x *exhibit) {
		from := x.begin(x.last()).Add(80 * time.Minute)
		x.drop = func(at time.Time) bool { return !at.Before(from) && at.Before(from.Add(10*time.Minute)) }
		x.judge = allowed(analysis.DeviceSilent)
	}},
	{Name: "receiver emptied during the run", Sets: []string{Full}, Seeds: 2, history: 1, build: func(x *exhibit) {
		from := x.begin(x.last()).Add(95 * time.Minute)
		var l, kg float64
		done := false
		x.edit = func(at time.Time, value func(string) *analysis.Value) {
			v, m := value("distillate_volume"), value("distillate_mass")
			if !done && !at.Before(from) {
				l, kg, done = v.V, m.V, true
			}
			if done && v.V > l-0.5 { // until the next load, when the receiver is empty anyway
				v.V, m.V = v.V-l, m.V-kg
			}
		}
	}},
	{Name: "energy counter starts again during the run", Sets: []string{Typical, Full}, history: 1, build: func(x *exhibit) {
		from := x.begin(x.last()).Add(70 * time.Minute)
		kWh, done := 0.0, false
		x.o.EnergyKWh = 41235
		x.edit = func(at time.Time, value func(string) *analysis.Value) {
			v := value("energy_counter")
			if !done && !at.Before(from) {
				kWh, done = v.V, true
			}
			if done {
				v.V -= kWh
			}
		}
	}},
	{Name: "energy counter rolls over during the run", Sets: []string{Typical, Full}, history: 1, build: func(x *exhibit) {
		x.o.EnergyKWh = 99990
		x.edit = func(at time.Time, value func(string) *analysis.Value) {
			if v := value("energy_counter"); v.V >= 100000 {
				v.V -= 100000
			}
		}
	}},
}

// allowed lets faults pass in the last run.
func allowed(faults ...analysis.Fault) func(*exhibit, int, *facts) {
	return func(x *exhibit, i int, f *facts) {
		if i == x.last() {
			f.allow(faults...)
		}
	}
}
