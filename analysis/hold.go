package analysis

// hold turns a condition that may flicker into one that is raised and cleared once: it must stand for
// on seconds before it is raised and be gone for off seconds before it is cleared (the on-delay and
// off-delay of ANSI/ISA-18.2).
type hold struct {
	raised bool
	since  float64 // when the present contrary evidence began
	going  bool    // contrary evidence is standing
	seen   float64 // last time the condition was looked at
}

// update takes the condition at time t (s) and reports a change.
func (h *hold) update(t float64, cond bool, on, off float64) (raised, cleared bool) {
	if cond == h.raised {
		h.going = false
		return false, false
	}
	if !h.going || t-h.seen > blindS { // nobody looked: it has not stood all that time
		h.going, h.since = true, t
	}
	h.seen = t
	delay := on
	if h.raised {
		delay = off
	}
	if t-h.since < delay {
		return false, false
	}
	h.raised, h.going = cond, false
	return cond, !cond
}

// quiet reports that nothing is raised and nothing is about to be.
func (h *hold) quiet() bool { return !h.raised && !h.going }
