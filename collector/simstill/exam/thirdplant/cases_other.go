package thirdplant

import "luted/analysis/solvent"

// otherCases are faults of condenser, drum, timing and instruments.
var otherCases = []Case{
	{Name: "coolant shut", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(coolantGone, 0.02, fromBoil, b.in(900, 2400)) }},
	{Name: "another drum", Seeds: 2, build: func(b *bench) {
		b.recipe.mix, b.unknown = solvent.Mixture{Parts: []solvent.Part{{Name: "n-butyl acetate", Fraction: 1}}}, false
		j := b.usual(0)
		j.drum = &recipe{mix: solvent.Mixture{Parts: []solvent.Part{{Name: oneOf(b.dice, "methyl ethyl ketone", "ethyl acetate"), Fraction: 1}}}, residue: 0.1}
		j.wrong(otherDrum, 1, fromPrep, 0)
	}},
	{Name: "stopped wet", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.wrong(tooSoon, 1, fromBoil, 0)
		j.boilS = b.in(1500, 2700)
	}},
	{Name: "left on", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.afterDry = b.in(7500, 11000)
		j.wrong(tooLong, 1, fromDry, 0)
	}},
	{Name: "gauge wire breaks", build: func(b *bench) { b.usual(0).wrong(gaugeWire, 1, fromBoil, b.in(0, 2000)).forS = 1500 }},
	{Name: "gauge sticks at rest", build: func(b *bench) { b.usual(0).wrong(gaugeStuck, 1, fromPrep, 0) }},
	{Name: "device silent", build: func(b *bench) { b.usual(0).wrong(deviceMute, 1, fromBoil, 600).forS = 700 }},
	{Name: "gas at the detector", Sets: []string{Full}, build: func(b *bench) { b.usual(0).wrong(gasOut, b.in(18, 40), fromBoil, 900).forS = 600 }},
}
