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
	{Name: "ejector worn after a week", build: func(b *bench) { b.series(6).wrong(jetWorn, b.in(0.45, 0.65), fromPrep, 0) }},
	{Name: "seal wears over weeks", Seeds: 2, build: func(b *bench) {
		n := 20
		b.slowPoll(n)
		b.days(n)
		for i := 5; i < n; i++ {
			x := float64(i-4) / float64(n-5)
			w := b.jobs[i].wrong(sealWears, b.leakFor(x), fromPrep, 0)
			w.last = i == n-1
		}
	}},
}
