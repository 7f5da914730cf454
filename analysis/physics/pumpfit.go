package physics

import "math"

// PumpDownFit fits p∞ and τ of a pump-down while it happens, at the same small cost for every reading,
// without keeping the readings.
//
// Not dp/dt is fitted but the integral form, which is linear: from dp/dt = −(p − p∞)/τ follows
//
//	p(t) = c + a·∫p dt + b·t,  τ = −1/a,  p∞ = −b/a,
//
// with c a third unknown, because the first reading is as noisy as any other. One 0.5 inHg step of a
// gauge read each second, differentiated in 85 L, would be 1440 mbar·L/s of leak that is not there.
//
// The noise of the readings also enters their integral, so the residuals are correlated and ordinary
// formulae for the covariance would flatter. Here the covariance is that of the estimate itself: every
// reading's influence on the sums, directly and through every later integral, is accumulated (the
// "sandwich" of White, Econometrica 48 (1980) 817, for a known error structure), and the bias that the
// noisy regressor gives (errors in variables) is taken out of the normal equations.
//
// A leak through a hole grows until the pressure inside has fallen to about half of that outside, and only
// then is constant (see FlowFactor). Until then the plain form sees a curve that bends too soon: for a leak
// that ends at 14 kPa it forecast 20 ± 2 kPa after 60 s of a 90 s time constant. With SurroundingsKPa set,
// the leak form is fitted instead, as linear as the plain one,
//
//	p(t) = c + a·∫(p − pu) dt + q·∫ψ(p) dt,  τ = −1/a,  p∞ = pu − q·ψ(p∞)/a,
//
// with ψ the flow through a hole as a share of the choked flow and pu the end pressure of the tight still.
// It is right for a leak, and hopeful for a weak ejector, for which the plain form is right; a still that
// neither form lets reach its target will not reach it.
//
// Readings equal to each other in a row, as a coarse gauge gives them, share one error: they count as one
// reading, at their mean time.
//
// The zero value is ready for the first reading.
type PumpDownFit struct {
	// RestNoiseKPa is the standard deviation of the gauge's readings at rest, if known. It counts as much
	// as ten readings when the noise is estimated, which the first few readings cannot do alone.
	RestNoiseKPa float64
	// StepKPa is the step of a coarse gauge, if known; 0 means find it from the readings.
	StepKPa float64
	// SurroundingsKPa is the pressure from which a leak comes; 0 means fit the plain form.
	SurroundingsKPa float64
	// TightKPa is the end pressure of the still without a leak, for the leak form.
	TightKPa float64

	step GaugeStep
	n    int
	t0   float64 // first reading: origin of the sums
	p0   float64
	t, p float64 // latest reading
	h    float64 // its distance from the one before, s
	flow float64 // its ψ: 1 in the plain form
	now  forcing // integrals up to it
	mark mark    // where the exponential begins
	sumH float64 // Σh and Σh³: the mean square interval, weighted by time
	cube float64

	run  run  // the latest readings, as long as they are equal
	sums sums // the runs before
}

// forcing is what has driven the pressure, by trapezoids.
type forcing struct {
	leak float64 // L = ∫ψ dt, s: the time passed in the plain form
	area float64 // J = ∫(p − base) dt, kPa·s
}

// mark is the reading from which on the curve is an exponential: the first one in the plain form, the first
// with a choked leak (or else the latest) in the leak form.
type mark struct {
	t      float64
	at     forcing
	choked bool
}

// run is readings equal to each other, summed.
type run struct {
	m      float64    // readings
	p      float64    // the first of them
	x      [3]float64 // Σ (1, L, J)
	t      float64    // Σ (t − t0)
	y      float64    // Σ (p − p0)
	inside float64    // Σ over the readings of the weight that the run's common error has in J there
	weight float64    // weight of that error in J beyond the run, but for the half interval still to come
}

// sums are over closed runs, one row x = (1, L, J), y each.
type sums struct {
	rows float64
	xx   [3][3]float64
	xy   [3]float64
	yy   float64
	x    [3]float64 // Σx, so far: C

	t, tt, ty float64 // of the time, for a straight line

	// The error of one row enters Σ x·(y − x·β) with the factor x·(1 − a·κ) − a·W·(T − C), T the final
	// Σx: κ its own part of its own integral, W that in all later ones. With n = W·C − κ·x this is
	// x + a·(n − W·T); these are the sums of products of its parts.
	xn, nn [3][3]float64
	wx, wn [3]float64
	w, ww  float64

	kappa  float64 // Σκ: covariance of J and y, in σ²
	varJ   float64 // ΣVar(J), in σ²
	varOld float64 // ΣW²: variance of J from closed runs, in σ²
}

// Reset forgets the readings.
func (f *PumpDownFit) Reset() {
	*f = PumpDownFit{
		RestNoiseKPa: f.RestNoiseKPa, StepKPa: f.StepKPa,
		SurroundingsKPa: f.SurroundingsKPa, TightKPa: f.TightKPa,
	}
}

// base is what the pressure is measured from in the integral.
func (f *PumpDownFit) base() float64 {
	if f.SurroundingsKPa > 0 {
		return f.TightKPa
	}
	return f.p0
}

// psi is the flow of a leak at pressure p as a share of the choked flow, and its slope per kPa.
func (f *PumpDownFit) psi(pKPa float64) (share, slope float64) {
	if !(f.SurroundingsKPa > 0) {
		return 1, 0
	}
	return relativeFlow(pKPa / f.SurroundingsKPa), relativeFlowSlope(pKPa/f.SurroundingsKPa) / f.SurroundingsKPa
}

// N is the number of readings added.
func (f *PumpDownFit) N() int { return f.n }

// Add takes the next reading: time in s on any clock, pressure in kPa absolute. A reading that is not
// finite, or not later than the one before, is passed over.
func (f *PumpDownFit) Add(tS, pKPa float64) {
	if math.IsNaN(tS-pKPa) || math.IsInf(tS-pKPa, 0) || f.n > 0 && tS <= f.t {
		return
	}
	f.step.Add(pKPa)
	if f.n == 0 {
		f.t0, f.p0, f.t, f.p = tS, pKPa, tS, pKPa
		f.run.p = pKPa
		f.flow, _ = f.psi(pKPa)
		f.mark.t = tS
	}
	h := tS - f.t
	half := (f.h + h) / 2 // weight in later integrals of the reading before
	if pKPa != f.run.p && math.Abs(pKPa-f.run.p) >= f.StepKPa/4 {
		f.sums.close(&f.run, half)
		f.run = run{p: pKPa}
	} else if f.n > 0 {
		f.run.weight += half
	}
	flow, _ := f.psi(pKPa)
	f.now.leak += h * (f.flow + flow) / 2
	f.now.area += h * ((f.p+pKPa)/2 - f.base())
	f.sumH += h
	f.cube += h * h * h
	f.t, f.p, f.h, f.flow = tS, pKPa, h, flow
	if f.SurroundingsKPa > 0 && !f.mark.choked {
		f.mark = mark{tS, f.now, flow == 1}
	}
	f.n++
	f.run.m++
	f.run.x[0]++
	f.run.t += tS - f.t0
	f.run.x[1] += f.now.leak
	f.run.x[2] += f.now.area
	f.run.y += pKPa - f.p0
	f.run.inside += f.run.weight + h/2
}

// close adds a run as a row; last is the weight of its last reading in all later integrals.
func (s *sums) close(r *run, last float64) {
	x := [3]float64{1, r.x[1] / r.m, r.x[2] / r.m}
	y, kappa, w := r.y/r.m, r.inside/r.m, r.weight+last
	var n [3]float64
	for i := range 3 {
		s.x[i] += x[i]
		n[i] = w*s.x[i] - kappa*x[i]
	}
	for i := range 3 {
		for j := range 3 {
			s.xx[i][j] += x[i] * x[j]
			s.xn[i][j] += x[i] * n[j]
			s.nn[i][j] += n[i] * n[j]
		}
		s.xy[i] += x[i] * y
		s.wx[i] += w * x[i]
		s.wn[i] += w * n[i]
	}
	t := r.t / r.m
	s.t += t
	s.tt += t * t
	s.ty += t * y
	s.yy += y * y
	s.rows++
	s.w += w
	s.ww += w * w
	s.kappa += kappa
	s.varJ += s.varOld + kappa*kappa
	s.varOld += w * w
}

// influence is the covariance of Σ x·(y − x·β) in units of σ², for the slope a.
func (s *sums) influence(a float64) (out [3][3]float64) {
	t := &s.x
	for i := range 3 {
		for j := range 3 {
			out[i][j] = s.xx[i][j] +
				a*(s.xn[i][j]+s.xn[j][i]-s.wx[i]*t[j]-s.wx[j]*t[i]) +
				a*a*(s.nn[i][j]-s.wn[i]*t[j]-s.wn[j]*t[i]+s.ww*t[i]*t[j])
		}
	}
	return out
}

// residual is Σ (y − x·β)².
func (s *sums) residual(beta [3]float64) float64 {
	r := s.yy
	for i := range 3 {
		r -= 2 * beta[i] * s.xy[i]
		for j := range 3 {
			r += beta[i] * beta[j] * s.xx[i][j]
		}
	}
	return r
}

// Decay returns the fit so far. ErrTooFew: fewer than 5 readings. ErrNotIdentifiable: see there;
// the forecast holds all the same.
func (f *PumpDownFit) Decay() (Decay, error) {
	if f.n < 5 {
		return Decay{}, ErrTooFew
	}
	s := f.sums
	s.close(&f.run, 0) // the latest error is in no later integral
	if s.rows < 5 {
		return f.line(&s)
	}
	var (
		beta     [3]float64 // c, q, a; in the plain form q is b less a·p0
		inverse  [3][3]float64
		score    [3][3]float64
		variance float64
		widen    float64
	)
	for range 3 { // the noise decides the correction, the residuals decide the noise
		g, r := s.xx, s.xy
		g[2][2] -= variance * s.varJ
		r[2] -= variance * s.kappa
		var ok bool
		if inverse, ok = invertSymmetric(g); !ok {
			return f.line(&s)
		}
		beta = apply(inverse, r)
		a := beta[2]
		score = s.influence(a)
		// E[Σu²] = σ²·(Σ(1 − 2a·κ + a²·Var J) − tr(G⁻¹·S)).
		free := s.rows - 2*a*s.kappa + a*a*s.varJ - traceProduct(inverse, score)
		if !(free > 0.5) {
			return f.line(&s)
		}
		variance, widen = f.noise(s.residual(beta), free)
	}
	c, q, a := beta[0], beta[1], beta[2]
	// The trapezoids under an exponential are its integral times a constant. So p∞ = −q/a is exact for
	// even sampling, and the rate k follows from −a = (2/h)·tanh(h·k/2).
	h := math.Sqrt(f.cube / f.sumH)
	half := -a * h / 2
	if math.Abs(half) > 0.95 { // readings further apart than 3.6 τ
		return f.line(&s)
	}
	stretch := 1.0
	if half != 0 {
		stretch = math.Atanh(half) / half
	}
	// fall = −(a·(start − base) + q·ψ(p∞)), as if the leak flowed as it will at the end.
	share, slope, endQ, endA := 1.0, 0.0, 0.0, 0.0
	if f.SurroundingsKPa > 0 && a < 0 {
		share, slope = f.psi(f.leakEnd(q, a))
		hold := 1 + q*slope/a
		endQ, endA = -share/a/hold, q*share/(a*a)/hold
	}
	at := f.mark.at
	over := f.p0 - f.base() + c + q*at.leak + a*at.area
	d := Decay{
		OriginS: f.mark.t, StartKPa: f.base() + over, FallKPaPerS: -(a*over + q*share) * stretch, RatePerS: -a * stretch,
		NoiseKPa: math.Sqrt(variance), N: f.n, LastS: f.t,
	}
	// Gradients of (start, fall, rate) over (c, q, a).
	d.Cov = sandwich([3][3]float64{
		{1, at.leak, at.area},
		{-a * stretch, -(a*at.leak + share + q*slope*endQ) * stretch, -(over + a*at.area + q*slope*endA) * stretch},
		{0, 0, -1 / (1 - half*half)},
	}, sandwich(inverse, score))
	for i := range 3 {
		for j := range 3 {
			d.Cov[i][j] *= variance * widen
		}
	}
	d.Cov[0][0] += roundingVariance(f.gaugeStep())
	if !d.finite() {
		return f.line(&s)
	}
	return d, d.level()
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
		if share, _ := f.psi(mid); mid-f.TightKPa+q/a*share < 0 {
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

func (f *PumpDownFit) gaugeStep() float64 {
	if f.StepKPa > 0 {
		return f.StepKPa
	}
	return f.step.Step()
}
