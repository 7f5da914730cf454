package analysis

import "math"

// livelyReadings is how many readings are needed to know a channel's scatter.
const livelyReadings = 200

// pulse is what one channel does from reading to reading: does it scatter, stand still, or spike.
type pulse struct {
	readings int
	same     int     // readings in a row that were equal
	turns    float64 // share of readings that turned back, a running mean
	wide     float64 // share of changes by more than one step of the display, a running mean
	quantum  float64 // least change seen
	up       bool    // the last change was upwards
	moved    bool

	before, latest float64 // the last two readings
	n              int
	spikes         float64 // single readings far off among the last few hundred
}

// add takes a good reading; far is a change that is no noise.
func (p *pulse) add(x, far float64) {
	if p.n > 0 {
		p.readings++
		turned, wide := 0, 0
		switch d := x - p.latest; {
		case math.Abs(d) <= 1e-9:
			p.same++
		default:
			up := d > 0
			if !p.moved {
				p.up, p.moved = up, true
			}
			if up != p.up {
				turned = 1
			}
			p.up, p.same = up, 0
			if p.quantum == 0 || math.Abs(d) < p.quantum {
				p.quantum = math.Abs(d)
			}
			if math.Abs(d) > 1.5*p.quantum {
				wide = 1
			}
		}
		w := 1. / livelyReadings
		if p.readings < livelyReadings {
			w = 1 / float64(p.readings)
		}
		p.wide += (float64(wide) - p.wide) * w
		p.turns += (float64(turned) - p.turns) * w
	}
	if p.spikes > 0 {
		p.spikes *= 1 - 1./300
	}
	if p.n > 1 && far > 0 && math.Abs(p.latest-p.before) > far && math.Abs(x-p.latest) > far && math.Abs(x-p.before) < far/3 {
		p.spikes++
	}
	p.before, p.latest = p.latest, x
	p.n++
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
	return p.readings >= livelyReadings/2 && p.turns > 0.4 && p.wide > 0.05
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
