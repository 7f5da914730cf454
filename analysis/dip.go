package analysis

import "math"

// dip is a small step down of a still at rest that then stands. It is a gauge that was knocked or set, or an
// ejector that pulls at an open lid: the heat that follows, or does not, tells which.
type dip struct {
	at   float64 // s; 0: none
	from float64 // the level before, kPa absolute
}

// dipWaits is how long before the heat the air may have been opened, s: who pulls the vacuum first waits for it
// for as long as a pump-down is allowed, and some more. Common practice, no source.
const dipWaits = 1800

// standing reports a dip that the heat may yet explain.
func (d *dip) standing(t float64) bool { return d.at > 0 && t-d.at < dipWaits }

// followDip forgets a dip that has gone again.
func (i *idle) followDip(p, sd float64) {
	if i.dip.at > 0 && i.low == 0 && p > i.dip.from-math.Max(0.6, 2*sd) {
		i.dip = dip{}
	}
}
