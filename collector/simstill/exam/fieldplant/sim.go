package main

import (
	"math"
	"math/rand/v2"
	"time"
)

// runPlan is what the people do in one run.
type runPlan struct {
	fill       float64 // share of the nominal charge
	litres     []float64
	subs       []*substance
	residue    float64 // kg
	chargeTemp float64 // °C, relative to the room
	airDelay   float64 // s after the start
	heatDelay  float64
	lidLate    float64   // s after the start that the lid is closed (negative: before)
	steps      []float64 // set points before the final one
	stepEvery  float64
	set        float64
	pauseAt    float64 // share distilled at which heat is paused; 0 never
	pauseLen   float64
	stop       string // "dry": extra s after dry; "left": share left; "clock": s after heat on
	stopVal    float64
	airAfter   float64 // s that the air stays on after heat off
	vent       string  // "cold", "hot", "standing"
	ventTemp   float64
	topUp      float64 // L sucked in when half has come over
	emptyAt    float64 // share distilled at which the receiver is emptied
	testAt     bool    // air off for some minutes after pump-down
	gap        float64 // s of rest after the run
	faults     []fault
	allowed    []string
	atStart    func(*sim)
	events     []event
}

// fault is one ill as the truth states it; from is found from what happened.
type fault struct {
	names []string
	cause string
	due   bool
	from  func(*runLog) float64
}

type event struct {
	when func(*sim) bool
	do   func(*sim)
	done bool
}

// point is a moment of the true course, kept every few seconds.
type point struct {
	t, p, rate, pot, left float64
	heat                  bool
}

// runLog is what really happened in one run.
type runLog struct {
	plan                               *runPlan
	start, airOn, heatOn, heatOff, end float64
	pumpStart, target                  float64
	tau, endP, leak                    float64
	hasEnd, met, airUsed               bool
	e0, rec0, e1, rec1                 float64
	onset, thin, dry, pumped           float64
	plateau                            float64
	points                             []point
	mark                               map[string]float64
	rated, peak                        float64
	within                             float64
	left0                              float64
	vented, boiledFirst                bool
}

type sim struct {
	rec   *recording
	p     *plant
	rng   *rand.Rand
	t     float64
	runs  []*runLog
	cur   *runLog
	paus  bool
	pausT float64
	marks map[string]float64
	base  float64 // mm², what a sound still lets in
}

const never = math.MaxFloat64

func (s *sim) done() float64 { // share of the charge that has left the pot
	return 1 - s.p.solvent()/math.Max(s.p.nLoaded, 1e-9)
}

func (s *sim) mark(k string) {
	if s.cur != nil {
		if _, ok := s.cur.mark[k]; !ok {
			s.cur.mark[k] = s.t
		}
	}
}

// advance runs the plant for d seconds, sampling as it goes.
func (s *sim) advance(d float64) {
	s.until(s.t+d, func() bool { return false })
}

// until runs the plant until the clock or the condition says stop.
func (s *sim) until(t float64, stop func() bool) {
	for s.t < t && !stop() {
		s.tick()
	}
}

func (s *sim) tick() {
	const dt = 0.5
	p := s.p
	if math.Mod(s.t, 60) == 0 {
		day := 2 * math.Pi * (s.t/86400 - 0.1)
		p.amb = p.ambMean + p.ambSwing*math.Sin(day)
		p.baro += (p.baroMean-p.baro)*0.0006 + s.rng.NormFloat64()*0.006
	}
	if s.cur != nil {
		for i := range s.cur.plan.events {
			if e := &s.cur.plan.events[i]; !e.done && e.when(s) {
				e.done = true
				e.do(s)
			}
		}
	}
	if math.Mod(s.t, s.rec.poll) == 0 {
		s.rec.sample(s)
	}
	if s.cur != nil {
		s.cur.peak = math.Max(s.cur.peak, p.tOil-s.cur.plan.set)
	}
	if s.cur != nil && math.Mod(s.t, 5) == 0 {
		s.cur.points = append(s.cur.points, point{s.t, p.pressure(), p.rate, p.tPot, p.solvent(), p.heat})
	}
	p.step(dt)
	s.rec.lag(s, dt)
	s.t += dt
}

// play runs the whole plan.
func (s *sim) play() {
	r := s.rec
	s.advance(r.idle0)
	for i := range r.plans {
		s.run(&r.plans[i])
		s.advance(r.plans[i].gap)
	}
	s.advance(r.idle1)
}

func (s *sim) run(pl *runPlan) {
	p := s.p
	// load: lid up, liner in, solvent poured
	p.vent = false
	p.lid = false
	s.advance(60 + float64(s.rng.IntN(120)))
	if p.resHeat > 0 || p.solvent() > 0 {
		p.unload()
	}
	s.advance(60)
	p.load(pl.subs, pl.litres, pl.residue, p.amb+pl.chargeTemp)
	s.advance(120 + float64(s.rng.IntN(240)))
	if pl.lidLate < 0 {
		p.lid = true
		s.advance(-pl.lidLate)
	}
	l := &runLog{plan: pl, start: s.t, end: never, dry: never, onset: never, thin: never, heatOff: never, pumped: never, mark: map[string]float64{}}
	l.target, l.within, l.rated = s.rec.targetAbs, s.rec.within, s.rec.eq.rated
	l.left0 = p.solvent()
	l.e0, l.rec0 = p.eIn, p.recovered
	s.runs = append(s.runs, l)
	s.cur = l
	p.leak, p.s0Factor, p.puAdd, p.airValve = s.base, 1, 0, 1 // whatever was wrong has been mended
	p.powerFactor, p.uaFactor, p.lossFactor, p.coolFactor = 1, 1, 1, 1
	if pl.atStart != nil {
		pl.atStart(s)
	}
	l.airOn, l.heatOn = s.t+pl.airDelay, s.t+pl.heatDelay
	l.pumpStart = l.airOn
	l.airUsed = true
	airOn, heatOn, lidOn := false, false, p.lid
	nextSet := 0
	testFrom, emptied, topped := 0.0, false, false
	// the run itself
	dryFor := 0.0
	s.until(l.start+15*3600, func() bool {
		if !lidOn && s.t >= l.start+pl.lidLate {
			lidOn, p.lid = true, true
			s.mark("lid")
			if airOn {
				s.logEnd(l)
			}
		}
		if !airOn && s.t >= l.airOn {
			airOn, p.air = true, true
			s.logEnd(l)
		}
		if !heatOn && s.t >= l.heatOn {
			heatOn, p.heat = true, true
			p.set = pl.set
			if len(pl.steps) > 0 {
				p.set = pl.steps[0]
				nextSet = 1
			}
		}
		if heatOn && len(pl.steps) > 0 && nextSet > 0 && s.t >= l.heatOn+float64(nextSet)*pl.stepEvery {
			if nextSet < len(pl.steps) {
				p.set = pl.steps[nextSet]
				nextSet++
			} else {
				p.set = pl.set
				nextSet = 0
			}
		}
		if pl.pauseAt > 0 && !s.paus && s.done() > pl.pauseAt && s.pausT == 0 {
			s.paus, p.heat, s.pausT = true, false, s.t
			s.mark("pause")
		}
		if s.paus && s.t > s.pausT+pl.pauseLen {
			s.paus, p.heat = false, true
		}
		if pl.testAt && airOn {
			_, pu := p.ejector()
			switch {
			case testFrom == 0 && s.t > l.airOn+90 && p.pressure() < math.Min(s.rec.targetAbs, pu+1.2):
				testFrom, p.air = s.t, false
			case testFrom > 0 && !p.air && s.t > testFrom+240:
				p.air = true
				testFrom = never
			}
		}
		if pl.topUp > 0 && !topped && s.done() > 0.45 {
			topped = true
			f := pl.topUp / s.rec.eq.charge
			for i := range pl.subs {
				add := pl.litres[i] / pl.fill * f * pl.subs[i].rho20 * 1000 / pl.subs[i].molar
				h := p.chargeHeat()
				k := add * pl.subs[i].cp[60]
				p.tPot = (p.tPot*h + p.amb*k) / (h + k)
				p.n[i] += add
				p.molIn += add
				p.nLoaded += add
				l.left0 += add
			}
			s.mark("topup")
		}
		if pl.emptyAt > 0 && !emptied && s.done() > pl.emptyAt {
			emptied = true
			p.receiver, p.receiverKg = 0.3, 0.24
			s.mark("emptied")
		}
		if heatOn && !s.paus {
			switch pl.stop {
			case "dry":
				if s.done() > 0.9 && p.rate < 0.04*s.plateauGuess() || s.done() > 0.997 {
					dryFor += 0.5
				}
				if dryFor > pl.stopVal {
					return true
				}
			case "left":
				if s.done() > 1-pl.stopVal {
					return true
				}
			case "clock":
				if s.t > l.heatOn+pl.stopVal {
					return true
				}
			}
		}
		return false
	})
	s.paus, s.pausT = false, 0
	p.heat = false
	l.heatOff = s.t
	if pl.airAfter >= 0 {
		s.advance(pl.airAfter)
	}
	switch pl.vent {
	case "hot":
		s.until(s.t+3600*6, func() bool { return p.tOil < pl.ventTemp })
		p.air = false
		s.advance(20)
		p.vent = true
		l.end, l.vented = s.t, true
	case "standing": // left closed; everything off
		p.air = false
		s.until(s.t+3600*20, func() bool { return p.tOil < 45 })
		l.end = s.t
	default:
		s.until(s.t+3600*12, func() bool { return p.tOil < pl.ventTemp })
		p.air = false
		s.advance(30)
		p.vent = true
		l.end, l.vented = s.t, true
	}
	p.air = false
	l.e1, l.rec1 = p.eIn, p.recovered
	s.advance(60)
	s.cur = nil
	if l.vented {
		s.advance(240 + float64(s.rng.IntN(400)))
		p.lid = false
		p.vent = false
		p.unload()
		s.advance(120 + float64(s.rng.IntN(300)))
		p.lid = true
	}
	p.receiver, p.receiverKg = 0.3, 0.24
	p.tripped, p.dead, p.stuckOn = false, false, false
	p.coolFactor = 1
}

// logEnd works out what this pump-down will come to, as the still is now.
func (s *sim) logEnd(l *runLog) {
	c := *s.p
	c.pull = 1
	sp, _ := c.ejector()
	if sp > 0.02*s.p.eq.s0 && s.p.lid {
		l.tau = s.p.eq.vol / sp
		l.endP, l.leak = s.p.levelOff()
		l.hasEnd = true
	}
}

func (s *sim) plateauGuess() float64 {
	l := s.cur
	if len(l.points) == 0 {
		return 0
	}
	if len(l.points)%12 == 0 || l.plateau == 0 {
		l.plateau = math.Max(plateau(l.points), 0.5*l.rated/l.plan.subs[0].hv[100])
	}
	return l.plateau
}

// plateau is the 75th percentile of the rate where it is substantial.
func plateau(pts []point) float64 {
	var hi float64
	const w = 24
	var sum float64
	for i, q := range pts {
		sum += q.rate
		if i >= w {
			sum -= pts[i-w].rate
			hi = math.Max(hi, sum/w)
		}
	}
	var m, n float64
	for _, q := range pts {
		if q.rate > 0.4*hi {
			m += q.rate
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return m / n
}

// digest finds the phases' moments in the true course of a run.
func (l *runLog) digest() {
	// what counts as substantial: against this run's plateau, or half of what the heater could drive over
	sb := l.plan.subs[0]
	l.plateau = math.Max(plateau(l.points), 0.5*l.rated/sb.hv[100])
	pts := l.points
	const w = 12
	avg := func(i int) float64 {
		var s, n float64
		for j := max(0, i-w/2); j < min(len(pts), i+w/2); j++ {
			s += pts[j].rate
			n++
		}
		return s / n
	}
	run := 0
	for i := range pts {
		r := avg(i)
		if pts[i].t > l.heatOff && l.onset == never {
			break
		}
		if l.onset == never {
			if r > 0.25*l.plateau && pts[i].heat {
				run++
				if run == 24 {
					l.onset = pts[i].t - 115
				}
			} else {
				run = 0
			}
		}
		if l.onset != never && pts[i].t <= l.heatOff {
			if r > 0.15*l.plateau {
				l.thin, l.dry = never, never
			} else if l.thin == never {
				l.thin = pts[i].t
			}
			if r > 0.04*l.plateau {
				l.dry = never
			} else if l.dry == never {
				l.dry = pts[i].t
			}
		}
	}
	if l.dry != never {
		// a thin rate with much left in the pot is not dry
		for i := range pts {
			if pts[i].t >= l.dry {
				if pts[i].left > 0.08*l.left0 {
					l.dry = never
					if pts[i].left > 0.2*l.left0 {
						l.thin = never
					}
				}
				break
			}
		}
	} else if l.thin != never {
		for i := range pts {
			if pts[i].t >= l.thin && pts[i].left > 0.2*l.left0 {
				l.thin = never
				break
			} else if pts[i].t >= l.thin {
				break
			}
		}
	}
	near := false
	for i, q := range pts {
		if q.t < l.airOn || !l.airUsed {
			continue
		}
		if q.p <= l.target && l.pumped == never && q.t < l.onset {
			l.pumped = q.t
		}
		if q.t <= l.airOn+l.within && q.p <= l.target {
			l.met = true
		}
		if q.t < l.onset {
			near = near || math.Abs(q.p-l.endP) < 0.6 && q.t > l.airOn+l.tau
		}
		// levelled off: hardly falls in two minutes and in a third of the time constant
		if l.pumped == never && q.t > l.airOn+math.Max(60, 1.2*l.tau) {
			k := int(math.Max(120, 0.5*l.tau) / 5)
			if j := i - k; j >= 0 && pts[j].t > l.airOn && math.Abs(pts[j].p-q.p) < 0.6 && q.t < l.onset {
				l.pumped = q.t - math.Max(60, 0.3*l.tau)
			}
		}
	}
	l.hasEnd = l.hasEnd && near // else boiling came before it could level off
	l.boiledFirst = l.onset < l.pumped
}

func (s *sim) at(t float64) time.Time {
	return s.rec.t0.Add(time.Duration(t * float64(time.Second)))
}
