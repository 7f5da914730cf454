package thirdplant

import "math"

// ending is how people end a run.
type ending int

const (
	ventHot     ending = iota // heat off, air off, vent at once
	coolUnder                 // the vacuum stays on until the pot is cool, then the vent
	holdShut                  // air off, everything stays shut for a while, then the vent
	breakSlowly               // air off; the way back through the ejector fills the still
)

// job is one run as its people do it. Times in s; those that begin with after count from at.
type job struct {
	at        float64
	fill      ladle
	fillL     float64 // 0: a full charge, more or less
	drum      *recipe // nil: that of the shop
	boilS     float64 // heat off so long after it began to boil; 0: not by that
	startC    float64 // of the drum; NaN: the room's
	airAfter  float64 // NaN: never
	heatAfter float64 // NaN: never
	airWhenC  float64 // air only when the oil has come to this; 0: by the clock
	heatAtKPa float64 // heat only when the pressure has come to this; 0: by the clock
	totalS    float64 // heat off so long after it came on; 0: by the receiver
	afterDry  float64 // by the receiver: so long after nothing comes
	mostS     float64 // nobody waits longer
	giveUpS   float64 // nor so long for a vacuum before there is heat
	ending    ending
	coolToC   float64
	coolMostS float64
	holdS     float64
	pauses    [][2]float64 // heat off between, s after at
	isolate   [2]float64   // ejector shut off from the still between, s after at
	empties   []float64    // receiver emptied, s after at
	ills      []*ill
}

// anchor is the event from which an ill is counted.
type anchor int

const (
	fromPrep anchor = iota
	fromStart
	fromPump
	fromTarget
	fromHeat
	fromBoil
	fromHot // the oil within 5 K of the set point
	fromDry
	fromIdle // counted in s from the beginning of the recording
)

// ill is one thing that is wrong.
type ill struct {
	kind   kind
	size   float64
	anchor anchor
	after  float64
	forS   float64 // 0: to the end of the run
	last   bool    // of a thing that grows over the runs: it must have been found by now

	from  float64 // when it began; NaN: it never did
	until float64
}

// crew does the jobs.
type crew struct {
	jobs []*job
	next int  // job that is on or comes next
	now  *run // its books; nil before it is prepared

	stage    int // 0 waiting, 1 filled, 2 on, 3 heat off
	heatDone float64
}

// prepS is how long before the start the pot is opened and filled.
const prepS = 420.0

// active reports whether somebody is busy at the still.
func (c *crew) active(t float64) bool {
	return c.stage > 0 || c.next < len(c.jobs) && t > c.jobs[c.next].at-prepS-10
}

// work does what is to be done at p.t.
func (c *crew) work(p *plant, l *log) {
	if c.stage == 0 {
		if c.next >= len(c.jobs) || p.t < c.jobs[c.next].at-prepS {
			return
		}
		c.prepare(p, l)
	}
	j, r := c.jobs[c.next], c.now
	if c.stage == 1 {
		p.lidShut = p.t > j.at-prepS/2
		if p.t >= j.at {
			c.stage, p.running, p.vent = 2, true, false
			r.at[evStart] = p.t
		}
	}
	if c.stage == 2 {
		c.run(p, l)
	}
	if c.stage == 3 {
		c.end(p, l)
	}
	for i, e := range j.empties {
		if p.t >= j.at+e {
			p.receiverL = 0.02 * p.full
			j.empties[i] = math.Inf(1)
		}
	}
	if c.stage > 0 {
		c.breaks(p, r)
		p.isolated = p.t >= j.at+j.isolate[0] && p.t < j.at+j.isolate[1]
	}
}

func (c *crew) prepare(p *plant, l *log) {
	j := c.jobs[c.next]
	c.stage = 1
	c.now = l.open(j, p)
	p.lidShut, p.vent = false, true
	p.pot = pour(j.fill)
	p.bubbling, p.condensed, p.lostL, p.receiverL, p.receiverC = false, 0, 0, 0, p.roomC
	in := j.startC
	if math.IsNaN(in) {
		in = p.roomC
	}
	liquid := p.pot.heatCapacity()
	p.chargeC = (in*liquid + p.chargeC*p.potKJK) / (liquid + p.potKJK)
	c.now.fillC = in
	c.now.filled = p.pot.litres()
	c.now.heldL = p.pot.held(p.heater.setC-5, l.b.targetKPa)
	c.now.energy0 = p.energyKWh
}

// run: heat, air, pauses, and when to stop.
func (c *crew) run(p *plant, l *log) {
	j, r := c.jobs[c.next], c.now
	since := p.t - j.at
	heat := !math.IsNaN(j.heatAfter) && since >= j.heatAfter && (j.heatAtKPa == 0 || r.was(evHeat) || p.gas.kPa() < j.heatAtKPa)
	for _, w := range j.pauses {
		if since >= w[0] && since < w[1] {
			heat = false
			r.paused = true
		}
	}
	if heat && !r.was(evHeat) {
		r.at[evHeat] = p.t
	}
	p.heat = heat
	if !p.air && !math.IsNaN(j.airAfter) && since >= j.airAfter && (j.airWhenC == 0 || p.oilC >= j.airWhenC) {
		p.air, p.airSince = true, p.t
		if !r.was(evPump) {
			l.pumpBegins(p)
		}
	}
	if c.stop(p, j, r) {
		c.stage, p.heat, c.heatDone = 3, false, p.t
		if p.welded { // somebody pulls the breaker
			p.welded = false
		}
		r.at[evHeatOff] = p.t
	}
}

func (c *crew) stop(p *plant, j *job, r *run) bool {
	if p.t-j.at > j.mostS {
		return true
	}
	if !r.was(evHeat) && j.heatAtKPa > 0 && p.t-j.at > j.giveUpS {
		return true // the gauge never came down: somebody has a look
	}
	if j.boilS > 0 {
		return r.was(evBoil) && p.t-r.at[evBoil] >= j.boilS
	}
	if j.totalS > 0 {
		return r.was(evHeat) && p.t-r.at[evHeat] >= j.totalS || !r.was(evHeat) && p.t-j.at >= j.totalS
	}
	return r.was(evDry) && p.t-r.at[evDry] >= j.afterDry
}

func (c *crew) end(p *plant, l *log) {
	j := c.jobs[c.next]
	since := p.t - c.heatDone
	over := false
	switch j.ending {
	case ventHot:
		over = since >= 20
	case coolUnder:
		over = p.chargeC <= j.coolToC || since >= j.coolMostS
	case holdShut:
		p.air = false
		over = since >= j.holdS
	case breakSlowly: // it is over when the gauge is back at rest
		p.air = false
		over = since >= j.holdS || since > 20 && p.gas.kPa() > p.baroKPa-1
	}
	if !over {
		return
	}
	p.air, p.vent, p.running, p.heat = false, true, false, false
	l.close(p)
	for _, i := range j.ills {
		if i.forS == 0 && !math.IsNaN(i.from) {
			i.until = math.Min(i.until, p.t)
		}
	}
	c.breaks(p, c.now)
	c.stage, c.now = 0, nil
	c.next++
}

// breaks makes true what is wrong now.
func (c *crew) breaks(p *plant, r *run) {
	p.sound()
	for _, i := range c.jobs[c.next].ills {
		if math.IsNaN(i.from) {
			at := r.anchorAt(i.anchor)
			if math.IsNaN(at) || p.t < at+i.after {
				continue
			}
			i.from, i.until = p.t, math.Inf(1)
			if i.forS > 0 {
				i.until = p.t + i.forS
			}
		}
		if p.t < i.until {
			i.apply(p)
		}
	}
}

// sound is a still with nothing wrong.
func (p *plant) sound() {
	p.leakMM, p.drainMM = p.base.leakMM, 0
	p.powerShare, p.tripped, p.welded, p.statOffC = 1, false, false, 0
	p.motiveKPa, p.jet.worn, p.fouled, p.loss = p.base.motiveKPa+p.airWander, p.base.worn, p.base.fouled, p.base.loss
	p.cond.flow, p.cond.riseC, p.isolated, p.jet.clogged = 1, 0, false, 0
	p.gasLEL = 0
}

// base is the still as it is without the ills of one run.
type base struct {
	leakMM, motiveKPa, worn, fouled, loss float64
}

func (i *ill) apply(p *plant) {
	switch i.kind {
	case leaks, sealWears:
		p.leakMM = math.Hypot(p.leakMM, i.size)
	case drainOpen:
		p.drainMM = i.size
	case airWeak, airDips:
		p.motiveKPa = math.Min(p.motiveKPa, i.size)
	case silencerClogged:
		p.jet.clogged = i.size
	case jetWorn:
		p.jet.worn = i.size
	case phaseGone, lowMains:
		p.powerShare = i.size
	case breakerOut:
		p.tripped = true
	case statLow:
		p.statOffC = i.size
	case contactorStuck:
		p.welded = p.stuckNow()
	case oilFouls:
		p.fouled = i.size
	case wetLagging:
		p.loss = i.size * p.base.loss
	case coolantGone:
		p.cond.flow = i.size
	case coolantWarm:
		p.cond.riseC = i.size
	case gasOut:
		p.gasLEL = i.size
	}
}

// stuckNow: a contactor welds when it is closed, and stays so as long as there is a run.
func (p *plant) stuckNow() bool { return p.running && p.heat || p.powerKW > 0 && p.running }
