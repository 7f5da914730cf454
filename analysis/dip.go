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
	if i.dip.at > 0 && i.low == 0 && p > i.dip.from-max(0.6, 2*sd) {
		i.dip = dip{}
	}
}

// After the heat the same dip says that the air is on: an ejector that pulls at an opening of some centimetres lowers
// the pressure by little, but at once. It is looked for in the mean of the last quarter of a minute, against the level
// at rest and what it was in the last minutes.
const (
	dipMeanS = 15   // s
	dipPastS = 120  // s
	dipShare = 0.6  // of the dip that must be against the last minutes: what goes down by and by is weather, or a still that cools; common practice, no source
	dipLeast = 0.35 // kPa: more than doors, fans and the weather of a minute make; common practice, no source
)

// dips reports that the pressure has left its level at rest, however little. A lid that is closed presses the air in
// the pot together; what goes back to where it was before that is no ejector.
func (a *Analyser) dips() bool {
	v, r := &a.run.vac, &a.r
	if !r.pOK || a.idle.gauge.n < 60 && a.memory.Learned.GaugeSD == 0 { // the level is not known well
		return false
	}
	v.means++
	share := min(1, max(a.poll.dt/dipMeanS, 1/float64(v.means)))
	if v.means == 1 {
		v.past = v.base
	}
	v.mean += (r.p - v.mean) * share
	v.past += (r.p - v.past) * min(1, a.poll.dt/dipPastS)
	sd := a.pressureSD() * math.Sqrt(share) // of a mean of 1/share readings
	least := max(dipLeast, max(risesBy*sd, a.gaugeStep()))
	return v.base-v.mean > least && v.past-v.mean > dipShare*least
}
