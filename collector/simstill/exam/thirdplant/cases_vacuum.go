package thirdplant

// vacuumCases are faults of the vacuum.
var vacuumCases = []Case{
	{Name: "lid not locked", Seeds: 2, build: func(b *bench) { b.usual(0).leak(b.in(12, 30)) }},
	{Name: "lid not locked, short recording", Seeds: 2, build: func(b *bench) { b.short().leak(b.in(12, 30)) }},
	{Name: "drain valve open after a week", build: func(b *bench) { b.series(6).wrong(drainOpen, b.in(8, 14), fromPrep, 0) }},
	{Name: "leak, new still", Seeds: 3, build: func(b *bench) { b.usual(0).leak(b.leakFor(b.in(2.2, 3.2))) }},
	{Name: "leak after a week", Seeds: 2, build: func(b *bench) { b.series(6).leak(b.leakFor(b.in(1.6, 3))) }},
	{Name: "gasket slips while distilling", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(leaks, b.leakFor(5), fromBoil, b.in(600, 2400)) }},
	{Name: "small leak, target still met", build: func(b *bench) { b.usual(0).leak(0.3) }},
	{Name: "weak air from the start", Seeds: 2, build: func(b *bench) {
		j := b.usual(0)
		j.wrong(airWeak, b.plant.jet.airKPa*b.in(0.35, 0.6), fromPrep, 0)
	}},
	{Name: "air fails under way", build: func(b *bench) {
		j := b.usual(0)
		j.wrong(airWeak, b.plant.jet.airKPa*b.in(0.15, 0.4), fromBoil, b.in(600, 2400))
	}},
	{Name: "silencer clogged after a week", Seeds: 2, build: func(b *bench) { b.series(6).wrong(silencerClogged, b.in(0.6, 0.7), fromPrep, 0) }},
	{Name: "ejector worn after a week", Seeds: 2, build: func(b *bench) { b.series(6).wrong(jetWorn, b.in(0.45, 0.65), fromPrep, 0) }},
	{Name: "leak, many sizes", Seeds: 3, build: func(b *bench) {
		// One healthy run a day, and on each second day a worse leak: what is small is only allowed.
		b.slowPoll(5)
		b.usual(0)
		b.usual(24 * 3600)
		b.usual(24 * 3600)
		b.usual(24 * 3600)
		b.usual(24 * 3600).leak(oneOf(b.dice, 0.5, 0.8, 1.2, 2))
		b.usual(24 * 3600)
		b.usual(24 * 3600).leak(oneOf(b.dice, 3.0, 4.5, 6))
	}},
	{Name: "leak on two stages", Seeds: 2, build: func(b *bench) {
		b.plant.jet.secondLs, b.plant.jet.kneeKPa = b.plant.jet.speedLs*b.in(0.7, 1.5), b.in(48, 58)
		b.usual(0).leak(b.leakFor(b.in(1.8, 2.6)))
	}},
	{Name: "leak seen by an inHg gauge", Seeds: 2, build: func(b *bench) {
		b.panel.inHg = oneOf(b.dice, 0.2, 0.5)
		b.usual(0).leak(b.leakFor(b.in(1.8, 3)))
	}},
	{Name: "leak in a mountain shop", build: func(b *bench) {
		b.altM = b.in(2300, 3000)
		b.usual(0).leak(b.leakFor(b.in(1.7, 2.5)))
	}},
	{Name: "short recording, leak", Seeds: 2, build: func(b *bench) { b.short().leak(b.leakFor(b.in(2, 3))) }},
	{Name: "lid opened hot under way", build: func(b *bench) { b.usual(0).wrong(leaks, 25, fromBoil, b.in(900, 2400)) }},
	{Name: "weak air after a week", Seeds: 2, build: func(b *bench) {
		b.series(6).wrong(airWeak, b.plant.jet.airKPa*b.in(0.4, 0.7), fromPrep, 0)
	}},
	{Name: "air dips for a minute", build: func(b *bench) {
		j := b.usual(0)
		for i := range 4 {
			j.wrong(airDips, b.plant.jet.airKPa*b.in(0.6, 0.75), fromBoil, 600+900*float64(i)).forS = b.in(30, 80)
		}
	}},
	{Name: "no air at all", Seeds: 2, build: func(b *bench) { b.usual(0).wrong(airWeak, b.in(0, 30), fromPrep, 0) }},
	{Name: "seal wears over weeks", Seeds: 2, build: func(b *bench) {
		n := 30
		b.slowPoll(n)
		b.days(n)
		for i := 5; i < n; i++ {
			x := float64(i-4) / float64(n-5)
			w := b.jobs[i].wrong(sealWears, b.leakFor(x), fromPrep, 0)
			w.last = i == n-1
		}
	}},
}
