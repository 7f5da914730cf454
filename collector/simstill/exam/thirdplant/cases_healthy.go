package thirdplant

import (
	"math"
	"time"
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
}
