package analysis

import (
	"math"
	"slices"
)

// draw follows what the heater takes while it works: from the power, else from the slope of the energy
// counter while the heating is continuous.
type draw struct {
	kw     float64 // while on, the last half minute, kW; 0: not known yet
	since  float64 // on without a pause since, s
	full   float64 // the most it took for a minute in this run, kW
	on     bool
	steady float64 // s that the power has stayed within 6 % of level
	level  float64 // kW

	counter    trend
	fullC      float64                  // hottest oil at which it took that, °C; 0: not seen
	ceiling    float64                  // level near the most it took at which it stood as at a ceiling, kW; 0: it never did
	lookedAt   float64                  // when that was looked for last, s
	fullAt     float64                  // last near the most it took, s
	downAt     float64                  // first far below that since, s
	below      [len(sharesLeft)]float64 // first about at each of the shares since, s; 0: it has not
	leastKW    float64                  // since then, of kw
	flat       trend                    // of the power while on
	flatNow    trend                    // the latest of it
	drop       drop
	lost       float64 // share left when a loss was seen, 0: none
	throttled  float64 // s at powers that no loss leaves, far below full power
	part       bool    // it went down from full power
	sudden     bool    // and did so all at once
	partC      float64 // oil when it did, °C
	partAt     float64 // when, s
	times      int     // that it came on
	onS, partS float64 // steadily on, s, and of this with a part of its full power
	backC      float64 // coolest oil at which full power came back by itself, °C; 0: it has not

	bandFrom, bandTo float64 // oil where it entered the band and where it is or left it, °C
	bandIn, bandOut  float64 // when, s; 0: not yet
	bandLow          bool    // the oil was below the band when the run began
	fastest          float64 // rise of the oil, K/s, in any few minutes of this run
}

const counterSpan = 600 // s over which a counter's slope is a power

// stepDraw takes one scan of a run.
func (a *Analyser) stepDraw() {
	p, r := &a.run.draw, &a.r
	if p.counter.span == 0 {
		p.counter.span = counterSpan
		p.since = r.t
	}
	on := a.heaterOn()
	switch kw, ok := r.get(sPower); {
	case ok && on == yes:
		if !p.on {
			p.on, p.since, p.kw, p.steady = true, r.t, kw, 0
			p.times++
			p.watchFlat()
		}
		p.flat.add(r.t, kw)
		p.flatNow.add(r.t, kw)
		p.drop.follow(p, kw, r.t, r.dt, a.stepWithin())
		p.take(kw, r.dt, 20)
		switch {
		case kw > 0.92*p.full:
			p.fullAt, p.downAt, p.leastKW = r.t, 0, math.Inf(1)
			p.below = [len(sharesLeft)]float64{}
		case p.downAt > 0:
			p.leastKW = min(p.leastKW, p.kw)
		case kw < 0.8*p.full:
			p.downAt = r.t
		}
		for i, share := range sharesLeft {
			if p.below[i] == 0 && kw < (1+dropTol)*share*p.full {
				p.below[i] = r.t
			}
		}
	case ok:
		p.on = false
	case !a.in.fitted(sPower) && a.in.fitted(sCounter):
		a.drawByCounter(on)
	}
	if p.on && p.steady > 60 {
		p.full = max(p.full, p.level)
		if oil, ok := r.get(sJacket); ok && p.level > fullShare*p.full {
			p.fullC = max(p.fullC, oil)
		}
		if p.level > fullShare*p.full && r.t > p.lookedAt+30 {
			p.lookedAt = r.t
			if p.levelled() {
				p.ceiling = p.level
			}
		}
		p.onS += r.dt
		if p.level < 0.85*p.full {
			p.partS += r.dt
		}
	}
}

// take follows the level of the power.
func (p *draw) take(kw, dt, lag float64) {
	p.kw += (kw - p.kw) * min(1, dt/lag)
	if p.level == 0 || math.Abs(kw-p.level) > 0.06*p.level {
		p.level, p.steady = kw, 0
		return
	}
	p.level += (kw - p.level) * min(1, dt/60)
	p.steady += dt
}

// drawByCounter: between two counts of a coarse counter nothing is known, so the slope over ten minutes of
// rising oil is taken.
func (a *Analyser) drawByCounter(on tri) {
	p, r := &a.run.draw, &a.r
	h := &a.run.heat
	v, ok := r.get(sCounter)
	if !ok {
		return
	}
	if on == no || h.reached || !h.slopeOK || on == unknown && h.slope < leastRise/2 {
		p.on, p.since, p.steady, p.level = false, r.t, 0, 0
		p.counter = trend{span: counterSpan}
		return
	}
	p.counter.add(r.t, v)
	l, ok := p.counter.fit()
	if !ok || p.counter.width() < 0.8*counterSpan || l.slopeSD > 0.02*l.slope {
		return
	}
	if !p.on {
		p.on = true
		p.watchFlat()
	}
	p.kw = l.slope * 3600
	p.flat.add(r.t, p.kw)
	p.flatNow.add(r.t, p.kw)
	p.take(p.kw, r.dt, 1)
}

const inGoodRuns = "in its good runs"

// fullKW is what the heater ought to take: learned, else rated, else the most it took in this run.
func (a *Analyser) fullKW() (kw float64, basis string) {
	if usual, ok := a.median(a.memory.Learned.FullKW, 3); ok {
		return usual, inGoodRuns
	}
	if rated := a.still.Heater.RatedKW; rated > 0 {
		return rated, "by its rating"
	}
	return a.run.draw.full, "before"
}

// The shares that are left when something of the heater is lost: of three equal elements or phases, two or
// one; half when a phase of a three-phase heater in delta or in star without neutral is lost. From the
// circuits: in delta with one line open, one element keeps the line voltage and two in series share it,
// 1 + 2·(1/2)² = 1.5 of 3; in star without neutral two in series across a line voltage, 2·(√3/2)² = 1.5 of 3;
// in star with neutral, or with one element of three open, 2 of 3.
var sharesLeft = [...]float64{2.0 / 3, 1.0 / 2, 1.0 / 3}

// shareLeft is the share nearest to a ratio, if one is within what supply voltage and tolerances allow.
func shareLeft(ratio, tol float64) (float64, bool) {
	for _, s := range sharesLeft {
		if math.Abs(ratio/s-1) < tol {
			return s, true
		}
	}
	return 0, false
}

// stageBand is the hysteresis, K, that no stage of a controller has; common practice, no source.
const stageBand = 8

const (
	flatSpan = 300  // s
	flatDuty = 1e-4 // 1/s: the mains change a power by less than 3 % in five minutes; common practice, no source
)

// watchFlat begins to watch whether the power keeps to its level.
func (p *draw) watchFlat() {
	p.flat, p.flatNow = trend{span: flatSpan}, trend{span: flatSpan / 2}
}

// levelled reports that the power, long watched, keeps to its level as only the mains let it sway: what a controller
// takes back follows the need. It may come to the top of its way and turn back, which the latest of it shows.
func (p *draw) levelled() bool {
	l, ok := p.flat.fit()
	now, okNow := p.flatNow.fit()
	return ok && p.flat.width() > 0.6*flatSpan && math.Abs(l.slope) < flatDuty*p.level && (!okNow || math.Abs(now.slope) < 2*flatDuty*p.level)
}

// stage follows a power that goes down from full, within so many seconds if it is a step, and whether it comes back
// by itself.
func (p *draw) stage(share float64, like bool, full, oil, t, within float64) {
	switch {
	case p.level > 0.85*full:
		if p.part && (p.backC == 0 || oil < p.backC) {
			p.backC = oil
		}
		p.part = false
	case like && !p.part && p.full > 0.85*full:
		from := max(p.fullAt, p.since)
		there := p.below[slices.Index(sharesLeft[:], share)] // a controller that takes its power back by and by passes there, too, but later
		p.part, p.partC, p.partAt, p.sudden = true, oil, t, p.downAt-from < within && there-from < 1.5*within && p.leastKW > 0.88*p.level
	}
}

// stepWithin is how long a meter takes to show a step, s.
func (a *Analyser) stepWithin() float64 {
	if !a.in.fitted(sPower) {
		return 1.5 * counterSpan
	}
	return max(30, 4*a.poll.dt)
}

// stageLasts is for how long no stage of a controller leaves the oil further below its set point than its hysteresis, nor
// waits on its way up, s; common practice, no source.
const stageLasts = 1200

// twoPoint reports that the good runs have shown a heater that is either full on or off: then nothing but a loss
// makes it take a part.
func (a *Analyser) twoPoint() bool {
	parts := a.memory.Learned.PartShare
	return len(parts) >= leastRuns && slices.Max(parts) < 0.02
}

// judgePhaseLost: the power is a fraction that a lost phase or element leaves, and stays so although full
// power is wanted: the oil is well below its set point, or the power fell to it in one step in the middle
// of heating. A controller that throttles near the set point does neither.
func (a *Analyser) judgePhaseLost() {
	p, r, h := &a.run.draw, &a.r, &a.run.heat
	oil, ok := r.get(sJacket)
	set := a.still.Recipe.JacketC
	if h.max > set && set > 0 {
		set = min(set, h.max+20)
	}
	full, basis := a.fullKW()
	cond := false
	if ok && p.on && full > 0 && a.phase != CoolDown && p.steady > 90 {
		tol := 0.08
		if basis == "by its rating" {
			tol = 0.07 // a rating is good to ±5 %, mains voltage to ±10 %, but fractions lie 25 % and more apart
		}
		share, like := shareLeft(p.level/full, tol)
		if ratio := p.level / full; !like && ratio > 0.1 && ratio < throttledShare {
			p.throttled += r.dt
		}
		far := max(20, 0.15*set) // nearer, a controller in stages takes part of its power back
		wanted := set > 0 && oil < set-far && p.throttled < throttledFor
		if p.stage(share, like, full, oil, r.t, a.stepWithin()); p.part {
			// Not every controller is set where the recipe says. One that took its power back gives it again when the
			// oil has cooled by its hysteresis; an element that is lost never comes back. And a controller that gives the
			// more, the cooler the oil is, does not keep to one level while it changes by twice that.
			early := p.backC == 0 && p.partC < set-max(far, 0.35*(set-h.startC))
			asked := p.backC == 0 || oil < p.backC-stageBand/2
			top := p.partC
			if set > 0 {
				top = min(top, set)
			}
			wanted = wanted && (early || oil < p.partC-stageBand && asked) || oil < top-2*stageBand && asked ||
				set == 0 && !h.reached && oil > p.partC+2*stageBand ||
				set > 0 && oil < top-stageBand && asked && r.t-p.partAt > stageLasts
			wanted = p.sudden && (wanted || a.fullWhenHotter())
		} else if set == 0 { // nobody said how hot it is to be; while it is cold, it takes what it took in good runs
			wanted = basis == inGoodRuns && p.full < 0.85*full && oil > h.startC+2*stageBand && !h.reached
		}
		wanted = wanted && (p.part || p.levelled())
		cond = like && (wanted || a.twoPoint() || p.dropLasts(full))
		if cond {
			p.lost = share
		}
	}
	if a.memory.HeaterStages && !a.faults.raised(HeaterPhaseLost) {
		cond = cond && p.steady > stageLasts
	}
	if a.faults.raised(HeaterPhaseLost) {
		// It stands until full power is seen again: a pause of the thermostat mends nothing.
		cond = !(p.on && p.steady > 60 && full > 0 && p.level > 0.85*full)
		if !cond { // and it was none: nothing that is lost comes back by itself
			a.memory.HeaterStages = true
		}
	}
	a.judge(HeaterPhaseLost, cond, max(30, 2.5*a.poll.dt), 30, a.explainPhaseLost)
}

// A heater that has stood for so long, s, at less than this share of its full power, and at none that a loss leaves, has a
// controller that gives what is needed; one that passes by a share that a loss leaves has lost nothing. Common practice, no source.
const (
	throttledShare = 0.75
	throttledFor   = 180
)

// fullWhenHotter reports that every good run gave its full power when the oil was clearly hotter than where it went down in
// this one: no stage of the controller lies there. What has come back by itself in this run was one.
func (a *Analyser) fullWhenHotter() bool {
	p, known := &a.run.draw, a.memory.Learned.FullC
	oil, ok := a.r.get(sJacket)
	return ok && p.backC == 0 && len(known) > 0 && max(oil, p.partC) < slices.Min(known)-stageBand && a.r.t-p.partAt > fullAgain
}

// fullAgain is how long a power that went down must stay down, s, where the runs before gave it all; common practice, no source.
const fullAgain = 300

func (a *Analyser) explainPhaseLost() account {
	p := &a.run.draw
	full, basis := a.fullKW()
	took := "the heater takes " + num(p.level, 1) + " kW of the " + num(full, 1) + " kW it takes " + basis
	if basis == "by its rating" {
		took = "the heater takes " + num(p.level, 1) + " kW of its rated " + num(full, 1) + " kW"
	}
	var s suspects
	three := a.still.Heater.Phases != 1
	switch {
	case !three:
		s.add(Element, 0.9, took+": on a single phase that is an element group that has failed")
		s.add(SupplyPhase, 0.1, "a supply with a bad contact gives less, too")
	case p.lost == 0.5:
		s.add(SupplyPhase, 0.75, took+": half is what is left of a three-phase heater in delta, or in star without neutral, when one phase is lost")
		s.add(Element, 0.25, "in star without neutral, and where there are two groups, one that has failed leaves half as well")
	case p.lost > 0.6:
		s.add(Element, 0.7, took+": two thirds is what is left when one of three elements has failed")
		s.add(SupplyPhase, 0.3, "in star with neutral a lost phase leaves two thirds as well")
	default:
		s.add(Element, 0.6, took+": one third is what is left when two of three elements have failed")
		s.add(SupplyPhase, 0.4, "two lost phases in star with neutral leave one third as well")
	}
	likely := s.rank()
	return account{text: "Part of the heater is lost: it takes " + num(100*p.level/full, 0) + " % of its full power (" + num(p.level, 1) + " of " + num(full, 1) +
		" kW). Heating will take much longer. " + a.adviceFor(likely), likely: likely}
}
