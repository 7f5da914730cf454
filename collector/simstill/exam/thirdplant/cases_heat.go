package thirdplant

// heatCases are faults of the heating.
var heatCases = []Case{
	{Name: "breaker trips on the way up", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.wrong(breakerOut, 1, fromHeat, b.in(500, 1100))
		j.totalS = 3 * 3600
	}},
	{Name: "supply phase lost", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(phaseGone, oneOf(b.dice, 0.5, 0.667), fromHeat, b.in(0, 1500)) }},
	{Name: "element group lost after a week", Seeds: 2, build: func(b *bench) { b.series(6).wrong(phaseGone, 0.5, fromPrep, 0) }},
	{Name: "thermostat stops too low", Seeds: 2, build: func(b *bench) {
		b.heater.control = bangBang
		j := b.usual(0)
		j.wrong(statLow, b.in(30, 45), fromPrep, 0)
		j.totalS = 4.5 * 3600
	}},
	{Name: "contactor sticks", Seeds: 2, build: func(b *bench) {
		b.heater.control = bangBang
		j := b.usual(0)
		j.wrong(contactorStuck, 1, fromHot, b.in(60, 900))
		j.afterDry = 2400
	}},
	{Name: "heat transfer falls over weeks", Seeds: 2, build: func(b *bench) {
		n := 18
		b.slowPoll(n)
		b.days(n)
		for i := 4; i < n; i++ {
			w := b.jobs[i].wrong(oilFouls, 0.5*float64(i-3)/float64(n-4), fromPrep, 0)
			w.last = i == n-1
		}
	}},
	{Name: "limiter trips and stays", Seeds: 2, build: func(b *bench) {
		b.usual(0)
		j := b.usual(24 * 3600)
		j.wrong(breakerOut, 1, fromBoil, b.in(300, 1500))
		j.totalS = 4 * 3600
	}},
	{Name: "breaker for a quarter of an hour", build: func(b *bench) {
		b.usual(0).wrong(breakerOut, 1, fromHeat, b.in(600, 1500)).forS = 900
	}},
	{Name: "contactor sticks, limit set", build: func(b *bench) {
		b.heater.control = bangBang
		j := b.usual(0)
		j.wrong(contactorStuck, 1, fromHot, b.in(60, 600))
		j.afterDry = 2400
		b.limitC = 0.5
	}},
	{Name: "low mains", build: func(b *bench) { // a tenth of the power gone is no fault to be called
		b.series(5).wrong(lowMains, 0.9, fromPrep, 0)
	}},
	{Name: "phase lost under way", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(phaseGone, oneOf(b.dice, 0.5, 0.667), fromBoil, b.in(600, 1800)) }},
}
