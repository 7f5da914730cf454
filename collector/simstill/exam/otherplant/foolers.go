package otherplant

import (
	"math/rand/v2"
	"strings"

	"luted/analysis/solvent"
)

// foolerCases are healthy recordings that look wrong to whoever looks once.
func foolerCases() []Case {
	c := func(n string, t func(*Rig, *rand.Rand), p func(*Rig, *rand.Rand) []Batch) Case {
		return Case{Name: "fooler: " + n, Sets: allSets, tune: t, plan: p}
	}
	during := func(f func(r *Rig, rng *rand.Rand, b *Batch)) func(*Rig, *rand.Rand) []Batch { return faulty(f) }
	acetone := func(r *Rig, _ *rand.Rand) {
		r.AltitudeM = min(r.AltitudeM, 220)
		r.Drum.Parts = []solvent.Part{{Name: "acetone", Fraction: 1}}
	}
	runSwitch := func(r *Rig, _ *rand.Rand) { r.RunFitted = true }
	out := []Case{
		c("cold volatile charge holds the pressure up", func(r *Rig, rng *rand.Rand) {
			acetone(r, rng)
			r.TargetKPa = between(rng, 20, 25) // written by someone who thought of toluene
			r.AmbientC = max(r.AmbientC, 19)
		}, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 3, habits{Together, Always, VentLater})
			for i := range plan {
				plan[i].Hold = Always
			}
			return plan
		}),
		c("second run hot on the heels of the first", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 4, habits{Together, Always, VentHot})
			for i := range plan {
				plan[i].AtS, plan[i].GapS, plan[i].EmptyS = float64(i/2)*86400, 900, 300
			}
			return plan
		}),
		c("pressure switch and a small healthy leak", func(r *Rig, rng *rand.Rand) { heavier(r, rng) },
			sound(habits{VacuumFirst, Switched, VentLater}, 3)),
		c("barometric front", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 5, drawHabits(rng))
			for i := range plan {
				deep := between(rng, -2800, -1200) * float64(i%2)
				plan[i].Upsets = append(plan[i].Upsets, Upset{Anchor: AtStart, AfterS: 5, Do: func(w *World) { w.crew.front = deep / 4 }},
					Upset{Anchor: AtBoil, AfterS: 600, Do: func(w *World) { w.crew.front = deep / 2 }},
					Upset{Anchor: AtBoil, AfterS: 2400, Do: func(w *World) { w.crew.front = deep }})
			}
			return plan
		}),
		c("ejector tried with the lid open between runs", nil, func(r *Rig, rng *rand.Rand) []Batch {
			return between2(series(r, rng, 4, drawHabits(rng)), Batch{Chore: true, Length: 120, Upsets: []Upset{
				{AfterS: 10, Do: func(w *World) { w.open(); w.air = true }},
				{AfterS: 50, Do: func(w *World) { w.air = false }},
			}})
		}),
		c("isolation test of the empty still", runSwitch, func(r *Rig, rng *rand.Rand) []Batch {
			return between2(series(r, rng, 3, drawHabits(rng)), Batch{Chore: true, Length: 8*r.TauS + 1200, Upsets: []Upset{
				{AfterS: 5, Do: func(w *World) { w.open(); w.lid, w.air = false, true }},
				{AfterS: 8 * r.TauS, Do: func(w *World) { w.bad.SealedAway, w.air = true, false }},
				{AfterS: 8*r.TauS + 1100, Do: func(w *World) { w.bad.SealedAway, w.lid = false, true }},
			}})
		}),
		c("isolation test while it is cold, then the run", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, 4, habits{VacuumFirst, Always, VentLater})
			for i := range plan {
				plan[i].LagS = 700
			}
			plan[3].Upsets = append(plan[3].Upsets,
				Upset{Anchor: AtTarget, AfterS: 60, Do: func(w *World) { w.bad.SealedAway = true }},
				Upset{Anchor: AtTarget, AfterS: 600, Do: func(w *World) { w.bad.SealedAway = false }})
			return plan
		}),
		c("charge added late", nil, during(func(r *Rig, rng *rand.Rand, b *Batch) {
			more := b.Litres * between(rng, 0.2, 0.35)
			b.Litres -= more
			b.Upsets = append(b.Upsets, Upset{Anchor: AtHeat, AfterS: between(rng, 900, 1800), Do: func(w *World) { w.topUp(b.Drum, more) }})
		})),
		c("power cut of 3 s", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) {
			at := between(rng, 900, 5000)
			b.Upsets = append(b.Upsets,
				Upset{Anchor: AtStart, AfterS: at, Do: func(w *World) { w.bad.Trip, w.bad.Silent, w.bad.SealedAway = true, true, true }},
				Upset{Anchor: AtStart, AfterS: at + 3, Do: func(w *World) { w.bad.Trip, w.bad.Silent, w.bad.SealedAway = false, false, false }})
		})),
		c("set point changed by hand", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) {
			by := pick(rng, -15.0, -10, -10, 7)
			b.Upsets = append(b.Upsets, Upset{Anchor: AtBoil, AfterS: between(rng, 600, 2400), Do: func(w *World) { w.setC += by }})
		})),
		c("heat paused by hand and taken up again", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) {
			at := between(rng, 600, 2400)
			b.Upsets = append(b.Upsets,
				Upset{Anchor: AtBoil, AfterS: at, Do: func(w *World) { w.crew.paused = true }},
				Upset{Anchor: AtBoil, AfterS: at + between(rng, 300, 900), Do: func(w *World) { w.crew.paused = false }})
		})),
		c("receiver emptied mid-run", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) {
			b.Upsets = append(b.Upsets, Upset{Anchor: AtBoil, AfterS: between(rng, 1500, 3000), Do: func(w *World) {
				w.held = min(w.held, w.line+w.lineWet+0.02) // through a lock: the vacuum stays
			}})
		})),
		c("clock of the logger set on", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) {
			by := between(rng, 20, 180)
			b.Upsets = append(b.Upsets, Upset{Anchor: AtBoil, AfterS: between(rng, 600, 2400), Do: func(w *World) {
				w.crew.setOn = append(w.crew.setOn, setOn{w.t, by})
			}})
		})),
		c("oil kept hot for hours with no run", runSwitch, func(r *Rig, rng *rand.Rand) []Batch {
			return between2(series(r, rng, 3, habits{Together, Always, VentHot}), Batch{Chore: true, Length: 4 * 3600, Upsets: []Upset{
				{AfterS: 5, Do: func(w *World) { w.open(); w.lid = false; w.vent = true; w.heat = true; w.setC = 90 }},
				{AfterS: 4*3600 - 10, Do: func(w *World) { w.heat, w.vent, w.lid = false, false, true; w.setC = w.r.SetC }},
			}})
		}),
		c("given up after two minutes, lid relocked, started again", nil, func(r *Rig, rng *rand.Rand) []Batch {
			plan := series(r, rng, before(rng)+2, drawHabits(rng))
			first := &plan[len(plan)-2]
			first.AbortS, first.Ending, first.EmptyS = 120, VentHot, 120
			plan[len(plan)-1].AtS, plan[len(plan)-1].GapS = 0, 600
			return plan
		}),
		c("cold drum from the yard", nil, during(func(_ *Rig, rng *rand.Rand, b *Batch) { b.ColdC = between(rng, 2, 8) })),
	}
	for i := range out {
		if strings.Contains(out[i].Name, "oil kept hot") || strings.Contains(out[i].Name, "isolation test of the empty") {
			out[i].Sets = noTwo
		}
	}
	return out
}

// between2 puts a chore before the last batch.
func between2(plan []Batch, chore Batch) []Batch {
	n := len(plan) - 1
	chore.AtS, chore.GapS = plan[n-1].AtS, 3600
	last := plan[n]
	last.GapS = 1800
	return append(plan[:n:n], chore, last)
}

// topUp adds cold charge through the filling pipe.
func (w *World) topUp(d Drum, litres float64) {
	more, err := d.fill(litres)
	if err != nil || len(more.parts) != len(w.liquor.parts) {
		return
	}
	was, add := w.liquor.heatCapacity(), more.heatCapacity()
	for i := range more.mol {
		w.liquor.mol[i] += more.mol[i]
	}
	w.liquor.residue += more.residue
	w.pot = (w.pot*was + w.ambient*add) / (was + add)
	w.filledL += litres
	w.startKg = w.liquor.volatileKg()
	w.crew.run.startKg = w.startKg
}
