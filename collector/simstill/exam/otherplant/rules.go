package otherplant

import (
	"math"

	"luted/analysis"
	"luted/collector/simstill/exam/paper"
)

// Kind is a kind of thing that is wrong, in the plant's own words.
type Kind string

// The kinds. Each has its row in the table of rules.
const (
	Leak        Kind = "air leaks in"
	WeakAir     Kind = "weak air"
	WornJet     Kind = "worn ejector"
	GrowingLeak Kind = "seal wears over the runs"
	LostPower   Kind = "elements or a phase gone"
	NoPower     Kind = "no power"
	LowStat     Kind = "thermostat stops too low"
	Welded      Kind = "contactor welded"
	WarmCooling Kind = "condenser fails"
	OtherDrum   Kind = "another solvent"
	WetDrum     Kind = "water in the drum"
	TooSoon     Kind = "stopped too soon"
	TooLong     Kind = "heated on when dry"
	ThinDrum    Kind = "little solvent in the drum"
	TiredOil    Kind = "oil fouls over the runs"
	Insulation  Kind = "insulation wet"
	GaugeOff    Kind = "gauge offset"
	GaugeStays  Kind = "gauge stuck"
	GaugeWire   Kind = "gauge wire broken"
	GaugeWild   Kind = "gauge spikes"
	Mute        Kind = "device silent"
	GasRises    Kind = "gas at the detector"
)

// Ill is one thing that is wrong with a run.
type Ill struct {
	Kind Kind
	Last bool // of a thing that grows over runs: the run by which it must have been found
}

// view is a run with what is known around it, to be judged.
type view struct {
	r       *Rig
	u       *run
	set     string
	i       int
	runs    []*run
	healthy int // healthy runs to dryness before it in the recording: what there was to learn from
	baroPa  float64
	since   float64
	last    bool
	from    []float64
}

// rule says what is right to call for one kind, and when an expert who has the whole recording must see it.
type rule struct {
	kind    Kind
	names   func(v *view) []analysis.Fault
	cause   func(v *view) analysis.Cause
	due     func(v *view) bool
	first   Anchor             // it cannot show before that
	shows   func(v *view) bool // false: nothing to be called, only allowed
	allowed []analysis.Fault
	why     string
}

// learned is the number of healthy runs after which an expert knows what is usual here.
const learned = 3

// clearPa is how far beyond the target the level must be so that gauge error (1 kPa), weather on a gauge
// without a barometer (1.5 kPa) and 10 % of the target do not explain it.
func clearPa(r *Rig) float64 { return max(3000, 120*r.TargetKPa) }

func (v *view) full() bool    { return v.set == Full }
func (v *view) twoOnly() bool { return v.set == Two }

// lateLoss: it was under vacuum first.
func (v *view) lateLoss() bool { return v.u.was(AtTarget) && v.since > v.u.at[AtTarget] }

// short: the level is clear of the target and there was time to see it.
func (v *view) short() bool {
	wait := v.r.Within.Seconds() + 180
	return !v.u.targetMet(v.r) && v.u.openPa > v.r.TargetKPa*1000+clearPa(v.r) && v.u.duration > wait
}

// lost: well above the target for five minutes, hot; twenty with the oil alone to say that it is not the end.
func (v *view) lost() bool {
	need := 300.0
	if v.twoOnly() {
		need = 1200 // the oil must stay hot for a while, or it was the vent
	}
	return v.u.highHot >= need && v.u.worst > v.r.TargetKPa*1000+10000
}

// slowBy is the time to the target over the median of the healthy runs; NaN if there is none.
func (v *view) slowBy() float64 {
	var usual []float64
	for _, u := range v.runs[:v.i] {
		if len(u.ills) == 0 && u.was(AtTarget) {
			usual = append(usual, u.at[AtTarget]-u.at[AtPump])
		}
	}
	if len(usual) < learned || !v.u.was(AtTarget) {
		return math.NaN()
	}
	return (v.u.at[AtTarget] - v.u.at[AtPump]) / median(usual)
}

func (v *view) slow() bool { return v.slowBy() > 2 && !math.IsNaN(v.u.tau) }

func vacuumNames(v *view) []analysis.Fault {
	switch {
	case v.lateLoss():
		return []analysis.Fault{analysis.VacuumLost}
	case v.short() || !v.u.targetMet(v.r):
		if v.u.was(AtPump) && v.since > v.u.at[AtPump]+30 {
			return []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled, analysis.VacuumLost}
		}
		return []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled}
	}
	return []analysis.Fault{analysis.VacuumSlow, analysis.SealWear}
}

func vacuumDue(v *view) bool {
	if v.lateLoss() {
		return v.lost()
	}
	return v.short() || v.slow()
}

// vacuumShows: below that the still is as good as sound to anyone without its books.
func vacuumShows(v *view) bool {
	if v.lateLoss() {
		return v.u.highHot > 60
	}
	return !v.u.targetMet(v.r) || v.slowBy() > 1.5
}

func named(f ...analysis.Fault) func(*view) []analysis.Fault {
	return func(*view) []analysis.Fault { return f }
}

func never(*view) bool  { return false }
func always(*view) bool { return true }

var vacuumFaults = []analysis.Fault{analysis.VacuumShort, analysis.VacuumNotPulled, analysis.VacuumSlow, analysis.VacuumLost, analysis.SealWear}

// rules is the table: one row a kind.
var rules = []rule{
	{kind: Leak, first: AtPump, names: vacuumNames, due: vacuumDue, shows: vacuumShows,
		cause: func(v *view) analysis.Cause {
			if v.full() && v.healthy >= learned || v.full() && v.u.openPa > 0.9*v.baroPa {
				return analysis.OpenToAir
			}
			return ""
		},
		allowed: append([]analysis.Fault{analysis.BoilingPointOff, analysis.EnergyHigh, analysis.HeatingSlow, analysis.CondenserWarm, analysis.YieldLow, analysis.NotDry, analysis.PastDry}, vacuumFaults...),
		why:     "due if the level is 3 kPa and 12 % beyond the target, or the vacuum was lost by 10 kPa for 5 min hot; the cause only where the air is measured and good, and either healthy runs or a still near the atmosphere exclude the ejector"},
	{kind: GrowingLeak, first: AtPump, names: func(v *view) []analysis.Fault {
		return vacuumFaults
	}, due: func(v *view) bool { return v.last && v.u.endPa > 1.3*v.usualEnd() }, shows: always,
		allowed: vacuumFaults,
		why:     "due by the last run, when the end pressure has grown by a third over two dozen runs; any earlier call is right"},
	{kind: WeakAir, first: AtPump, names: vacuumNames, due: vacuumDue, shows: vacuumShows,
		cause: func(v *view) analysis.Cause {
			if v.full() {
				return analysis.AirSupply
			}
			return ""
		},
		allowed: append([]analysis.Fault{analysis.AirSupplyLow, analysis.BoilingPointOff, analysis.EnergyHigh, analysis.HeatingSlow, analysis.YieldLow, analysis.NotDry}, vacuumFaults...),
		why:     "as a leak; the cause where the air is measured. Low air itself is judged apart"},
	{kind: WornJet, first: AtPump, names: vacuumNames, due: vacuumDue, shows: vacuumShows,
		cause: func(v *view) analysis.Cause {
			if v.full() && v.healthy >= learned && v.short() {
				return analysis.Ejector
			}
			return ""
		},
		allowed: append([]analysis.Fault{analysis.BoilingPointOff, analysis.EnergyHigh, analysis.HeatingSlow, analysis.NotDry}, vacuumFaults...),
		why:     "as a leak; slow is due when the time to the target has doubled against three healthy runs; the cause where the air is measured and healthy runs are known"},
	{kind: LostPower, first: AtHeat, names: func(v *view) []analysis.Fault {
		if v.twoOnly() {
			return []analysis.Fault{analysis.HeatingSlow, analysis.HeaterPhaseLost, analysis.HeatingStalled}
		}
		return []analysis.Fault{analysis.HeaterPhaseLost}
	}, due: func(v *view) bool {
		if v.twoOnly() {
			return v.healthy >= learned && v.heatSlower() > 1.4
		}
		return v.u.fullFor > 600
	}, shows: always,
		allowed: []analysis.Fault{analysis.HeatingSlow, analysis.HeatingStalled, analysis.EnergyHigh},
		why:     "with a power meter due if full power was called for 10 min with it; with temperatures alone if the oil took 1.4 times as long as in three healthy runs"},
	{kind: NoPower, names: named(analysis.HeatingStalled), due: func(v *view) bool { return v.u.stall >= 1200 }, shows: func(v *view) bool { return v.u.stall >= 300 },
		allowed: []analysis.Fault{analysis.HeatingStalled, analysis.HeatingSlow, analysis.HeaterPhaseLost, analysis.NotDry, analysis.YieldLow, analysis.EnergyHigh},
		why:     "due if the oil stood 20 K below the set point for 20 min, not rising, before the charge was dry; breaker, limit and thermostat cannot be told apart"},
	{kind: LowStat, first: AtHeat, names: named(analysis.HeatingStalled), due: func(v *view) bool { return v.u.stall >= 1500 }, shows: func(v *view) bool { return v.u.stall >= 300 },
		cause: func(v *view) analysis.Cause {
			if !v.twoOnly() && v.r.Control == OnOff {
				return analysis.Thermostat
			}
			return ""
		},
		allowed: []analysis.Fault{analysis.HeatingStalled, analysis.HeatingSlow, analysis.NotDry, analysis.YieldLow, analysis.EnergyHigh, analysis.PastDry},
		why:     "as no power; the cause where a power meter shows the contactor cycling"},
	{kind: Welded, names: named(analysis.OverTemperature), due: func(v *view) bool { return v.u.overFor > 300 }, shows: func(v *view) bool { return v.u.hottest > v.r.SetC+8 },
		cause:   func(v *view) analysis.Cause { return "" },
		allowed: []analysis.Fault{analysis.OverTemperature, analysis.PastDry, analysis.EnergyHigh},
		why:     "due if the oil was 15 K over its set point for 5 min"},
	{kind: WarmCooling, first: AtBoil, names: func(v *view) []analysis.Fault {
		if v.lost() {
			return []analysis.Fault{analysis.CondenserWarm, analysis.VacuumLost}
		}
		return []analysis.Fault{analysis.CondenserWarm}
	}, due: func(v *view) bool { return v.full() && v.u.warmFor >= 900 || v.lost() },
		shows: func(v *view) bool { return v.u.warmFor >= 120 || v.u.highHot >= 120 },
		cause: func(v *view) analysis.Cause {
			if v.full() && v.u.warmFor >= 900 {
				return analysis.Condenser
			}
			return ""
		},
		allowed: append([]analysis.Fault{analysis.CondenserWarm, analysis.YieldLow, analysis.EnergyHigh, analysis.BoilingPointOff, analysis.NotDry, analysis.HeatingStalled, analysis.HeatingSlow, analysis.GasLevelHigh}, vacuumFaults...),
		why:     "due with a condensate thermometer that stood 15 min within 8 K of the boiling charge or 20 K over usual, or if the vacuum was lost by it"},
	{kind: OtherDrum, first: AtBoil, names: named(analysis.BoilingPointOff), due: func(v *view) bool { return !v.twoOnly() && v.u.offPlate >= 1800 }, shows: func(v *view) bool { return v.u.offPlate >= 300 },
		cause:   func(v *view) analysis.Cause { return "" },
		allowed: append([]analysis.Fault{analysis.BoilingPointOff, analysis.YieldLow, analysis.EnergyHigh, analysis.NotDry, analysis.HeatingSlow, analysis.PastDry, analysis.CondenserWarm, analysis.HeatTransferFalling}, vacuumFaults...),
		why:     "due with a charge or vapour thermometer if the charge boiled half an hour 8 K off the stated solvent at the true pressure"},
	{kind: WetDrum, first: AtBoil, names: named(analysis.BoilingPointOff), due: func(v *view) bool { return !v.twoOnly() && v.u.offPlate >= 1800 }, shows: func(v *view) bool { return v.u.offPlate >= 300 },
		allowed: append([]analysis.Fault{analysis.BoilingPointOff, analysis.YieldLow, analysis.EnergyHigh, analysis.NotDry, analysis.HeatingSlow, analysis.PastDry, analysis.CondenserWarm, analysis.HeatTransferFalling}, vacuumFaults...),
		why:     "as another solvent"},
	{kind: TooSoon, names: named(analysis.NotDry), due: func(v *view) bool {
		return !v.twoOnly() && v.u.flowAtOff > 0.4 && v.u.leftKg > 0.2*v.u.startKg
	}, shows: func(v *view) bool { return v.u.leftKg > 0.06*v.u.startKg },
		allowed: []analysis.Fault{analysis.NotDry, analysis.YieldLow, analysis.EnergyHigh},
		why:     "due with a thermometer in charge or vapour if a fifth of the solvent was left and came over at 40 % of its best rate"},
	{kind: TooLong, names: named(analysis.PastDry), due: func(v *view) bool { return !v.twoOnly() && v.pastDry() > 7000 }, shows: func(v *view) bool { return v.pastDry() > 1500 },
		allowed: []analysis.Fault{analysis.PastDry, analysis.EnergyHigh},
		why:     "due with a thermometer in charge or vapour after two hours"},
	{kind: ThinDrum, first: AtDry, names: named(analysis.YieldLow), due: func(v *view) bool { return v.full() && v.healthy >= 5 && v.yield() < 0.8 }, shows: func(v *view) bool { return v.yield() < 0.9 },
		allowed: []analysis.Fault{analysis.YieldLow, analysis.EnergyHigh, analysis.NotDry, analysis.HeatTransferFalling, analysis.BoilingPointOff},
		why:     "due with a distillate meter if the yield is under 0.8 of that of five healthy runs"},
	{kind: TiredOil, first: AtHeat, names: named(analysis.HeatTransferFalling, analysis.HeatingSlow), due: func(v *view) bool { return !v.twoOnly() && v.last }, shows: always,
		allowed: []analysis.Fault{analysis.HeatTransferFalling, analysis.HeatingSlow, analysis.EnergyHigh},
		why:     "due by the last run, with over 40 % of the transfer gone in two dozen runs, where power and the boiling temperature are measured; any earlier call is right"},
	{kind: Insulation, first: AtHeat, names: named(analysis.EnergyHigh), due: func(v *view) bool { return v.full() && v.healthy >= 5 && v.energyPerL() > 1.35 }, shows: func(v *view) bool { return v.energyPerL() > 1.1 },
		allowed: []analysis.Fault{analysis.EnergyHigh, analysis.HeatingSlow, analysis.HeatTransferFalling},
		why:     "due with energy and distillate measured if a litre took 1.35 times the energy of five healthy runs"},
	{kind: GaugeOff, names: named(analysis.SignalImplausible, analysis.BoilingPointOff), due: never, shows: always,
		allowed: append([]analysis.Fault{analysis.SignalImplausible, analysis.SignalOutOfRange, analysis.BoilingPointOff, analysis.CondenserWarm}, vacuumFaults...),
		why:     "never due: a gauge that is off by a few kPa cannot be told from the weather and the altitude as stated; right if called"},
	{kind: GaugeStays, names: named(analysis.SignalStuck, analysis.SignalImplausible, analysis.VacuumNotPulled, analysis.VacuumShort), due: func(v *view) bool {
		return v.u.stuckRange[1]-v.u.stuckRange[0] > 20000 && v.u.duration > 3600
	}, shows: always,
		allowed: append([]analysis.Fault{analysis.SignalStuck, analysis.SignalImplausible, analysis.BoilingPointOff}, vacuumFaults...),
		why:     "due if the true pressure moved by 20 kPa while the reading did not change for an hour"},
	{kind: GaugeWire, names: named(analysis.SignalOutOfRange, analysis.SignalImplausible, analysis.DeviceSilent), due: always, shows: always,
		allowed: append([]analysis.Fault{analysis.SignalStuck}, vacuumFaults...),
		why:     "due: every reading says so for ten minutes"},
	{kind: GaugeWild, names: named(analysis.SignalImplausible, analysis.SignalOutOfRange), due: always, shows: always,
		allowed: vacuumFaults,
		why:     "due: one reading in fifteen is wild by 25 kPa and more for an hour"},
	{kind: Mute, names: named(analysis.DeviceSilent), due: always, shows: always, allowed: []analysis.Fault{analysis.SignalStuck},
		why: "due: no value of any channel for six minutes and more"},
	{kind: GasRises, names: named(analysis.GasLevelHigh), due: func(v *view) bool { return v.full() && v.u.lelFor > 120 }, shows: func(v *view) bool { return v.full() },
		why: "due with a detector that showed over 12 % of the lower limit for two minutes"},
}

// heatSlower is the time of the oil's rise over the median of healthy runs.
func (v *view) heatSlower() float64 {
	return v.over(func(u *run) float64 { return u.oilRate })
}

func (v *view) yield() float64 {
	return v.over(func(u *run) float64 { return u.condensed / u.batch.Litres })
}

func (v *view) energyPerL() float64 {
	return v.over(func(u *run) float64 { return u.energy / u.condensed })
}

func (v *view) over(f func(*run) float64) float64 {
	var usual []float64
	for _, u := range v.runs[:v.i] {
		if x := f(u); len(u.ills) == 0 && !math.IsNaN(x) && u.was(AtDry) {
			usual = append(usual, x)
		}
	}
	if len(usual) == 0 {
		return math.NaN()
	}
	return f(v.u) / median(usual)
}

// usualEnd is the median level of the healthy runs before, Pa.
func (v *view) usualEnd() float64 {
	var usual []float64
	for _, u := range v.runs[:v.i] {
		if len(u.ills) == 0 && !math.IsNaN(u.endPa) {
			usual = append(usual, u.endPa)
		}
	}
	if len(usual) < learned {
		return math.NaN()
	}
	return median(usual)
}

// firstOf is when a thing that grows over runs was first there, s.
func (v *view) firstOf(k Kind) float64 {
	for _, u := range v.runs {
		for _, i := range u.ills {
			if i.Kind == k {
				return i.since
			}
		}
	}
	return v.u.at[AtStart]
}

func (v *view) pastDry() float64 {
	if !v.u.was(AtDry) || !v.u.was(AtHeatOff) {
		return 0
	}
	return v.u.at[AtHeatOff] - v.u.at[AtDry]
}

// judge gives the faults of a run and what may be called without being wrong.
func (v *view) judge() ([]paper.Fault, []analysis.Fault) {
	var faults []paper.Fault
	allowed := v.debatable()
	add := func(f paper.Fault, since float64) {
		faults = append(faults, f)
		v.from = append(v.from, since)
	}
	for _, ill := range v.u.ills {
		v.since, v.last = ill.since, ill.Last
		for _, k := range rules {
			if k.kind != ill.Kind {
				continue
			}
			allowed = append(allowed, k.allowed...)
			if !k.shows(v) {
				continue
			}
			f := paper.Fault{Names: k.names(v), Due: k.due(v)}
			if k.cause != nil {
				f.Cause = k.cause(v)
			}
			since := ill.since
			if v.u.was(k.first) {
				since = max(since, v.u.at[k.first])
			}
			if ill.Last {
				since = v.firstOf(ill.Kind)
			}
			add(f, since)
		}
		if ill.Kind == WeakAir && v.full() && v.u.airLow > 300 {
			add(paper.Fault{Names: []analysis.Fault{analysis.AirSupplyLow}, Due: true}, ill.since)
		}
	}
	return faults, allowed
}

// debatable is what can be said of a run by its own books, whatever is wrong with it.
func (v *view) debatable() []analysis.Fault {
	u, target := v.u, v.r.TargetKPa*1000
	var out []analysis.Fault
	toTarget := u.at[AtTarget] - u.at[AtPump]
	if !u.targetMet(v.r) || toTarget > 0.75*v.r.Within.Seconds() || u.vapourPa > 0.8*target {
		out = append(out, analysis.VacuumShort, analysis.VacuumSlow)
	}
	if u.batch.Habit == HeatFirst && !v.full() && v.healthy < learned {
		out = append(out, analysis.VacuumNotPulled) // nothing says yet that the air is only to come later
	}
	if u.highHot > 60 {
		out = append(out, analysis.VacuumLost)
	}
	if v.pastDry() > 1500 {
		out = append(out, analysis.PastDry)
	}
	if !u.was(AtDry) || u.leftKg > 0.03*u.startKg+heldShare*v.r.usual.residue {
		out = append(out, analysis.NotDry, analysis.YieldLow)
	}
	if v.twoOnly() && u.batch.Ending != VentHot {
		out = append(out, analysis.HeatingStalled) // heat off under vacuum: an end or a trip, the oil does not say
	}
	if u.hottest > v.r.SetC+10 {
		out = append(out, analysis.OverTemperature)
	}
	return out
}

func median(x []float64) float64 {
	s := append([]float64(nil), x...)
	for i := range s {
		for j := i; j > 0 && s[j] < s[j-1]; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
	return s[len(s)/2]
}
