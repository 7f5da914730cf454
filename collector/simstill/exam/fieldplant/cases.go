package main

import (
	"fmt"
	"hash/fnv"
	"math"
)

// caseDef is a kind of recording: draw is called before the still is drawn, act after the plan of runs is.
type caseDef struct {
	name               string
	two, typical, full int // how many of each set
	runs               [2]int
	draw               func(*builder)
	act                func(*builder)
}

type job struct {
	name, title, set string
	seed             uint64
	def              caseDef
	k                int
}

func catalogue() []job {
	var out []job
	defs := append(append(append(healthyCases(), vacuumCases()...), heatCases()...), otherCases()...)
	for _, d := range defs {
		for s, n := range []int{d.two, d.typical, d.full} {
			for k := range n {
				i := len(out) + 1
				out = append(out, job{fmt.Sprintf("h%03d", i), d.name, []string{"two", "typical", "full"}[s], seedOf(d.name, s, k), d, k})
			}
		}
	}
	return out
}

// seedOf gives each recording a seed of its own, whatever else is in the catalogue.
func seedOf(title string, set, k int) uint64 {
	h := fnv.New32a()
	fmt.Fprintf(h, "%s/%d/%d", title, set, k)
	return uint64(h.Sum32() % 1000000)
}

func (j job) make() *recording {
	b := newBuilder(j.name, j.title, j.set, j.seed)
	if j.def.draw != nil {
		j.def.draw(b)
	}
	b.still()
	n := j.def.runs[0]
	if d := j.def.runs[1] - n; d > 0 {
		n += b.r.IntN(d + 1)
	}
	if n > 12 {
		b.poll = b.pick(5, 10)
	} else if n > 3 && b.poll == 1 && b.chance(0.3) {
		b.poll = 2
	}
	b.plan(n)
	b.instruments()
	if j.def.act != nil {
		j.def.act(b)
	}
	if n := len(b.plans); n > 1 && n <= 12 && len(b.last().faults) > 0 {
		b.plans[n-2].gap += 8 * 3600 // the ill shows on a cold still, not mixed up with a hot charge
	}
	return b.recording
}

var one = [2]int{1, 1}

// moments from which a fault shows

func fromPump(l *runLog) float64 { return l.pumpStart + math.Min(30, 0.25*l.tau) }
func fromOff(l *runLog) float64  { return l.heatOff }
func fromMark(k string) func(*runLog) float64 {
	return func(l *runLog) float64 {
		if t, ok := l.mark[k]; ok {
			return t
		}
		return never
	}
}

func fromDry(l *runLog) float64 { return math.Min(l.heatOff, l.dry+1200) }

var vacuumLeads = []string{"vacuum-not-pulled", "vacuum-short", "vacuum-slow", "boiling-point-off", "heating-slow", "energy-high", "yield-low", "not-dry", "past-dry", "seal-wear"}

// leakTo sets the leak that ends the pump-down at a pressure.
func leakTo(s *sim, end float64) {
	p := s.p
	c := *p
	c.pull = 1
	sp, pu := c.ejector()
	sp *= 1 + p.eq.curve*(end/p.baro-0.5)
	c.leak = 1
	if f := c.leakFlow(end); f > 0 && end > pu {
		p.leak = sp * (end - pu) / f
	}
}

func once(when func(*sim) bool, do func(*sim)) []event { return []event{{when: when, do: do}} }

func afterDone(f float64) func(*sim) bool {
	return func(s *sim) bool { return s.done() > f && s.p.heat }
}

func hotterThan(c float64) func(*sim) bool {
	return func(s *sim) bool { return s.p.heat && s.p.tOil > c }
}

func healthyCases() []caseDef {
	each := func(b *builder, f func(i int, p *runPlan)) {
		for i := range b.plans {
			f(i, &b.plans[i])
		}
	}
	return []caseDef{
		{"plain run", 2, 3, 2, one, nil, nil},
		{"good runs over days", 3, 3, 2, [2]int{4, 9}, nil, nil},
		{"heat first, air later", 1, 1, 1, [2]int{1, 3}, func(b *builder) { b.rank = 1 }, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.heatDelay, p.airDelay = 0, math.Round(b.u(180, 600)) })
		}},
		{"air first, heat later", 1, 1, 1, [2]int{1, 3}, nil, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.airDelay, p.heatDelay = 0, math.Round(b.u(200, 700)) })
		}},
		{"set point raised in steps", 1, 1, 0, one, nil, func(b *builder) {
			each(b, func(_ int, p *runPlan) {
				if b.set == "two" {
					p.allowed = []string{"heating-stalled", "heating-slow"}
				}
				p.steps, p.stepEvery = []float64{math.Round(p.set*0.6 + 8), math.Round(p.set*0.8 + 4)}, b.u(1200, 2000)
			})
		}},
		{"heat paused and resumed", 0, 1, 1, one, func(b *builder) { b.need = []string{"heater_on"} }, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.pauseAt, p.pauseLen = b.u(0.2, 0.5), b.u(300, 800) })
		}},
		{"lid pulled shut a little late", 1, 1, 1, one, nil, func(b *builder) {
			each(b, func(_ int, p *runPlan) {
				p.lidLate = p.airDelay + math.Round(b.u(25, 100))
				p.allowed = []string{"vacuum-not-pulled", "vacuum-short", "vacuum-slow"}
			})
		}},
		{"two runs a day onto a hot still", 1, 2, 1, [2]int{4, 8}, nil, func(b *builder) {
			each(b, func(i int, p *runPlan) {
				p.gap = b.u(300, 900)
				p.vent, p.ventTemp, p.airAfter = "cold", b.u(90, 110), b.u(0, 200)
				if i%2 == 1 {
					p.gap, p.ventTemp = b.u(10, 13)*3600, 60
				}
			})
		}},
		{"left standing under vacuum", 1, 1, 0, [2]int{1, 2}, nil, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.vent, p.airAfter, p.gap = "standing", b.u(60, 900), b.u(3, 9)*3600 })
		}},
		{"vented hot", 1, 0, 1, [2]int{1, 3}, nil, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.vent, p.ventTemp, p.airAfter = "hot", 400, b.u(60, 300) })
		}},
		{"part charge after full ones", 0, 1, 1, [2]int{6, 8}, nil, func(b *builder) {
			p := &b.plans[len(b.plans)-2]
			for i := range p.litres {
				p.litres[i] *= 0.55
			}
			p.residue *= 0.55
			p.allowed = []string{"energy-high", "yield-low"}
		}},
		{"topped up by suction", 0, 1, 1, one, nil, func(b *builder) {
			b.last().topUp = b.eq.charge * 0.3
			b.last().allowed = []string{"heating-slow", "boiling-point-off"}
		}},
		{"gauge in coarse steps", 2, 1, 0, [2]int{1, 4}, func(b *builder) { b.coarse, b.margin, b.us = 0.5, 5, true }, nil},
		{"slow gauge", 1, 1, 0, one, func(b *builder) { b.gLag = b.u(5, 12) }, nil},
		{"noisy and spiky signals", 1, 1, 1, [2]int{1, 3}, func(b *builder) { b.noisy, b.margin = 3, 5 }, func(b *builder) {
			for _, c := range b.chans {
				if !c.bit && c.unit[0] != 'k' || c.name == "still_pressure" {
					c.spike, c.spikeSize = 0.0008, c.noise*12
				}
			}
		}},
		{"logger with gaps", 1, 1, 1, [2]int{2, 4}, nil, func(b *builder) {
			b.lost = 0.01
			t := b.idle0 + b.u(3000, 5000)
			b.gaps = [][2]float64{{t, t + b.u(60, 200)}, {t + 3000, t + 3000 + b.u(200, 500)}}
			each(b, func(_ int, p *runPlan) { p.allowed = []string{"device-silent"} })
		}},
		{"a column missing for a while", 0, 1, 1, one, nil, func(b *builder) {
			c := b.chans[2+b.r.IntN(len(b.chans)-2)]
			t := b.idle0 + b.u(2500, 4500)
			c.warp = func(s *sim, v float64) (float64, bool) { return v, s.t < t || s.t > t+900 }
			each(b, func(_ int, p *runPlan) { p.allowed = []string{"device-silent", "signal-stuck", "signal-implausible"} })
		}},
		{"high altitude", 1, 1, 1, [2]int{1, 3}, func(b *builder) { b.altitude = b.pick(1500, 1800, 2240, 2600, 3000) }, nil},
		{"volatile charge holds the pressure", 1, 1, 1, [2]int{1, 3}, func(b *builder) { b.rank = 2 }, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.allowed = []string{"vacuum-slow"} })
		}},
		{"blend that drifts", 1, 1, 1, [2]int{1, 4}, func(b *builder) {
			pr := [][2]string{{"toluene", "n-butyl acetate"}, {"methyl ethyl ketone", "toluene"}, {"n-propyl acetate", "m-xylene"}, {"ethanol", "1-butanol"}, {"n-heptane", "n-octane"}}
			q := pr[b.r.IntN(len(pr))]
			b.blend(b.pick(0.3, 0.4, 0.5, 0.6, 0.7), q[0], q[1])
		}, nil},
		{"unknown solvent, little stated", 2, 1, 0, [2]int{1, 5}, nil, func(b *builder) {
			b.solvent = "unknown"
			b.sayGas, b.saySet, b.sayAir = false, b.chance(0.4), false
		}},
		{"much residue, slow liner", 1, 1, 0, one, func(b *builder) { b.dirt, b.rank = 0.28, 1 }, func(b *builder) { b.eq.bagTau = b.u(160, 240) }},
		{"compressor swings above its minimum", 0, 1, 1, one, nil, func(b *builder) {
			b.headerHi, b.drop = b.eq.airNom*1.3, b.eq.airNom*0.27
		}},
		{"slow still, weak but sound ejector", 1, 1, 0, [2]int{1, 3}, func(b *builder) { b.tau, b.rank = b.u(330, 560), 1 }, nil},
		{"quick little still", 1, 1, 0, [2]int{2, 5}, func(b *builder) { b.tau = b.u(18, 28) }, nil},
		{"bumping and foaming", 1, 0, 1, one, nil, func(b *builder) { b.eq.rough = 0.4 }},
		{"isolation test passed", 1, 1, 1, one, func(b *builder) { b.rank = 1 }, func(b *builder) { b.last().testAt = true; b.last().heatDelay = 600; b.last().airDelay = 0 }},
		{"receiver emptied, counter rolls over", 0, 1, 1, [2]int{2, 3}, func(b *builder) { b.need = []string{"energy_counter", "distillate_volume"} }, func(b *builder) {
			each(b, func(_ int, p *runPlan) { p.emptyAt = b.u(0.3, 0.7) })
		}},
	}
}

func vacuumCases() []caseDef {
	// lastRun puts a leak or the like in the last run.
	lastRun := func(b *builder, f fault, do func(*sim), more ...string) {
		p := b.last()
		p.atStart = do
		p.faults = []fault{f}
		p.allowed = append(append([]string{}, vacuumLeads...), more...)
	}
	open := func(b *builder) {
		lastRun(b, fault{[]string{"vacuum-not-pulled", "vacuum-short"}, "open-to-air", true, fromPump}, func(s *sim) { s.p.leak = b.u(90, 250) })
		b.last().stop, b.last().stopVal = "clock", b.u(1.5, 3)*3600
	}
	short := func(over func(b *builder, s *sim) float64) func(*builder) {
		return func(b *builder) {
			lastRun(b, fault{[]string{"vacuum-short", "vacuum-not-pulled"}, "open-to-air", true, fromPump}, func(s *sim) { leakTo(s, over(b, s)) })
			b.last().stop, b.last().stopVal = "clock", b.u(2.5, 4)*3600
		}
	}
	cause := func(b *builder, c string) string {
		if b.find("air_supply_pressure") != nil {
			return c
		}
		return ""
	}
	notVolatile := func(b *builder) { b.rank = 1 }
	return []caseDef{
		{"lid or drain open, first run", 1, 1, 1, one, notVolatile, open},
		{"lid or drain open after good runs", 1, 1, 1, [2]int{4, 6}, notVolatile, open},
		{"gross leak", 1, 1, 1, one, notVolatile, short(func(b *builder, s *sim) float64 { return s.p.baro * b.u(0.5, 0.75) })},
		{"moderate leak, first run", 1, 2, 1, one, notVolatile, short(func(b *builder, _ *sim) float64 { return b.targetAbs + b.u(4, 12) })},
		{"moderate leak after good runs", 1, 1, 1, [2]int{5, 7}, notVolatile, short(func(b *builder, _ *sim) float64 { return b.targetAbs + b.u(4, 12) })},
		{"small leak", 1, 1, 1, [2]int{1, 5}, func(b *builder) { b.rank, b.margin = 1, 2.5 }, func(b *builder) {
			short(func(b *builder, _ *sim) float64 { return b.targetAbs + b.u(1.8, 2.8) })(b)
		}},
		{"air supply weak", 1, 1, 1, [2]int{1, 5}, func(b *builder) { b.rank, b.need = 1, []string{"air_supply_pressure"} }, func(b *builder) {
			f := fault{[]string{"air-supply-low", "vacuum-short"}, "", true, fromPump}
			if b.set == "two" {
				f.names = []string{"vacuum-short", "vacuum-not-pulled"}
			}
			f.cause = cause(b, "air-supply")
			v := b.u(0.5, 0.68)
			lastRun(b, f, func(s *sim) { s.p.airValve = v * b.eq.airNom / b.headerHi }, "air-supply-low")
			if b.set != "two" {
				b.sayAir = true
			}
			b.last().stop, b.last().stopVal = "clock", b.u(2, 3)*3600
		}},
		{"air valve shut", 0, 1, 1, one, func(b *builder) { b.rank, b.need = 1, []string{"air_supply_pressure", "air_on"} }, func(b *builder) {
			b.sayAir = true
			lastRun(b, fault{[]string{"air-supply-low", "vacuum-not-pulled"}, "air-supply", true, func(l *runLog) float64 { return l.airOn }}, func(s *sim) { s.p.airValve = 0.01 }, "air-supply-low")
			b.last().stop, b.last().stopVal = "clock", b.u(1, 2)*3600
		}},
		{"ejector worn or clogged", 1, 1, 1, [2]int{1, 5}, func(b *builder) { b.rank, b.need = 1, []string{"air_supply_pressure"} }, func(b *builder) {
			lastRun(b, fault{[]string{"vacuum-short", "vacuum-slow"}, cause(b, "ejector"), true, fromPump}, func(s *sim) { s.p.puAdd, s.p.s0Factor = b.margin*2.2+3, 0.5 })
			b.last().stop, b.last().stopVal = "clock", b.u(2, 3)*3600
		}},
		{"suction line half blocked", 1, 1, 1, [2]int{6, 8}, func(b *builder) { b.rank, b.margin, b.tau = 1, 5, b.u(40, 120) }, func(b *builder) {
			lastRun(b, fault{[]string{"vacuum-slow", "vacuum-short"}, "", true, func(l *runLog) float64 { return l.pumpStart + 0.5*l.tau }}, func(s *sim) { s.p.s0Factor = 0.36 }, "air-supply-low")
		}},
		{"gasket slips while hot", 1, 1, 1, [2]int{1, 4}, notVolatile, func(b *builder) {
			p := b.last()
			f := b.u(0.3, 0.6)
			p.events = once(afterDone(f), func(s *sim) { leakTo(s, s.p.baro*0.72); s.mark("lost") })
			p.faults = []fault{{[]string{"vacuum-lost"}, "", true, fromMark("lost")}}
			p.allowed = append([]string{}, vacuumLeads...)
			p.stop, p.stopVal = "clock", 3.2*3600
		}},
		{"compressor stops in the run", 1, 1, 1, one, func(b *builder) { b.rank, b.need = 1, []string{"air_supply_pressure"} }, func(b *builder) {
			p := b.last()
			b.sayAir = true
			p.events = []event{{when: afterDone(b.u(0.25, 0.5)), do: func(s *sim) { s.p.airValve = 0.2; leakTo(s, s.p.pressure()+9); s.p.leak += 0.6; s.mark("lost") }}}
			p.faults = []fault{{[]string{"air-supply-low", "vacuum-lost"}, "air-supply", true, fromMark("lost")}}
			if b.set == "two" {
				p.faults[0].names, p.faults[0].cause = []string{"vacuum-lost"}, ""
			}
			p.allowed = append([]string{"vacuum-lost", "condenser-warm"}, vacuumLeads...)
			p.stop, p.stopVal = "clock", 3*3600
		}},
		{"gauge reads high", 0, 1, 1, one, func(b *builder) { b.abs, b.rank, b.altitude = 1, 1, 60 }, func(b *builder) {
			c := b.pressureChannel()
			k := map[string]float64{"kPa": 1, "mbar": 0.1, "mmHg": 0.1333, "psi": 6.895}[c.unit]
			c.offset = (b.margin + b.u(5, 7)) / k
			p := b.last()
			p.faults = []fault{{[]string{"vacuum-short", "signal-implausible"}, "gauge", true, fromPump}}
			p.allowed = append([]string{"signal-implausible", "signal-out-of-range"}, vacuumLeads...)
		}},
		{"seal wears over weeks, not yet missed", 1, 1, 0, [2]int{22, 26}, func(b *builder) { b.rank, b.margin, b.tau = 1, 6, b.u(40, 110) }, func(b *builder) { wear(b, 0.9) }},
		{"seal wears until the target is missed", 0, 1, 1, [2]int{24, 28}, func(b *builder) { b.rank, b.margin, b.tau = 1, 6, b.u(40, 110) }, func(b *builder) { wear(b, 1.45) }},
	}
}

// wear lets the leak grow from the eighth run on until a share of the margin is used up.
func wear(b *builder, share float64) {
	n := len(b.plans)
	const first = 8
	for i := range b.plans {
		p := &b.plans[i]
		p.gap = b.u(5, 9) * 3600
		if i < first {
			continue
		}
		g := share * float64(i-first+1) / float64(n-first)
		p.atStart = func(s *sim) {
			_, pu := s.reach()
			leakTo(s, pu+0.3+g*(b.targetAbs-pu-0.3))
		}
		p.allowed = []string{"seal-wear", "vacuum-slow"}
		if g > 0.7 {
			p.allowed = append(p.allowed, "vacuum-short", "energy-high")
		}
		if g > 1.12 {
			p.faults = []fault{{[]string{"vacuum-short"}, "open-to-air", g > 1.2, fromPump}}
		}
	}
	p := b.last()
	p.faults = append(p.faults, fault{[]string{"seal-wear"}, "", true, nil})
	b.trendFrom = first + 1
}

// reach is the ejector as it is with air on.
func (s *sim) reach() (float64, float64) {
	c := *s.p
	c.pull = 1
	return c.ejector()
}
