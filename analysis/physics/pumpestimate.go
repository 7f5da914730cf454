package physics

import "math"

// Decay returns the fit so far. ErrTooFew: fewer than 5 readings. ErrNotIdentifiable: see there;
// the forecast holds all the same.
func (f *PumpDownFit) Decay() (Decay, error) {
	if f.n < 5 {
		return Decay{}, ErrTooFew
	}
	s := f.sums
	s.close(&f.run, 0) // the latest error is in no later integral
	l, ok := f.solve(&s)
	if !ok {
		return f.line(&s)
	}
	d, ok := f.describe(l)
	if !ok {
		return f.line(&s)
	}
	return d, d.level()
}

// linear is the solution of the linear problem y = c + q·L + a·J.
type linear struct {
	beta  [3]float64    // c, q, a; in the plain form q is b less a·p0
	cov   [3][3]float64 // of beta
	noise float64       // variance of one reading

	rough float64 // see Decay
}

// solve fits the three coefficients; ok is false if the rows do not determine them.
func (f *PumpDownFit) solve(s *sums) (l linear, ok bool) {
	if s.rows < 5 {
		return l, false
	}
	var widen float64
	for range 3 { // the noise decides the correction, the residuals decide the noise
		g, r := s.xx, s.xy
		g[2][2] -= l.noise * s.varJ
		r[2] -= l.noise * s.kappa
		before := 0.0 // weight of what is known beforehand, in readings
		if f.RateSD > 0 {
			before = l.noise / (f.RateSD * f.RateSD)
			g[2][2] += before
			r[2] -= before * f.RatePerS
		}
		inverse, ok := invertSymmetric(g)
		if !ok {
			return l, false
		}
		l.beta = apply(inverse, r)
		a := l.beta[2]
		score := s.influence(a)
		// E[Σu²] = σ²·(Σ(1 − 2a·κ + a²·Var J) − tr(G⁻¹·S)).
		free := s.rows - 2*a*s.kappa + a*a*s.varJ - traceProduct(inverse, score)
		if !(free > 0.5) {
			return l, false
		}
		rss := s.residual(l.beta)
		l.noise, widen = f.noise(rss, free)
		l.rough = roughness(rss, free, f.RestNoiseKPa, f.gaugeStep())
		score[2][2] += before
		l.cov = sandwich(inverse, score)
	}
	for i := range 3 {
		for j := range 3 {
			l.cov[i][j] *= l.noise * widen
		}
	}
	return l, true
}

// describe turns the coefficients into a curve; ok is false if the readings are too far apart for that.
func (f *PumpDownFit) describe(l linear) (d Decay, ok bool) {
	c, q, a := l.beta[0], l.beta[1], l.beta[2]
	// The trapezoids under an exponential are its integral times a constant. So p∞ = −q/a is exact for
	// even sampling, and the rate k follows from −a = (2/h)·tanh(h·k/2).
	h := math.Sqrt(f.cube / f.sumH)
	half := -a * h / 2
	if math.Abs(half) > 0.95 { // readings further apart than 3.6 τ
		return d, false
	}
	stretch := 1.0
	if half != 0 {
		stretch = math.Atanh(half) / half
	}
	// fall = −(a·(start − base) + q·ψ(p∞)), as if the leak flowed as it will at the end.
	share, slope, endQ, endA := 1.0, 0.0, 0.0, 0.0
	if f.SurroundingsKPa > 0 && a < 0 {
		end := f.leakEnd(q, a)
		share, slope = f.psi(end), relativeFlowSlope(end/f.SurroundingsKPa)/f.SurroundingsKPa
		hold := 1 + q*slope/a
		endQ, endA = -share/a/hold, q*share/(a*a)/hold
	}
	at := f.mark.at
	over := f.p0 - f.base() + c + q*at.leak + a*at.area
	d = Decay{
		OriginS: f.mark.t, StartKPa: f.base() + over, FallKPaPerS: -(a*over + q*share) * stretch, RatePerS: -a * stretch,
		NoiseKPa: math.Sqrt(l.noise), RoughKPa: l.rough, N: f.n, LastS: f.t,
	}
	// Gradients of (start, fall, rate) over (c, q, a).
	d.Cov = sandwich([3][3]float64{
		{1, at.leak, at.area},
		{-a * stretch, -(a*at.leak + share + q*slope*endQ) * stretch, -(over + a*at.area + q*slope*endA) * stretch},
		{0, 0, -1 / (1 - half*half)},
	}, l.cov)
	d.Cov[0][0] += roundingVariance(f.gaugeStep())
	return d, d.finite()
}

// leakEnd is the pressure at which a leak of q·ψ (kPa/s) and a pump of rate −a are even. It is unique, for
// the leak falls and the pumping grows with the pressure.
func (f *PumpDownFit) leakEnd(q, a float64) float64 {
	low, high := f.TightKPa-q/a, f.SurroundingsKPa
	if low <= CriticalRatio*f.SurroundingsKPa || low <= f.TightKPa {
		return low // choked
	}
	low = CriticalRatio * f.SurroundingsKPa
	for range 30 {
		mid := (low + high) / 2
		if mid-f.TightKPa+q/a*f.psi(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
		if high-low < 1e-3 {
			break
		}
	}
	return (low + high) / 2
}

// line is the straight line through the readings, for when no curve can be told. A pump-down lies above
// its tangent, so as a forecast it is the hopeful one.
func (f *PumpDownFit) line(s *sums) (Decay, error) {
	d := Decay{OriginS: f.t0, N: f.n, LastS: f.t}
	s0, s1, s2 := s.rows, s.t, s.tt
	det := s0*s2 - s1*s1
	if s.rows < 3 || !(det > 1e-12*s0*s2) {
		// The gauge has made one step or none: the line from the first reading to the latest.
		variance, _ := f.noise(0, 1)
		span := f.t - f.t0
		d.StartKPa, d.FallKPaPerS, d.NoiseKPa = f.p0, (f.p0-f.p)/span, math.Sqrt(variance)
		d.Cov[0][0], d.Cov[1][1], d.Cov[0][1] = variance, 2*variance/(span*span), variance/span
		d.Cov[1][0] = d.Cov[0][1]
		return d, ErrNotIdentifiable
	}
	c := (s2*s.xy[0] - s1*s.ty) / det
	b := (s0*s.ty - s1*s.xy[0]) / det
	variance, widen := f.noise(s.yy-c*s.xy[0]-b*s.ty, max(s.rows-2, 0.5))
	d.StartKPa, d.FallKPaPerS, d.NoiseKPa = f.p0+c, -b, math.Sqrt(variance)
	variance *= widen
	d.Cov[0][0], d.Cov[1][1], d.Cov[0][1] = variance*s2/det, variance*s0/det, variance*s1/det
	d.Cov[1][0] = d.Cov[0][1]
	if !d.finite() {
		return Decay{}, ErrTooFew
	}
	return d, ErrNotIdentifiable
}

func (d Decay) finite() bool {
	s := d.StartKPa + d.FallKPaPerS + d.RatePerS + d.NoiseKPa
	for i := range 3 {
		for j := range 3 {
			s += d.Cov[i][j]
		}
	}
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

// noise is noiseVariance of this gauge.
func (f *PumpDownFit) noise(rss, free float64) (variance, widen float64) {
	return noiseVariance(rss, free, f.RestNoiseKPa, f.gaugeStep())
}
