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
	{Name: "gauge sticks at rest", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(gaugeStuck, 1, fromPrep, 0) }},
	{Name: "device silent", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(deviceMute, 1, fromBoil, 600).forS = 700 }},
	{Name: "gas at the detector", Sets: []string{Full}, build: func(b *bench) { b.usual(0).wrong(gasOut, b.in(18, 40), fromBoil, 900).forS = 600 }},
	{Name: "coolant warm in the afternoon", Seeds: 2, build: func(b *bench) {
		b.usual(0)
		b.usual(24*3600).wrong(coolantWarm, b.in(28, 40), fromBoil, b.in(300, 1800))
	}},
	{Name: "water in the drum", Seeds: 2, build: func(b *bench) {
		b.recipe.mix, b.unknown = solvent.Mixture{Parts: []solvent.Part{{Name: oneOf(b.dice, "toluene", "m-xylene"), Fraction: 1}}}, false
		parts := []solvent.Part{{Name: b.recipe.mix.Parts[0].Name, Fraction: 0.65}, {Name: "water", Fraction: 0.35}}
		j := b.usual(0)
		j.drum = &recipe{mix: solvent.Mixture{Parts: parts}, residue: 0.08}
		j.wrong(wetDrum, 1, fromPrep, 0)
	}},
	{Name: "a little water in the drum", build: func(b *bench) {
		b.recipe.mix, b.unknown = solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}, false
		j := b.usual(0)
		j.drum = &recipe{mix: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.98}, {Name: "water", Fraction: 0.02}}}, residue: 0.08}
		j.wrong(wetDrum, 1, fromPrep, 0)
	}},
	{Name: "heavier drum", Seeds: 2, build: func(b *bench) {
		b.recipe.mix, b.unknown = solvent.Mixture{Parts: []solvent.Part{{Name: "methyl ethyl ketone", Fraction: 1}}}, false
		b.setAboveDryK = 80
		j := b.usual(0)
		j.drum = &recipe{mix: solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}, residue: 0.08}
		j.wrong(otherDrum, 1, fromPrep, 0)
	}},
	{Name: "thin drum after a week", Seeds: 2, build: func(b *bench) {
		j := b.series(7)
		j.drum = &recipe{mix: b.recipe.mix, residue: b.in(0.38, 0.5)}
		j.wrong(thinDrum, 1, fromPrep, 0)
	}},
	{Name: "lagging soaked after a week", Seeds: 2, build: func(b *bench) { b.series(7).wrong(wetLagging, b.in(6, 9), fromPrep, 0) }},
	{Name: "stopped wet after a week", Seeds: 2, build: func(b *bench) {
		j := b.series(6)
		j.wrong(tooSoon, 1, fromBoil, 0)
		j.boilS = b.in(1500, 2400)
	}},
	{Name: "left on after a week", Seeds: 2, build: func(b *bench) {
		j := b.series(6)
		j.afterDry = b.in(7500, 11000)
		j.wrong(tooLong, 1, fromDry, 0)
	}},
	{Name: "gauge wild", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(gaugeWild, 0.08, fromTarget, 600).forS = 3600 }},
	{Name: "gauge off", Seeds: 2, build: func(b *bench) {
		b.series(5)
		for _, j := range b.jobs[3:] {
			j.wrong(gaugeDrift, oneOf(b.dice, -3.0, 3), fromPrep, 0)
		}
	}},
	{Name: "gauge sticks under vacuum", build: func(b *bench) { b.usual(0).wrong(gaugeStuck, 1, fromTarget, b.in(0, 900)) }},
	{Name: "oil thermometer sticks", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(thermoStuck, 1, fromHeat, 300) }},
	{Name: "device silent for a moment", build: func(b *bench) { b.usual(0).wrong(deviceShort, 1, fromBoil, 900).forS = 25 }},
}
