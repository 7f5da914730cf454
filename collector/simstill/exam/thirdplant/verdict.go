package thirdplant

import (
	"math"
	"slices"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// kind is a kind of thing that is wrong, in the plant's own words.
type kind string

const (
	leaks           kind = "air leaks in"
	drainOpen       kind = "drain valve open"
	sealWears       kind = "seal wears over the runs"
	airWeak         kind = "weak air"
	airDips         kind = "air dips for a moment"
	jetWorn         kind = "worn ejector"
	silencerClogged kind = "silencer of the ejector clogged"
	phaseGone       kind = "elements or a phase gone"
	lowMains        kind = "mains a little low"
	breakerOut      kind = "no power"
	statLow         kind = "thermostat stops too low"
	contactorStuck  kind = "contactor stuck"
	oilFouls        kind = "heat transfer falls over the runs"
	wetLagging      kind = "lagging wet"
	coolantGone     kind = "coolant gone"
	coolantWarm     kind = "coolant warm"
	gasOut          kind = "gas at the detector"
	otherDrum       kind = "another solvent"
	wetDrum         kind = "water in the drum"
	thinDrum        kind = "little solvent in the drum"
	tooSoon         kind = "stopped too soon"
	tooLong         kind = "heated on when dry"
	deviceMute      kind = "device silent"
	deviceShort     kind = "device silent for a moment"
	gaugeDrift      kind = "gauge off"
	gaugeWire       kind = "gauge wire broken"
	gaugeWild       kind = "gauge wild"
	gaugeStuck      kind = "gauge stuck"
	thermoStuck     kind = "oil thermometer stuck"
)

var vacuumFaults = []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled, analysis.VacuumSlow, analysis.VacuumLost, analysis.SealWear}

// learned is after how many healthy runs a person knows what is usual on a still.
const learned = 3

// eye is a careful expert who has the whole recording, looking at one run.
type eye struct {
	b       *bench
	r       *run
	fitted  map[analysis.Signal]bool
	before  []*run // healthy runs to dryness that are in the recording before this
	first   float64
	last    float64
	roomKPa float64
}

func (e *eye) has(s ...analysis.Signal) bool {
	return slices.ContainsFunc(s, func(s analysis.Signal) bool { return e.fitted[s] })
}

func (e *eye) boilSeen() bool {
	return e.has(analysis.ChargeTemperature, analysis.VaporTemperature) && e.has(analysis.JacketTemperature)
}

func (e *eye) measured() bool {
	return e.has(analysis.DistillateVolume, analysis.DistillateMass, analysis.DistillateFlow)
}

// usual is the median of a figure of the healthy runs before; NaN before enough are known.
func (e *eye) usual(least int, f func(*run) float64) float64 {
	var x []float64
	for _, r := range e.before {
		if v := f(r); !math.IsNaN(v) {
			x = append(x, v)
		}
	}
	if len(x) < least {
		return never
	}
	slices.Sort(x)
	return x[len(x)/2]
}

func (e *eye) met() bool {
	return e.r.was(evTarget) && e.r.at[evTarget]-e.r.at[evPump] <= e.b.within.Seconds()
}

// short: the level is clear of the target, by more than the accuracy of a gauge and the weather, and it was
// pumped for longer than the stated time.
func (e *eye) short() bool {
	r := e.r
	if !r.was(evPump) || r.was(evTarget) {
		return false
	}
	until := e.last
	if r.was(evHeatOff) {
		until = math.Min(until, r.at[evHeatOff])
	}
	return r.minKPa > e.b.targetKPa+math.Max(3, 0.2*e.b.targetKPa) && until-r.at[evPump] > e.b.within.Seconds()+180
}

// lost: high for five minutes while hot; for twenty with two channels, on which a vent at the end looks the same.
func (e *eye) lost() bool {
	need := 300.0
	if !e.has(analysis.HeaterPower, analysis.HeaterOn, analysis.RunOn, analysis.AirOn) {
		need = 1200
	}
	return e.r.highHot >= need && e.r.worstKPa > e.b.targetKPa+12
}

func (e *eye) slow() float64 {
	t := func(r *run) float64 { return r.at[evTarget] - r.at[evPump] }
	return t(e.r) / e.usual(learned, t)
}

// vacuum says what a fault of the vacuum since from is called, and whether it must be.
func (e *eye) vacuum(from float64) (paper.Fault, bool) {
	r := e.r
	f := paper.Fault{From: when(math.Max(from, r.at[evPump]))}
	switch {
	case r.was(evTarget) && from > r.at[evTarget]:
		f.Names, f.From = []analysis.Fault{analysis.VacuumLost}, when(from)
		f.Due = e.lost()
		return f, r.highHot > 60 || f.Due
	case !e.met():
		f.Names = []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled}
		if r.endKPa > 0.85*e.roomKPa {
			f.Names[0], f.Names[1] = f.Names[1], f.Names[0]
		}
		if from > r.at[evPump]+30 {
			f.Names = append(f.Names, analysis.VacuumLost)
		}
		if r.was(evTarget) {
			f.Names = append(f.Names, analysis.VacuumSlow)
		}
		f.Due = e.short()
		return f, true
	case e.slow() > 1.5:
		f.Names = []analysis.Fault{analysis.VacuumSlow, analysis.SealWear}
		f.Due = e.slow() > 2.3
		return f, true
	}
	return f, false
}

// opened is the cause of a leak, where the air is known to be good and either healthy runs or a still that
// hardly empties leave nothing else.
func (e *eye) opened() analysis.Cause {
	if e.has(analysis.AirSupplyPressure) && (len(e.before) >= learned || e.r.endKPa > 0.9*e.roomKPa) {
		return analysis.OpenToAir
	}
	return ""
}

func names(f ...analysis.Fault) []analysis.Fault { return f }

// judge says what one ill is called, if it is to be called at all, and what else may be said because of it.
func (e *eye) judge(i *ill) (faults []paper.Fault, allowed []analysis.Fault) {
	r, from := e.r, math.Max(i.from, e.r.at[evStart])
	heatEnd := r.at[evHeatOff]
	if math.IsNaN(heatEnd) {
		heatEnd = e.last
	}
	late := func(ev event) float64 {
		if r.was(ev) {
			return math.Max(from, r.at[ev])
		}
		return from
	}
	one := func(due bool, cause analysis.Cause, at float64, n ...analysis.Fault) {
		faults = append(faults, paper.Fault{Names: n, Cause: cause, From: when(at), Due: due})
	}
	after := names(analysis.BoilingPointOff, analysis.EnergyHigh, analysis.HeatingSlow, analysis.HeatingStalled, analysis.YieldLow, analysis.NotDry, analysis.PastDry)
	lateVacuum := r.was(evTarget) && from > r.at[evTarget]
	switch i.kind {
	case leaks, drainOpen, airWeak, jetWorn, silencerClogged:
		f, shows := e.vacuum(from)
		switch i.kind {
		case airWeak:
			if e.has(analysis.AirSupplyPressure) {
				f.Cause = analysis.AirSupply
				if r.airLowS > 300 {
					one(true, "", from, analysis.AirSupplyLow)
				}
			}
			allowed = names(analysis.AirSupplyLow)
		case jetWorn:
			if e.has(analysis.AirSupplyPressure) && len(e.before) >= learned && e.short() {
				f.Cause = analysis.Ejector
			}
		default:
			f.Cause = e.opened()
			if lateVacuum && !e.has(analysis.AirSupplyPressure) {
				f.Cause = ""
			}
		}
		if slices.Contains(f.Names, analysis.VacuumSlow) || i.kind == silencerClogged {
			f.Cause = ""
		}
		if shows {
			faults = append(faults, f)
		}
		allowed = append(append(allowed, after...), analysis.CondenserWarm)
		allowed = append(allowed, vacuumFaults...)
	case sealWears:
		end := e.usual(learned, func(r *run) float64 { return r.endKPa })
		one(i.last && r.endKPa > 1.3*end, "", i.since(e), vacuumFaults[4], vacuumFaults[0], vacuumFaults[2], vacuumFaults[1])
		allowed = append(vacuumFaults[:5:5], after...)
	case phaseGone:
		if e.has(analysis.HeaterPower) {
			one(r.lostPowerS > 900, "", late(evHeat), analysis.HeaterPhaseLost)
		} else {
			slower := r.toHeat / e.usual(learned, func(r *run) float64 { return r.toHeat })
			one(e.has(analysis.JacketTemperature) && slower > 1.4, "", late(evHeat), analysis.HeatingSlow, analysis.HeaterPhaseLost, analysis.HeatingStalled)
		}
		allowed = names(analysis.HeatingSlow, analysis.HeatingStalled, analysis.HeaterPhaseLost, analysis.EnergyHigh, analysis.NotDry, analysis.YieldLow)
	case breakerOut, statLow:
		if r.stallS >= 400 {
			due := r.stallS >= 1500 && e.has(analysis.JacketTemperature)
			if i.kind == breakerOut && (!e.has(analysis.HeaterOn) || e.b.contact) && !(late(evHeat) < r.at[evBoil] || !r.was(evBoil)) {
				due = false // heat off by a hand or by a breaker: once it has boiled nothing tells
			}
			one(due, "", late(evHeat), analysis.HeatingStalled)
		}
		allowed = append(after[:7:7], analysis.HeaterPhaseLost)
		allowed = append(allowed, vacuumFaults...)
	case contactorStuck:
		if r.hottest > e.b.heater.setC+8 {
			one(r.overS > 300 && e.has(analysis.JacketTemperature), "", from, analysis.OverTemperature)
			if l := e.b.limitC; l > 0 && e.has(analysis.JacketTemperature) {
				one(r.hottest > l+4, "", from, analysis.LimitHigh)
			}
		}
		allowed = names(analysis.OverTemperature, analysis.PastDry, analysis.EnergyHigh)
	case coolantGone, coolantWarm:
		n := names(analysis.CondenserWarm)
		if e.lost() {
			n = append(n, analysis.VacuumLost)
		}
		warm := e.has(analysis.CondensateTemperature) && r.warmS >= 900
		if r.warmS >= 120 || r.highHot > 60 {
			c := analysis.Cause("")
			if warm {
				c = analysis.Condenser
			}
			one(warm || e.lost(), c, late(evBoil), n...)
		}
		allowed = append(append(after[:7:7], analysis.CondenserWarm, analysis.GasLevelHigh), vacuumFaults...)
	case otherDrum, wetDrum:
		if r.offS >= 300 {
			one(r.offS >= 1800 && e.boilSeen(), "", late(evBoil), analysis.BoilingPointOff)
		}
		allowed = append(append(after[:7:7], analysis.CondenserWarm, analysis.HeatTransferFalling), vacuumFaults...)
	case thinDrum:
		y := r.condensed / e.usual(5, func(r *run) float64 { return r.condensed })
		if r.was(evDry) {
			one(y < 0.78 && e.measured(), "", r.at[evDry], analysis.YieldLow)
		}
		allowed = names(analysis.YieldLow, analysis.EnergyHigh, analysis.BoilingPointOff, analysis.HeatTransferFalling)
	case tooSoon:
		one(r.leftL > 0.2*r.filled && r.flowAtOff > 0.4 && (e.boilSeen() || e.measured()), "", heatEnd, analysis.NotDry)
		allowed = names(analysis.NotDry, analysis.YieldLow, analysis.EnergyHigh)
	case tooLong:
		if r.was(evDry) {
			one(heatEnd-r.at[evDry] > 5400 && (e.boilSeen() || e.measured()), "", r.at[evDry]+600, analysis.PastDry)
		}
		allowed = names(analysis.PastDry, analysis.EnergyHigh)
	case oilFouls:
		one(i.last && e.boilSeen() && e.has(analysis.HeaterPower), "", i.since(e), analysis.HeatTransferFalling, analysis.HeatingSlow)
		allowed = names(analysis.HeatTransferFalling, analysis.HeatingSlow, analysis.EnergyHigh)
	case wetLagging:
		per := func(r *run) float64 { return r.energyKWh / r.condensed }
		x := per(r) / e.usual(5, per)
		if x > 1.1 {
			one(x > 1.35 && e.measured() && e.has(analysis.HeaterPower, analysis.EnergyCounter), "", late(evHeat), analysis.EnergyHigh)
		}
		allowed = names(analysis.EnergyHigh, analysis.HeatingSlow, analysis.HeatTransferFalling)
	case deviceShort:
		allowed = names(analysis.DeviceSilent)
	case lowMains:
		allowed = names(analysis.HeatingSlow, analysis.EnergyHigh)
	case airDips: // nobody need call a minute of low air
		allowed = append(vacuumFaults[:5:5], analysis.AirSupplyLow)
	case gasOut:
		if e.has(analysis.GasLevel) {
			one(r.peakLEL > 14 && r.lelS > 120, "", from, analysis.GasLevelHigh)
		}
	case deviceMute:
		one(i.until-i.from >= 300 && i.until < e.last, "", from, analysis.DeviceSilent)
		allowed = append(vacuumFaults[:5:5], analysis.SignalStuck)
	case gaugeDrift:
		one(false, "", from, analysis.SignalImplausible, analysis.BoilingPointOff)
		allowed = append(after[:7:7], vacuumFaults...)
		allowed = append(allowed, analysis.SignalOutOfRange, analysis.CondenserWarm)
	case gaugeWire:
		one(i.until-i.from > 300, "", from, analysis.SignalOutOfRange, analysis.SignalImplausible, analysis.DeviceSilent)
		allowed = append(vacuumFaults[:5:5], analysis.SignalStuck)
	case gaugeWild:
		one(i.size >= 0.05 && i.until-i.from > 2400, "", from, analysis.SignalImplausible, analysis.SignalOutOfRange)
		allowed = append(vacuumFaults[:5:5], analysis.SignalStuck, analysis.BoilingPointOff)
	case gaugeStuck:
		long := math.Min(i.until, heatEnd)-i.from > 3600
		// Stuck under vacuum it hides nothing until the vent, which is the end of the run.
		one(long && e.roomKPa-r.minKPa > 30 && i.anchor == fromPrep, "", from, analysis.SignalStuck, analysis.SignalImplausible, analysis.VacuumNotPulled, analysis.VacuumShort)
		allowed = append(vacuumFaults[:5:5], analysis.BoilingPointOff, analysis.CondenserWarm)
	case thermoStuck:
		if e.has(analysis.JacketTemperature) {
			one(math.Min(i.until, heatEnd)-from > 2700 && e.has(analysis.HeaterPower), "", from, analysis.SignalStuck, analysis.HeatingStalled, analysis.SignalImplausible)
		}
		allowed = append(after[:7:7], analysis.SignalStuck, analysis.SignalImplausible, analysis.HeaterPhaseLost, analysis.HeatTransferFalling)
	}
	return faults, allowed
}

// since is when a thing that grows over the runs was first there.
func (i *ill) since(e *eye) float64 {
	for _, j := range e.b.jobs {
		for _, k := range j.ills {
			if k.kind == i.kind && !math.IsNaN(k.from) {
				return math.Max(k.from, j.at)
			}
		}
	}
	return i.from
}

// debatable is what can be said of a run by its own books, whatever is wrong with it.
func (e *eye) debatable() []analysis.Fault {
	r := e.r
	var out []analysis.Fault
	if r.was(evPump) && (!e.met() || r.at[evTarget]-r.at[evPump] > 0.8*e.b.within.Seconds()) {
		out = append(out, analysis.VacuumShort, analysis.VacuumSlow)
	}
	if begin := r.at[evPump] - r.at[evHeat]; begin > 120 && !e.has(analysis.AirOn) && len(e.before) < learned {
		out = append(out, analysis.VacuumNotPulled, analysis.VacuumShort) // nothing says yet that the air only comes later
	}
	if r.highHot > 60 {
		out = append(out, analysis.VacuumLost)
	}
	if r.lostL > 0.02*r.filled { // blown out by the ejector: the recipe asks more of the condenser than it can do
		out = append(out, analysis.CondenserWarm, analysis.YieldLow)
	}
	if r.at[evHeat]-r.at[evStart] > 900 && !e.has(analysis.HeaterOn, analysis.HeaterPower) {
		out = append(out, analysis.HeatingStalled) // the heat comes late, and nothing says that it was not called for
	}
	if r.was(evDry) && r.was(evHeatOff) && r.at[evHeatOff]-r.at[evDry] > 1500 {
		out = append(out, analysis.PastDry)
	}
	if !r.was(evDry) || r.leftL > 0.03*r.filled {
		out = append(out, analysis.NotDry, analysis.YieldLow)
		if !e.has(analysis.HeaterOn, analysis.RunOn) {
			out = append(out, analysis.HeatingStalled) // heat off before it was dry: by hand or by a breaker
		}
	}
	if r.paused && (!e.has(analysis.HeaterOn) || e.b.contact) {
		out = append(out, analysis.HeatingStalled, analysis.HeatingSlow)
	}
	if r.job.ending == breakSlowly && !e.has(analysis.HeaterPower, analysis.HeaterOn, analysis.RunOn, analysis.AirOn) {
		out = append(out, analysis.VacuumLost) // it goes slowly and hot, and nothing says that hands did it
	}
	if r.lowestAir < e.b.airMinKPa {
		out = append(out, analysis.AirSupplyLow)
	}
	if r.hottest > e.b.heater.setC+10 {
		out = append(out, analysis.OverTemperature)
	}
	return out
}

// stop closes the books at the last scan.
func (l *log) stop(p *plant) {
	if r := l.on; r != nil {
		r.energyKWh, r.condensed, r.lostL = p.energyKWh-r.energy0, p.condensed, p.lostL
		for _, i := range r.job.ills {
			if !math.IsNaN(i.from) {
				i.until = math.Min(i.until, l.last)
			}
		}
		l.keep()
	}
}

// truth is the books, read by an expert.
func (l *log) truth() paper.Truth {
	out := paper.Truth{Phases: l.phases}
	e := eye{b: l.b, fitted: map[analysis.Signal]bool{}, first: l.first, last: l.last}
	for _, g := range l.b.fitted {
		e.fitted[g] = true
	}
	e.roomKPa = l.b.roomKPa()
	for _, r := range l.runs {
		if r.at[evStart] > l.last {
			continue
		}
		e.r = r
		t := paper.Run{Start: when(r.at[evStart]), End: when(r.at[evEnd]), PumpStart: when(r.at[evPump]), DryAt: when(r.at[evDry]),
			TauS: r.tauS, EndKPa: r.endKPa, LeakMbarLS: 10 * r.leakKPaLs, TargetMet: e.met(), EnergyKWh: r.energyKWh, RecoveredL: r.condensed}
		seen := r.at[evStart] >= l.first
		t.Complete = seen && r.was(evEnd) && r.at[evEnd] < l.last
		if !seen {
			t.TauS, t.EndKPa, t.LeakMbarLS, t.PumpStart = never, never, never, when(never)
		}
		t.Allowed = e.debatable()
		for _, i := range r.job.ills {
			if math.IsNaN(i.from) {
				continue
			}
			f, a := e.judge(i)
			if i.kind == gaugeDrift || i.kind == gaugeStuck {
				t.TauS, t.EndKPa = never, never // nothing shows them
			}
			t.Faults, t.Allowed = append(t.Faults, f...), append(t.Allowed, a...)
		}
		if len(t.Faults) == 0 && r.was(evDry) && seen {
			e.before = append(e.before, r)
		}
		out.Runs = append(out.Runs, t)
	}
	return out
}
