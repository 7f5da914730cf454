package otherplant

import (
	"math"
	"math/rand/v2"

	"luted/analysis/solvent"
)

var (
	allSets = []string{Two, Typical, Full}
	noTwo   = []string{Typical, Full} // what only a run switch can tell from a run
)

// usual is this shop's ordinary batch, with the small differences of every day.
func usual(r *Rig, rng *rand.Rand) Batch {
	d := r.Drum
	d.Residue *= between(rng, 0.85, 1.15)
	b := Batch{
		Drum: d, Litres: r.ChargeL * r.FillShare * between(rng, 0.96, 1.0),
		LagS: between(rng, 0, 40), MarginS: between(rng, 180, 1000),
		GapS: between(rng, 1800, 7200), EmptyS: between(rng, 300, 1500),
		StandS: between(rng, 900, 2400), WarmC: between(rng, 35, 50),
	}
	if r.Volatile {
		b.Hold = Switched
	}
	return b
}

// habits are the fixed ways of a shop: drawn once for a recording.
type habits struct {
	habit  Habit
	hold   Hold
	ending Ending
}

func drawHabits(rng *rand.Rand) habits {
	return habits{
		pick(rng, Together, Together, Together, VacuumFirst),
		pick(rng, Always, Always, Always, Switched),
		pick(rng, VentHot, VentLater, VentLater, StandClosed, ForcedCool),
	}
}

// series is n ordinary batches, one or two a day.
func series(r *Rig, rng *rand.Rand, n int, h habits) []Batch {
	out := make([]Batch, n)
	day := 0
	for i := range out {
		b := usual(r, rng)
		b.Habit, b.Ending = h.habit, h.ending
		if h.hold != "" && b.Hold == "" {
			b.Hold = h.hold
		}
		if b.Ending == StandClosed {
			b.StandS = between(rng, 3600, 12000)
		}
		b.AtS = float64(day)*86400 + between(rng, 3600, 7200)
		if rng.IntN(4) > 0 || h.ending == StandClosed {
			day++
		}
		out[i] = b
	}
	return out
}

// before is how many healthy runs come first: in half of the recordings none.
func before(rng *rand.Rand) int { return pick(rng, 0, 0, 4, 6) }

// faulty makes a plan whose last batch is changed.
func faulty(change func(r *Rig, rng *rand.Rand, b *Batch)) func(*Rig, *rand.Rand) []Batch {
	return faultyAfter(before, change)
}

func faultyAfter(n func(*rand.Rand) int, change func(r *Rig, rng *rand.Rand, b *Batch)) func(*Rig, *rand.Rand) []Batch {
	return func(r *Rig, rng *rand.Rand) []Batch {
		plan := series(r, rng, n(rng)+1, drawHabits(rng))
		change(r, rng, &plan[len(plan)-1])
		return plan
	}
}

// withIll makes a change that sets something wrong before the start.
func withIll(k Kind, set func(rng *rand.Rand, bad *Bad)) func(*Rig, *rand.Rand) []Batch {
	return faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
		set(rng, &b.Bad)
		b.Ills = []Ill{{Kind: k}}
	})
}

// during makes a change that happens so long after an anchor.
func during(k Kind, a Anchor, low, high float64, set func(rng *rand.Rand, w *World)) func(*Rig, *rand.Rand) []Batch {
	return faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
		after, own := between(rng, low, high), rand.New(rand.NewPCG(rng.Uint64(), 1))
		b.Upsets = append(b.Upsets, Upset{Anchor: a, AfterS: after, Ill: Ill{Kind: k}, Do: func(w *World) { set(own, w) }})
	})
}

// heatUp is a moment while the oil still rises: a heat-up takes at least half an hour in every still drawn.
const heatUpLow, heatUpHigh = 360, 900

func solventRig(name string) func(*Rig, *rand.Rand) {
	return func(r *Rig, _ *rand.Rand) {
		r.Drum.Parts = []solvent.Part{{Name: name, Fraction: 1}}
	}
}

// heavier draws another solvent for one that boils too easily for what a case is to show.
func heavier(r *Rig, rng *rand.Rand) {
	for r.Drum.Parts[0].Name == "acetone" {
		res := r.Drum.Residue
		r.Drum = drums[rng.IntN(len(drums))]
		r.Drum.Residue = res
	}
}

func sound(h habits, n int) func(*Rig, *rand.Rand) []Batch {
	return func(r *Rig, rng *rand.Rand) []Batch { return series(r, rng, n, h) }
}

// Cases are all cases, healthy ones first, then faults, then what only looks like one.
func Cases() []Case {
	out := append(healthyCases(), faultCases()...)
	out = append(out, foolerCases()...)
	for i := range out {
		own := out[i].tune
		out[i].tune = func(r *Rig, rng *rand.Rand) {
			if r.AltitudeM > 1000 {
				heavier(r, rng)
			}
			if own != nil {
				own(r, rng)
			}
		}
	}
	return out
}

func healthyCases() []Case {
	named := func(n string, t func(*Rig, *rand.Rand), p func(*Rig, *rand.Rand) []Batch) Case {
		return Case{Name: "healthy: " + n, Sets: allSets, tune: t, plan: p}
	}
	single := func(r *Rig, rng *rand.Rand) []Batch { return series(r, rng, 1, drawHabits(rng)) }
	low := func(name string) func(*Rig, *rand.Rand) {
		return func(r *Rig, rng *rand.Rand) {
			r.AltitudeM = min(r.AltitudeM, 220)
			r.AmbientC, r.AmbientSwingC = min(r.AmbientC, 17), min(r.AmbientSwingC, 2)
			solventRig(name)(r, rng)
		}
	}
	return []Case{
		named("a single run", nil, single),
		named("heat and vacuum together", nil, sound(habits{Together, Always, VentLater}, 5)),
		named("vacuum first, then heat", nil, sound(habits{VacuumFirst, Always, VentHot}, 4)),
		named("heat first, vacuum when warm", nil, sound(habits{HeatFirst, Always, VentLater}, 4)),
		named("pressure switch cycles the ejector", nil, sound(habits{Together, Switched, VentLater}, 4)),
		named("ejector off at the target, check valve holds", nil, sound(habits{Together, Once, VentLater}, 4)),
		named("vented hot at once", nil, sound(habits{Together, Always, VentHot}, 4)),
		named("left closed to cool overnight", nil, sound(habits{Together, Always, StandClosed}, 3)),
		named("forced cooling", nil, sound(habits{VacuumFirst, Switched, ForcedCool}, 4)),
		named("timer ends the run", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 4, drawHabits(rng))
			for i := range plan { // the timer was set by experience: the margin varies, the run does not end wet
				plan[i].MarginS = between(rng, 300, 1500)
			}
			return plan
		}),
		named("small still on one phase", func(r *Rig, rng *rand.Rand) {
			r.ChargeL, r.HeadL, r.ReceiverL, r.HeaterKW, r.Phases = 15, 5, 14, 1.5, 1
		}, sound(habits{Together, Always, VentLater}, 4)),
		named("200 L still, slow pump", func(r *Rig, rng *rand.Rand) {
			r.ChargeL, r.HeadL, r.ReceiverL, r.HeaterKW, r.Phases, r.TauS = 200, 70, 180, 20, 3, 280
		}, sound(habits{Together, Always, VentLater}, 3)),
		named("at 3000 m", func(r *Rig, rng *rand.Rand) { r.AltitudeM = 3000; heavier(r, rng) }, sound(habits{Together, Always, VentLater}, 3)),
		named("acetone", low("acetone"), sound(habits{Together, Switched, VentLater}, 4)),
		named("methylene chloride", low("dichloromethane"), sound(habits{Together, Switched, VentLater}, 3)),
		named("blend of MEK and toluene", func(r *Rig, rng *rand.Rand) {
			r.Drum.Parts = []solvent.Part{{Name: "methyl ethyl ketone", Fraction: 0.4}, {Name: "toluene", Fraction: 0.6}}
		}, sound(habits{Together, Always, VentLater}, 4)),
		named("n-butyl acetate", solventRig("n-butyl acetate"), sound(habits{VacuumFirst, Always, VentLater}, 4)),
		named("charges of different size", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 6, drawHabits(rng))
			for i := range plan {
				plan[i].Litres *= between(rng, 0.6, 1)
			}
			return plan
		}),
	}
}

func faultCases() []Case {
	c := func(n string, sets []string, t func(*Rig, *rand.Rand), p func(*Rig, *rand.Rand) []Batch) Case {
		return Case{Name: "fault: " + n, Sets: sets, tune: t, plan: p}
	}
	hole := func(low, high float64) func(*rand.Rand, *Bad) {
		return func(rng *rand.Rand, bad *Bad) { bad.Hole = between(rng, low, high) }
	}
	onOff := func(r *Rig, rng *rand.Rand) { heavier(r, rng); r.Control = OnOff }
	steady := func(r *Rig, rng *rand.Rand) { // a charge that leaves the end pressure to the ejector
		r.Drum.Parts = []solvent.Part{{Name: pick(rng, "toluene", "m-xylene", "n-butyl acetate"), Fraction: 1}}
		r.AmbientC = min(r.AmbientC, 22)
	}
	return []Case{
		c("lid not locked", allSets, nil, withIll(Leak, hole(35, 70))),
		c("drain valve open", allSets, nil, withIll(Leak, func(rng *rand.Rand, bad *Bad) { bad.Drain = between(rng, 12, 22) })),
		c("leak of 3 to 8 mm", allSets, nil, withIll(Leak, hole(3, 8))),
		c("leak of 1 to 3 mm", allSets, nil, withIll(Leak, hole(1, 3))),
		c("leak of 0.3 to 1 mm", allSets, nil, withIll(Leak, hole(0.3, 1))),
		c("gasket leaks all round", allSets, nil, faulty(func(r *Rig, rng *rand.Rand, b *Batch) {
			b.Bad.Gasket = between(rng, 0.2, 0.8) * r.Ejector.SpeedLS * 1e-3 / (gasR * 293)
			b.Ills = []Ill{{Kind: Leak}}
		})),
		c("seal wears over 25 runs", allSets, steady, growing(GrowingLeak, 25, func(r *Rig, b *Batch, k float64) {
			b.Bad.Gasket = 0.16 * k * r.Ejector.SpeedLS * 1e-3 / (gasR * 293)
		})),
		c("air weak from the start", allSets, nil, withIll(WeakAir, func(rng *rand.Rand, bad *Bad) { bad.AirShare = between(rng, 0.25, 0.72) })),
		c("air fails mid-run", allSets, nil, during(WeakAir, AtBoil, 200, 1500, func(rng *rand.Rand, w *World) { w.bad.AirShare = pick(rng, -1, 0.3, 0.45) })),
		c("worn ejector", allSets, nil, withIll(WornJet, func(rng *rand.Rand, bad *Bad) { bad.Wear = between(rng, 0.25, 0.7) })),
		c("seal lost mid-run", allSets, nil, during(Leak, AtBoil, 200, 1500, func(rng *rand.Rand, w *World) { w.bad.Hole = between(rng, 5, 25) })),
		c("seal lost in the heat-up", allSets, nil, during(Leak, AtTarget, 30, 300, func(rng *rand.Rand, w *World) { w.bad.Hole = between(rng, 6, 25) })),
		c("elements gone from the start", allSets, nil, withIll(LostPower, func(rng *rand.Rand, bad *Bad) { bad.Power = pick(rng, 1.0/3, 0.5, 2.0/3) })),
		c("phase lost in the heat-up", allSets, nil, during(LostPower, AtHeat, heatUpLow, heatUpHigh, func(rng *rand.Rand, w *World) { w.bad.Power = pick(rng, 1.0/3, 0.5) })),
		c("breaker trips in the heat-up", allSets, nil, tripped(AtHeat, heatUpLow, heatUpHigh)),
		c("high limit trips while it boils", allSets, nil, tripped(AtBoil, 600, 1500)),
		c("thermostat stops too low", allSets, nil, faulty(func(r *Rig, rng *rand.Rand, b *Batch) {
			b.Bad.LowBy = between(rng, 30, 45)
			b.TimerS = between(rng, 3, 5) * 3600
			b.Ills = []Ill{{Kind: LowStat}}
		})),
		c("contactor welded", allSets, nil, faulty(func(r *Rig, rng *rand.Rand, b *Batch) {
			b.MarginS = between(rng, 1800, 3600)
			b.Upsets = append(b.Upsets, Upset{Anchor: AtHeat, AfterS: between(rng, 600, 4000), Ill: Ill{Kind: Welded}, Do: func(w *World) { w.bad.Stuck = true }})
		})),
		c("coolant lost", allSets, nil, during(WarmCooling, AtBoil, 120, 1200, func(_ *rand.Rand, w *World) { w.bad.NoCoolant = true })),
		c("coolant warm", allSets, nil, withIll(WarmCooling, func(rng *rand.Rand, bad *Bad) { bad.Coolant = between(rng, 12, 30) })),
		c("condenser fouled", allSets, nil, withIll(WarmCooling, func(rng *rand.Rand, bad *Bad) { bad.Foul = between(rng, 0.4, 0.8) })),
		c("wrong drum", allSets, solventRig("toluene"), faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
			b.Drum.Parts = []solvent.Part{{Name: pick(rng, "acetone", "methyl ethyl ketone", "m-xylene", "n-butyl acetate", "ethyl acetate"), Fraction: 1}}
			b.Ills = []Ill{{Kind: OtherDrum}}
		})),
		c("wet drum", allSets, func(r *Rig, rng *rand.Rand) {
			r.Drum.Parts = []solvent.Part{{Name: pick(rng, "toluene", "m-xylene", "n-butyl acetate"), Fraction: 1}}
		}, faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
			b.Drum.Water = between(rng, 0.1, 0.4)
			b.Ills = []Ill{{Kind: WetDrum}}
		})),
		c("stopped too soon", allSets, nil, faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
			after := between(rng, 900, 2400)
			b.Upsets = append(b.Upsets, Upset{Anchor: AtBoil, AfterS: after, Ill: Ill{Kind: TooSoon}, Do: func(w *World) {
				w.crew.plan[w.crew.next].TimerS = 1
			}})
		})),
		c("left on for hours when dry", allSets, nil, faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
			b.MarginS = between(rng, 8000, 14000)
			b.Upsets = append(b.Upsets, Upset{Anchor: AtDry, Ill: Ill{Kind: TooLong}, Do: func(*World) {}})
		})),
		c("thin drum, low yield", []string{Full, Typical}, nil, faultyAfter(func(*rand.Rand) int { return 6 }, func(r *Rig, rng *rand.Rand, b *Batch) {
			b.Drum.Residue = between(rng, 0.4, 0.55)
			b.Ills = []Ill{{Kind: ThinDrum}}
		})),
		c("oil fouls over 25 runs", allSets, nil, growing(TiredOil, 25, func(_ *Rig, b *Batch, k float64) { b.Bad.Tired = 0.55 * k })),
		c("insulation soaked", allSets, nil, faultyAfter(func(*rand.Rand) int { return 6 }, func(_ *Rig, rng *rand.Rand, b *Batch) {
			b.Bad.Loss = between(rng, 3, 5)
			b.Ills = []Ill{{Kind: Insulation}}
		})),
		c("gauge offset", allSets, nil, withIll(GaugeOff, func(rng *rand.Rand, bad *Bad) { bad.GaugeOffset = between(rng, 3, 8) * pick(rng, -1.0, 1) })),
		c("gauge drifts over 12 runs", allSets, nil, growing(GaugeOff, 12, func(_ *Rig, b *Batch, k float64) { b.Bad.GaugeOffset = 6 * k })),
		c("gauge sticks", allSets, nil, during(GaugeStays, AtStart, 60, 3000, func(_ *rand.Rand, w *World) { w.bad.GaugeStuck = true })),
		c("gauge wire breaks", allSets, nil, during(GaugeWire, AtHeat, 60, 4000, func(_ *rand.Rand, w *World) { w.bad.GaugeBroken = true })),
		c("gauge spikes", allSets, nil, during(GaugeWild, AtHeat, 60, 2000, func(_ *rand.Rand, w *World) { w.bad.GaugeSpikes = 1.0 / 15 })),
		c("device silent", allSets, nil, faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
			at := between(rng, 600, 4000)
			b.Upsets = append(b.Upsets,
				Upset{Anchor: AtHeat, AfterS: at, Ill: Ill{Kind: Mute}, Do: func(w *World) { w.bad.Silent = true }},
				Upset{Anchor: AtHeat, AfterS: at + between(rng, 360, 1500), Do: func(w *World) { w.bad.Silent = false }})
		})),
		c("gas at the detector", []string{Full}, nil, during(GasRises, AtBoil, 100, 1500, func(rng *rand.Rand, w *World) { w.bad.Gas = between(rng, 14, 40) })),
		c("phase lost while on-off control holds", allSets, onOff, during(LostPower, AtBoil, 100, 900, func(rng *rand.Rand, w *World) { w.bad.Power = pick(rng, 1.0/3, 0.5) })),
	}
}

// tripped cuts the power for the rest of the run, which is given up after some hours.
func tripped(a Anchor, low, high float64) func(*Rig, *rand.Rand) []Batch {
	return faulty(func(_ *Rig, rng *rand.Rand, b *Batch) {
		b.Upsets = append(b.Upsets,
			Upset{Anchor: a, AfterS: between(rng, low, high), Ill: Ill{Kind: NoPower}, Do: func(w *World) { w.bad.Trip = true }},
			Upset{Anchor: a, AfterS: high + between(rng, 5400, 10800), Do: func(w *World) { w.crew.plan[w.crew.next].TimerS = 1 }})
	})
}

// growing is a thing that is there from the sixth of n runs and grows to its full size in the last.
func growing(k Kind, n int, set func(r *Rig, b *Batch, share float64)) func(*Rig, *rand.Rand) []Batch {
	return func(r *Rig, rng *rand.Rand) []Batch {
		h := drawHabits(rng)
		h.habit, h.hold = Together, Always
		plan := series(r, rng, n, h)
		for i := 5; i < n; i++ {
			share := math.Pow(float64(i-4)/float64(n-5), 1.3)
			set(r, &plan[i], share)
			plan[i].Ills = []Ill{{Kind: k, Last: i == n-1}}
		}
		return plan
	}
}
