package analysis

import "math"

// trend is a straight line through the last span seconds of a noisy signal, by least squares, kept up
// to date in constant time and memory. It keeps at most trendCap points: when scans come faster than
// span/trendCap, those in between are averaged into one point, so no scan is thrown away.
type trend struct {
	span float64             // s
	pts  [2 * trendCap]point // each twice, trendCap apart, so that the kept ones are always in one piece
	head int                 // oldest
	n    int
	// the point being averaged
	sumT, sumV float64
	k          int
	firstT     float64
	lastT      float64

	line   line // fitted through the present points, if fitted is set
	ok     bool
	fitted bool
}

const trendCap = 24

type point struct{ t, v float64 }

// add takes a reading at time t (s, rising).
func (w *trend) add(t, v float64) {
	if w.k == 0 {
		w.firstT = t
	}
	dt := t - w.lastT
	w.lastT = t
	w.sumT += t
	w.sumV += v
	w.k++
	if t-w.firstT+dt < w.span/trendCap && w.k < 1000 && w.n > 0 { // the next reading still belongs to this point
		return
	}
	p := point{w.sumT / float64(w.k), w.sumV / float64(w.k)}
	w.sumT, w.sumV, w.k = 0, 0, 0
	for w.n > 0 && (w.pts[w.head].t < t-w.span || w.n == trendCap) {
		w.head = (w.head + 1) % trendCap
		w.n--
	}
	i := (w.head + w.n) % trendCap
	w.pts[i], w.pts[i+trendCap] = p, p
	w.n++
	w.fitted = false
}

// kept are the points, oldest first.
func (w *trend) kept() []point { return w.pts[w.head : w.head+w.n] }

func (w *trend) at(i int) point { return w.pts[w.head+i] }

// width is the time the kept points cover, s.
func (w *trend) width() float64 {
	if w.n < 2 {
		return 0
	}
	return w.at(w.n-1).t - w.at(0).t
}

// line is a fitted straight line v = mid + slope·(t − t0).
type line struct {
	slope, slopeSD float64 // per s
	mid, t0        float64
	residSD        float64
	n              int
}

// fit returns the least-squares line through the kept points; ok is false with fewer than four.
// Ordinary least squares, NIST/SEMATECH e-Handbook 4.1.4.1.
func (w *trend) fit() (line, bool) {
	if !w.fitted {
		w.line, w.ok = w.leastSquares()
		w.fitted = true
	}
	return w.line, w.ok
}

func (w *trend) leastSquares() (line, bool) {
	if w.n < 4 {
		return line{}, false
	}
	var mt, mv float64
	for _, p := range w.kept() {
		mt += p.t
		mv += p.v
	}
	n := float64(w.n)
	mt /= n
	mv /= n
	var stt, stv, svv float64
	for _, p := range w.kept() {
		dt, dv := p.t-mt, p.v-mv
		stt += dt * dt
		stv += dt * dv
		svv += dv * dv
	}
	if stt <= 0 {
		return line{}, false
	}
	b := stv / stt
	sse := max(0, svv-b*stv)
	s2 := sse / (n - 2)
	return line{slope: b, slopeSD: math.Sqrt(s2 / stt), mid: mv, t0: mt, residSD: math.Sqrt(s2), n: w.n}, true
}

// extremes returns the least and the greatest kept value.
func (w *trend) extremes() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range w.kept() {
		lo, hi = min(lo, p.v), max(hi, p.v)
	}
	return lo, hi
}

// noise learns what a gauge does when nothing happens: its scatter from one reading to the next and
// the step of its display. Differences are used, so that a slow drift does not count, and a jump is
// not taken for noise.
type noise struct {
	last    float64
	n       int
	meanSq  float64 // of successive differences
	quantum float64 // least step seen, 0 if none
}

// newNoise starts from a standard deviation of one reading to expect.
func newNoise(sd float64) noise { return noise{meanSq: 2 * sd * sd} }

// add takes a reading made while the still is at rest.
func (q *noise) add(v float64) {
	if q.n > 0 {
		d := math.Abs(v - q.last)
		if d > 1e-9 && (q.quantum == 0 || d < q.quantum) {
			q.quantum = d
		}
		d = min(d, 6*math.Sqrt(q.meanSq))
		w := max(1/float64(q.n+8), 0.01)
		q.meanSq += w * (d*d - q.meanSq)
	}
	q.last = v
	q.n++
}

// sd is the standard deviation of one reading: successive differences of independent readings have
// twice the variance (von Neumann). It never falls below least, so that a gauge that holds its last
// reading is not taken for a perfect one.
func (q *noise) sd(least float64) float64 { return max(least, math.Sqrt(q.meanSq/2)) }

// rootSum is √(x² + y²) for what is computed at every scan: none of it needs the care of math.Hypot for overflow.
func rootSum(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

// peak is when the kept points first came as high as they got, give or take sd; now is the time of the latest
// reading, which may not be one of them yet.
func (w *trend) peak(now, sd float64) float64 {
	_, hi := w.extremes()
	for i, p := range w.kept() {
		if p.v >= hi-sd && i < w.n-1 {
			return p.t
		}
	}
	return now
}

// hinge is a level that from some time on rose in a straight line: v = level + slope·max(0, t − at).
type hinge struct {
	at, slope, slopeSD float64 // s, per s
	rise               float64 // from the level to the last point
	residSD            float64
	after              int     // points after at
	overStep           float64 // by how much its squared errors are less than those of the best level with one jump
}

// hinged is the hinge that fits the kept points best, of those that begin at one of them; ok is false with fewer
// than four.
func (w *trend) hinged() (best hinge, ok bool) {
	if w.n < 4 {
		return hinge{}, false
	}
	n := float64(w.n)
	var sv, svv float64
	for _, p := range w.kept() {
		sv += p.v
		svv += p.v * p.v
	}
	least, step := math.Inf(1), math.Inf(1)
	var before float64 // sum of the values before k
	for k, pk := range w.kept() {
		if k > 0 {
			b, m := before, float64(k)
			step = min(step, svv-b*b/m-(sv-b)*(sv-b)/(n-m))
		}
		before += pk.v
		if k > w.n-3 {
			continue
		}
		var sx, sxx, sxv float64
		for _, p := range w.kept()[k+1:] {
			x := p.t - pk.t
			sx += x
			sxx += x * x
			sxv += x * p.v
		}
		d := n*sxx - sx*sx
		if d <= 0 {
			continue
		}
		b := (n*sxv - sx*sv) / d
		a := (sv - b*sx) / n
		if sse := max(0, svv-a*sv-b*sxv); sse < least {
			least = sse
			s2 := sse / (n - 3)
			best = hinge{at: pk.t, slope: b, slopeSD: math.Sqrt(s2 * n / d), rise: b * (w.at(w.n-1).t - pk.t), residSD: math.Sqrt(s2), after: w.n - 1 - k}
		}
	}
	best.overStep = max(0, step) - least
	return best, !math.IsInf(least, 1)
}
