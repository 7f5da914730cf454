package physics

import "math"

// RefineExponential fits p(t) = p∞ + A·e^(−t/τ) to the readings in the window by least squares, starting
// from a rough fit such as PumpDownFit's (an empty one will do). It is the most that can be had from the
// readings: with independent noise its covariance is the Cramér–Rao bound. It costs some ten microseconds,
// so it is for now and then, not for every reading.
//
// Gauss–Newton with Levenberg's damping (Marquardt, J. SIAM 11 (1963) 431) on (start, fall, rate); see
// Decay for why those. Residuals that hang together (a gauge's lag, an ejector whose speed changes) carry
// less information than their number; the covariance is widened by (1 + r)/(1 − r), r their correlation
// from one to the next, when r is larger than chance explains.
//
// It knows the plain form only: with a leak, begin the window when the pressure has fallen to CriticalRatio
// of the surroundings, from where on the curve is an exponential (see PumpDownFit).
//
// ErrTooFew: fewer than 5 different readings. ErrNotIdentifiable: see there; the forecast holds all the same.
func RefineExponential(w *Window, from Decay) (Decay, error) {
	c := curve{window: w, n: w.len()}
	if c.n < 5 {
		return Decay{}, ErrTooFew
	}
	c.origin = w.at(0).t
	f, ok := c.fit(c.begin(from))
	if !ok {
		return Decay{}, ErrNotIdentifiable
	}
	variance, widen := noiseVariance(f.rss, f.rows-3, w.RestNoiseKPa, w.gaugeStep())
	if r := f.correlation; r > 2/math.Sqrt(float64(c.n)) {
		r = min(r, 0.95)
		widen *= (1 + r) / (1 - r)
	}
	d := Decay{
		OriginS: c.origin, StartKPa: f.theta[0], FallKPaPerS: f.theta[1], RatePerS: f.theta[2],
		NoiseKPa: math.Sqrt(variance), N: w.n, LastS: w.t,
	}
	for i := range 3 {
		for j := range 3 {
			d.Cov[i][j] = f.inverse[i][j] * variance * widen
		}
	}
	d.Cov[0][0] += roundingVariance(w.gaugeStep())
	if !d.finite() {
		return Decay{}, ErrNotIdentifiable
	}
	return d, d.level()
}

// curve is the problem: the points, on a clock that begins at origin.
type curve struct {
	window     *Window
	n          int
	origin     float64
	fixedStart bool // the curve begins at a known pressure
}

// solution is the least squares fit of start, fall and rate.
type solution struct {
	theta       [3]float64
	inverse     [3][3]float64 // (JᵀWJ)⁻¹; times the variance of a reading it is the covariance
	rss         float64
	rows        float64
	correlation float64 // of each residual with the next
}

// begin is where to start from: the rough fit on this origin, or else the chord of the points, bending at
// the rate of their whole time.
func (c *curve) begin(from Decay) [3]float64 {
	theta := [3]float64{from.At(c.origin), from.FallKPaPerS * math.Exp(-from.RatePerS*(c.origin-from.OriginS)), from.RatePerS}
	sum := theta[0] + theta[1] + theta[2]
	if from.N > 0 && !math.IsNaN(sum) && !math.IsInf(sum, 0) {
		return theta
	}
	first, last := c.window.at(0), c.window.at(c.n-1)
	span := last.t - first.t
	return [3]float64{first.p, 1.5 * (first.p - last.p) / span, 1 / span}
}

// fit minimises Σ w·(p − start + fall·φ(rate, t))².
func (c *curve) fit(theta [3]float64) (solution, bool) {
	const most, enough = 100, 1e-12
	normal, gradient, rss := c.normal(theta)
	damping := 1e-3
	for range most {
		damped := normal
		for i := range 3 {
			damped[i][i] *= 1 + damping
		}
		inverse, ok := invertSymmetric(damped)
		if !ok {
			damping = max(damping*10, 1e-6)
			if damping > 1e10 {
				return solution{}, false
			}
			continue
		}
		move := apply(inverse, gradient)
		trial := theta
		small := true
		for i := range 3 {
			trial[i] += move[i]
			small = small && math.Abs(move[i]) <= enough*(math.Abs(theta[i])+1e-9)
		}
		m, g, r := c.normal(trial)
		if r <= rss {
			theta, normal, gradient, rss = trial, m, g, r
			damping = max(damping/10, 1e-15)
		} else {
			damping *= 10
		}
		if small || damping > 1e10 {
			break
		}
	}
	inverse, ok := invertSymmetric(normal)
	if !ok || math.IsNaN(rss) {
		return solution{}, false
	}
	s := solution{theta: theta, inverse: inverse, rss: rss}
	s.rows, s.correlation = c.residuals(theta)
	return s, true
}

// normal is JᵀWJ, JᵀWr and rᵀWr at theta.
func (c *curve) normal(theta [3]float64) (m [3][3]float64, g [3]float64, rss float64) {
	for i := range c.n {
		p := c.window.at(i)
		phi, dPhi := bend(theta[2], p.t-c.origin)
		j := [3]float64{1, -phi, -theta[1] * dPhi}
		r := p.p - (theta[0] - theta[1]*phi)
		for a := range 3 {
			for b := range 3 {
				m[a][b] += p.weight * j[a] * j[b]
			}
			g[a] += p.weight * j[a] * r
		}
		rss += p.weight * r * r
	}
	if c.fixedStart {
		m[0], g[0] = [3]float64{1, 0, 0}, 0
		m[1][0], m[2][0] = 0, 0
	}
	if math.IsNaN(rss) {
		rss = math.Inf(1)
	}
	return m, g, rss
}

// residuals counts the points that carry noise of their own and says how much each residual resembles the
// next.
func (c *curve) residuals(theta [3]float64) (rows, correlation float64) {
	var before, sum, cross float64
	for i := range c.n {
		p := c.window.at(i)
		phi, _ := bend(theta[2], p.t-c.origin)
		r := (p.p - (theta[0] - theta[1]*phi)) * math.Sqrt(p.weight)
		sum += r * r
		cross += r * before
		before = r
	}
	if sum > 0 {
		correlation = cross / sum
	}
	return float64(c.n), correlation
}
