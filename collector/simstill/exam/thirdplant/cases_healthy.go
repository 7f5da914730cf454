package thirdplant

import (
	"math"
	"time"

	"luted/analysis/solvent"
)

// healthyCases are habits and oddities in which nothing is wrong.
var healthyCases = []Case{
	{Name: "plain run", Seeds: 3, build: func(b *bench) { b.usual(0) }},
	{Name: "short recording", Seeds: 3, build: func(b *bench) { b.short() }},
	{Name: "two weeks of runs", build: func(b *bench) { b.series(10) }},
	{Name: "two runs a day", build: func(b *bench) {
		for range 4 {
			b.usual(86400 - 6.5*3600)
			b.usual(6.5 * 3600)
		}
	}},
	{Name: "recording begins mid-run", build: func(b *bench) {
		b.usual(0)
		b.skip = b.lead + b.in(2000, 5000)
		b.usual(30 * 3600)
	}},
	{Name: "vacuum only when warm", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.airAfter, j.heatAfter, j.heatAtKPa, j.airWhenC = 0, 0, 0, b.in(55, 80)
	}},
	{Name: "vacuum long before heat", build: func(b *bench) {
		j := b.usual(0)
		j.airAfter, j.heatAfter, j.heatAtKPa = 0, b.in(1800, 3600), 0
	}},
	{Name: "lunch pause", build: func(b *bench) {
		j := b.usual(0)
		j.pauses = [][2]float64{{4000, 4000 + b.in(1500, 3000)}}
	}},
	{Name: "small charge", Seeds: 2, build: func(b *bench) { b.usual(0).fillL = b.fullL * b.in(0.35, 0.55) }},
	{Name: "thick sludge", build: func(b *bench) {
		b.recipe.residue = b.in(0.25, 0.35)
		b.usual(0)
	}},
	{Name: "cold drum in a cold shop", build: func(b *bench) {
		b.roomMeanC = b.in(4, 9)
		b.usual(0).startC = b.in(0, 4)
	}},
	{Name: "warm drum from the sun", build: func(b *bench) { b.usual(0).startC = b.in(34, 40) }},
	{Name: "inHg steps and report by exception", Seeds: 2, build: func(b *bench) {
		b.panel.inHg, b.panel.band = oneOf(b.dice, 0.25, 0.5), 1
		b.series(4)
	}},
	{Name: "averaging panel, slow poll", build: func(b *bench) {
		b.panel.mean, b.poll, b.panel.jitterS = true, 10*time.Second, 0.8
		b.series(3)
	}},
	{Name: "scans missing, lone spikes", Seeds: 2, build: func(b *bench) {
		b.panel.missing, b.panel.blips, b.panel.jitterS = 0.03, 0.0005, 0.3
		b.usual(0)
		b.usual(24 * 3600)
	}},
	{Name: "vacuum held shut after heat", build: func(b *bench) {
		j := b.usual(0)
		j.ending, j.holdS = holdShut, 1200
	}},
	{Name: "bursts from a controller", build: func(b *bench) {
		b.heater.control, b.heater.burstS = pidBurst, 20
		b.usual(0)
	}},
	{Name: "receiver emptied under way", build: func(b *bench) {
		b.usual(0)
		j := b.usual(24 * 3600)
		j.empties = []float64{math.Round(b.in(4500, 7000))}
	}},
	{Name: "charge thermometer and gauge only", Sets: []string{Two}, Seeds: 3, build: func(b *bench) {
		b.pressTwo = true
		b.series(3)
	}},
	{Name: "isolation test before heat", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.airAfter, j.heatAfter, j.heatAtKPa = 0, b.in(1500, 1800), 0
		j.isolate = [2]float64{900, 900 + b.in(200, 500)}
	}},
	{Name: "bumps when it begins to boil", build: func(b *bench) {
		b.plant.superK = b.in(6, 10)
		b.series(3)
	}},
	{Name: "two stages", Seeds: 3, build: func(b *bench) {
		b.plant.jet.secondLs, b.plant.jet.kneeKPa = b.plant.jet.speedLs*b.in(0.5, 1.8), b.in(40, 65)
		b.usual(0)
		b.usual(24 * 3600)
	}},
	{Name: "ejector comes up in steps", build: func(b *bench) {
		b.plant.jet.rampS, b.plant.jet.steps = b.in(20, 60), oneOf(b.dice, 2, 3, 4)
		b.series(2)
	}},
	{Name: "acetone in summer", build: func(b *bench) {
		b.recipe.mix, b.roomMeanC = solvent.Mixture{Parts: []solvent.Part{{Name: "acetone", Fraction: 1}}}, b.in(26, 31)
		b.series(2)
	}},
	{Name: "data sheet solvent", Seeds: 2, build: func(b *bench) {
		b.recipe.mix, b.unknown = solvent.Mixture{Parts: []solvent.Part{ownSolvent()}}, false
		b.usual(0)
	}},
	{Name: "mountain shop", Seeds: 2, build: func(b *bench) {
		b.altM = b.in(2000, 3000)
		b.series(3)
	}},
	{Name: "storm front", build: func(b *bench) {
		b.weatherKPa = b.in(1, 1.3)
		b.series(8)
	}},
	{Name: "staged elements", build: func(b *bench) {
		b.heater.control, b.heater.stages = staged, 3
		b.series(3)
	}},
	{Name: "thermostat with a wide differential", build: func(b *bench) {
		b.heater.control, b.heater.diffK = bangBang, b.in(10, 16)
		b.series(3)
	}},
	{Name: "oil runs at its set point", Seeds: 2, build: func(b *bench) { // a big heater on a small jacket
		b.heater.kW = b.fullL * b.in(0.13, 0.16)
		b.powerful = true
		b.series(2)
	}},
	{Name: "small heater", build: func(b *bench) {
		b.heater.kW = b.fullL * b.in(0.035, 0.045)
		b.series(2)
	}},
	{Name: "timed runs", build: func(b *bench) { // by the clock: mostly some time dry, never too long
		b.series(4)
		for _, j := range b.jobs {
			j.afterDry = b.in(200, 1400)
			j.ending = ventHot
		}
	}},
	{Name: "vented hot at the end", Seeds: 2, build: func(b *bench) {
		b.habit.ending = ventHot
		b.series(3)
	}},
	{Name: "cooled long under vacuum", Seeds: 2, build: func(b *bench) {
		b.habit.ending, b.habit.coolToC, b.habit.coolMostS = coolUnder, 40, 5400
		b.series(3)
	}},
	{Name: "runs of different size", build: func(b *bench) {
		b.series(8)
		for _, j := range b.jobs {
			j.fillL = b.fullL * b.in(0.45, 1)
		}
	}},
	{Name: "runs of different dirt", build: func(b *bench) {
		b.series(8)
		for _, j := range b.jobs {
			j.drum = &recipe{mix: b.recipe.mix, residue: b.in(0.04, 0.22)}
		}
	}},
	{Name: "noisy gauge", build: func(b *bench) {
		b.panel.noise = 3
		b.series(2)
	}},
	{Name: "short recordings at ten seconds", Seeds: 3, build: func(b *bench) {
		b.poll = 10 * time.Second
		b.short()
	}},
	{Name: "short recording, hot from the run before", Seeds: 2, build: func(b *bench) {
		b.usual(0)
		b.usual(b.in(5.5, 6.5) * 3600)
		b.skip = b.jobs[1].at - b.in(120, 500)
		b.tail = 300
	}},
}
