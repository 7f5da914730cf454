package analysis

import "math"

// livelyReadings is how many readings are needed to know a channel's scatter.
const livelyReadings = 200

// pulse is what one channel does from reading to reading: does it scatter, stand still, or spike.
type pulse struct {
	n     int     // readings
	same  int     // readings in a row that were equal
	turns float64 // share of readings that turned back, a running mean
	wide  float64 // share of changes by more than one step of the display, a running mean
	step  float64 // least change seen, 0 if none
	up    bool    // the last change was upwards

	before, last float64 // the last two readings
	spikes       float64 // single readings far off among the last few hundred
}

// add takes a good reading and reports whether it is another than the last; far is a change that is no noise.
func (p *pulse) add(x, far float64) (moved bool) {
	d := math.Abs(x - p.last)
	moved = p.n == 0 || d > 1e-9
	if p.n > 0 {
		turned, wide := 0., 0.
		if !moved {
			p.same++
		} else {
			up := x > p.last
			if p.step == 0 {
				p.step, p.up = d, up
			}
			if up != p.up {
				turned = 1
			}
			p.up, p.same, p.step = up, 0, min(p.step, d)
			if d > 1.5*p.step {
				wide = 1
			}
		}
		w := 1. / livelyReadings
		if p.n < livelyReadings {
			w = 1 / float64(p.n)
		}
		p.wide += (wide - p.wide) * w
		p.turns += (turned - p.turns) * w
	}
	if p.spikes > 0 {
		p.spikes *= 1 - 1./300
	}
	if far > 0 && d > far && p.n > 1 && math.Abs(p.last-p.before) > far && math.Abs(x-p.before) < far/3 {
		p.spikes++
	}
	p.before, p.last = p.last, x
	p.n++
	return moved
}

// spikesMany of the last few hundred readings are more than a long line beside a contactor picks up, one in a few
// hundred. Common practice, no source.
const (
	spikesMany = 4
	jumpsMany  = 3 // impossible jumps within a few minutes
)

// erratic reports that the channel jumps as nothing real does: again and again to begin with, and until it has
// long been calm.
func (c *sensor) erratic() bool {
	if c.implausible.raised {
		return c.jumps > 0.3 || c.spikes > 0.5
	}
	return c.jumps > jumpsMany || c.spikes > spikesMany
}

// lively reports that the channel's last digits go up and down all the time, wherever it stands: noise of
// half a step of the display and more turns back in two readings of five, and by more than one step now and
// then. A quieter one that happens to stand between two steps only flickers from one to the other.
func (p *pulse) lively() bool {
	return p.n > livelyReadings/2 && p.turns > 0.4 && p.wide > 0.05
}

// frozenReadings is how many equal readings in a row no lively channel shows: noise of half a step leaves,
// in the middle of a step, two readings in three where they were; two thirds to the power of 60 is nothing.
const frozenReadings = 60

// far is a change from one reading to the next and back again that no process makes, inside unit; 0 for
// signals that may do that, and for pressures, which have farKPa.
func far(s sig) float64 {
	switch s {
	case sBarometer:
		return 3
	case sJacket, sCharge, sVapor, sCondensate, sAmbient:
		return 8
	}
	return 0
}

// farKPa is the same of the still pressure, kPa: in ten seconds a boiling charge can bump.
func (a *Analyser) farKPa() float64 {
	return max(5, 12*a.pressureSD(), 3*a.gaugeStep()) * (1 + a.poll.dt/10)
}
