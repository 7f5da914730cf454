package analysis

// medians remembers what it has worked out: figures learned from runs are asked for in every scan and
// change once a run. The lists in a Memory are never changed in place, so a list that begins at the same
// place and is as long is the same list.
type medians struct {
	known [16]learnedMedian
	next  int // the one to be replaced
}

type learnedMedian struct {
	first    *float64 // nil: nothing
	n        int
	mid, mad float64 // the median, and that of the absolute deviations from it
}

// of works the two out for a list that is not empty.
func (m *medians) of(xs []float64) *learnedMedian {
	for i := range m.known {
		if k := &m.known[i]; k.first == &xs[0] && k.n == len(xs) {
			return k
		}
	}
	k := &m.known[m.next]
	m.next = (m.next + 1) % len(m.known)
	*k = learnedMedian{first: &xs[0], n: len(xs)}
	k.mid, _ = median(xs, 1)
	k.mad = deviation(xs, k.mid)
	return k
}

// median is median for a list of the analyser's memory.
func (a *Analyser) median(xs []float64, least int) (float64, bool) {
	if len(xs) < least || len(xs) == 0 {
		return 0, false
	}
	return a.medians.of(xs).mid, true
}

// usual is usual for a list of the analyser's memory.
func (a *Analyser) usual(xs []float64, least int, floor float64) (mid, sd float64, ok bool) {
	if len(xs) < least || len(xs) == 0 {
		return 0, 0, false
	}
	k := a.medians.of(xs)
	return k.mid, spread(k.mid, k.mad, floor), true
}
