package analysis

import "math"

// course is the run so far in bounded memory: means over equal spans of time. When it is full, neighbours
// are joined and the spans become twice as long. What only shows when one looks back over a run, such as
// the end of drying, is found in it.
type course struct {
	spots []spot
	every float64 // s a spot covers
	open  spot    // being filled: sums
	n     [spotFields]int
	from  float64
}

// spot is one span of the run: its middle, s, and the means of what was measured, NaN where nothing was.
type spot struct {
	t float64
	v [spotFields]float64
}

const (
	oilC = iota
	chargeC
	vaporC
	heatIn // kW that the heater takes, where that is measured
	overL  // come over, L
	usedKWh
	pressKPa
	spotFields
)

const (
	courseCap   = 720
	courseEvery = 20 // s, at first
)

// begin forgets the run before; the memory is used again.
func (c *course) begin(t float64) {
	if c.spots == nil {
		c.spots = make([]spot, 0, courseCap)
	}
	*c = course{spots: c.spots[:0], every: courseEvery, from: t}
}

// stepCourse takes one scan of a run.
func (a *Analyser) stepCourse() {
	c, r := &a.course, &a.r
	if r.t >= c.from+c.every {
		c.close(r.t)
	}
	put := func(i int, v float64, ok bool) {
		if ok {
			c.open.v[i] += v
			c.n[i]++
		}
	}
	c.open.t += r.t - c.from
	put(oilC, r.v[sJacket], r.ok[sJacket])
	put(chargeC, r.v[sCharge], r.ok[sCharge])
	put(vaporC, r.v[sVapor], r.ok[sVapor])
	put(heatIn, r.v[sPower], r.ok[sPower])
	put(overL, a.run.distil.total, a.comesMeasured() && (r.ok[sVolume] || r.ok[sMass] || r.ok[sFlow])) // a silent gauge is no dry pot
	put(usedKWh, a.run.energy.kWh, a.run.energy.basis != "")
	put(pressKPa, r.p, r.pOK)
}

// close ends the open spot and begins the next at t.
func (c *course) close(t float64) {
	s := spot{t: (c.from + min(t, c.from+c.every)) / 2}
	some := false
	for i := range s.v {
		s.v[i] = math.NaN()
		if c.n[i] > 0 {
			s.v[i] = c.open.v[i] / float64(c.n[i])
			some = true
		}
	}
	c.open, c.n, c.from = spot{}, [spotFields]int{}, t
	if !some {
		return
	}
	if len(c.spots) == courseCap {
		c.halve()
	}
	c.spots = append(c.spots, s)
}

// halve joins neighbours.
func (c *course) halve() {
	for i := range courseCap / 2 {
		a, b := c.spots[2*i], c.spots[2*i+1]
		j := spot{t: (a.t + b.t) / 2}
		for k := range j.v {
			switch {
			case math.IsNaN(a.v[k]):
				j.v[k] = b.v[k]
			case math.IsNaN(b.v[k]):
				j.v[k] = a.v[k]
			default:
				j.v[k] = (a.v[k] + b.v[k]) / 2
			}
		}
		c.spots[i] = j
	}
	c.spots = c.spots[:courseCap/2]
	c.every *= 2
}

// mean of a field between two times, and whether anything was measured there.
func (c *course) mean(field int, from, to float64) (float64, bool) {
	sum, n := 0.0, 0
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		if v := c.spots[i].v[field]; !math.IsNaN(v) {
			sum += v
			n++
		}
	}
	return sum / max(1, float64(n)), n > 0
}

// slope of a field between two times by least squares, per s; ok is false with fewer than three points.
func (c *course) slope(field int, from, to float64) (perS float64, ok bool) {
	var n, st, sv, stt, stv float64
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		if v := c.spots[i].v[field]; !math.IsNaN(v) {
			t := c.spots[i].t - from
			n++
			st += t
			sv += v
			stt += t * t
			stv += t * v
		}
	}
	d := n*stt - st*st
	if n < 3 || d <= 0 {
		return 0, false
	}
	return (n*stv - st*sv) / d, true
}

// steepest is the most that a field rises over a span, s, between two times.
func (c *course) steepest(field int, span, from, to float64) float64 {
	most := 0.0
	for i, j := c.after(from), c.after(from); j < len(c.spots) && c.spots[j].t <= to; j++ {
		for c.spots[i].t < c.spots[j].t-span {
			i++
		}
		if rise := c.spots[j].v[field] - c.spots[i].v[field]; rise > most { // never, where either was not measured
			most = rise
		}
	}
	return most
}

// after is the index of the first spot not before t.
func (c *course) after(t float64) int {
	lo, hi := 0, len(c.spots)
	for lo < hi {
		if mid := (lo + hi) / 2; c.spots[mid].t < t {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// passes is when a field that only rises, but for its scatter, comes to a level, between spots by a straight line. Of all
// courses that never fall the one nearest to the spots (isotonic regression) stays below the level up to the spot at which
// the sum of v - level is least: R. E. Barlow et al., Statistical Inference under Order Restrictions, 1972 (from memory). So no
// spot that happens to lie low decides alone, long after. ok is false if it never comes there.
func (c *course) passes(field int, level, from, to float64) (at float64, ok bool) {
	sum, least := 0.0, 0.0
	last, lastV := math.NaN(), math.NaN() // the spot before
	at, ok = from, true
	below := false // the spot before is the last one below
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		s := &c.spots[i]
		v := s.v[field]
		if math.IsNaN(v) {
			continue
		}
		if below { // so far: this one is beyond, or the sum has a new least
			at, ok = s.t, true
			if lastV < level && v > level {
				at = last + (s.t-last)*(level-lastV)/(v-lastV)
			}
		}
		sum += v - level
		if below = sum <= least; below {
			least, ok = sum, false
		}
		last, lastV = s.t, v
	}
	return at, ok && !math.IsNaN(last)
}

// crosses is the first time from which a rising field stays at or above a level: the last crossing of
// the level, between spots by straight lines.
func (c *course) crosses(field int, level, from, to float64) (float64, bool) {
	prevT, prevV := math.NaN(), math.NaN()
	at, ok := 0.0, false
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= to; i++ {
		s := &c.spots[i]
		v := s.v[field]
		if math.IsNaN(v) {
			continue
		}
		switch {
		case v < level:
			ok = false
		case !ok:
			at, ok = s.t, true
			if prevV < level {
				at = prevT + (s.t-prevT)*(level-prevV)/(v-prevV)
			}
		}
		prevT, prevV = s.t, v
	}
	return at, ok
}
