package analysis

import "math"

// jump holds a reading back that lies further from the one before than anything real can have come, until the
// next confirms it. A single wild reading so decides nothing; a vent costs one reading.
type jump struct {
	v, t float64 // the last reading believed, inside unit, and when, s
	any  bool
	held bool // the scan's reading is held back; it counts as no bad reading, for a vent is one too
	side int8 // where the last reading jumped to: 1 up, -1 down, 0 nowhere
}

// hold takes a reading that may have risen by up and fallen by down since the last one believed, and reports
// whether it is to be held back.
func (j *jump) hold(t, v, up, down float64) bool {
	side := int8(0)
	if j.any && t-j.t < blindS {
		switch {
		case v > j.v+up:
			side = 1
		case v < j.v-down:
			side = -1
		}
	}
	j.held = side != 0 && side != j.side
	if j.side = side; !j.held {
		j.v, j.t, j.any = v, t, true
	}
	return j.held
}

// fastestS is the time constant of the fastest ejector on the smallest still, s: one that empties it to a third
// in ten seconds. Common practice, no source.
const fastestS = 10

// holdBack takes the scan's pressure and temperatures out that jump and that nothing confirms yet.
func (a *Analyser) holdBack() {
	r, j := &a.r, &a.jumps[nSig]
	j.held = false
	if r.pOK {
		down := r.far
		if r.p < j.v-down { // no jump, but an ejector's first seconds
			down = max(down, j.v*(1-math.Exp(-(r.t-j.t)/fastestS)))
		}
		r.pOK = !j.hold(r.t, r.p, r.far, down)
	}
	for _, k := range a.in.present {
		if j := &a.jumps[k]; r.ok[k] && a.in.columns[a.in.channel[k]].temperature {
			far := farK(r.t - j.t)
			r.ok[k] = !j.hold(r.t, r.v[k], far, far)
		}
	}
}

// farK is a change within dt (s) that no thermal mass makes, K: no sensor in a pocket or in a pipe follows
// faster (common practice, no source).
func farK(dt float64) float64 { return 8 + 3*dt }

// jumping reports that a reading has just jumped and is not confirmed yet.
func (s *state) jumping() bool {
	for i := range s.jumps {
		if s.jumps[i].side != 0 {
			return true
		}
	}
	return false
}
