package analysis

import "math"

// jump holds a reading of the pressure back that lies further from the one before than a still can have come,
// until the next confirms it. A single wild reading so decides nothing; a vent costs one reading.
type jump struct {
	p    float64 // the last reading believed, kPa absolute
	t    float64 // when, s
	held bool    // the scan's reading is held back; it counts as no bad reading, for a vent is one too
	side int8    // where the last reading jumped to: 1 up, -1 down, 0 nowhere
}

// fastestS is the time constant of the fastest ejector on the smallest still, s: one that empties it to a third
// in ten seconds. Common practice, no source.
const fastestS = 10

// holdBack takes the scan's pressure out if it is a jump that nothing confirms yet.
func (a *Analyser) holdBack() {
	j, r := &a.jump, &a.r
	j.held = false
	if !r.pOK {
		return
	}
	side := int8(0)
	if gap := r.t - j.t; j.p != 0 && gap < blindS {
		far := a.farKPa()
		pumped := j.p * (1 - math.Exp(-gap/fastestS)) // no jump, but an ejector's first seconds
		switch {
		case r.p > j.p+far:
			side = 1
		case r.p < j.p-math.Max(far, pumped):
			side = -1
		}
	}
	if side != 0 && side != j.side {
		j.side, j.held = side, true
		r.pOK = false
		return
	}
	j.p, j.t, j.side = r.p, r.t, side
}
