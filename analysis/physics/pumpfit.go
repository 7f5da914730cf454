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
// A reading equal to its predecessors on a coarse gauge is hardly new information: the n-th equal
// reading in a row counts 1/n.
//
// The zero value is ready for the first reading.
type PumpDownFit struct {
	n         int
	t0, p0    float64 // first reading: origin of the sums
	t, p      float64 // latest reading
	h         float64 // latest interval
	area      float64 // J = ∫(p − p0) dt by trapezoids, kPa·s
	equal     float64 // readings equal to the latest one, in a row
	sumH2, sH float64 // Σh³, Σh: mean square interval, weighted by time

	// Weighted sums over readings of x = (1, t, J) and y = p − p0.
	xx  [3][3]float64
	xy  [3]float64
	yy  float64
	sum [3]float64 // C: Σ v·x

	// Influence of each reading's noise on Σ v·x·u is s = v·x + a·(n − W·T), T the final sum; see influence.
	vxx, vxn, nn [3][3]float64
	wx, wn       [3]float64
	ww           float64

	pendX [3]float64 // v·x of the latest reading, whose weight in later integrals is not yet known
	pendH float64    // its interval back

	noiseJ  float64 // Σ v·Var(J)/σ²
	noiseYJ float64 // Σ v·Cov(J, y)/σ²
	varOld  float64 // Σ_{j<latest} W²: variance of the closed part of the integral, in σ²
	vSum    float64
	vH      float64
}

// Reset forgets everything.
func (f *PumpDownFit) Reset() { *f = PumpDownFit{} }

// N is the number of readings added.
func (f *PumpDownFit) N() int { return f.n }

// Add takes the next reading: time in s on any clock, pressure in kPa absolute. A reading that is not
// finite, or not later than the one before, is passed over.
func (f *PumpDownFit) Add(tS, pKPa float64) {
	if math.IsNaN(tS-pKPa) || math.IsInf(tS-pKPa, 0) {
		return
	}
	if f.n == 0 {
		f.t0, f.p0, f.t, f.p, f.equal = tS, pKPa, tS, pKPa, 1
		f.take(0)
		return
	}
	h := tS - f.t
	if h <= 0 {
		return
	}
	f.settle(f.pendH/2 + h/2)
	f.area += h * ((f.p - f.p0) + (pKPa - f.p0)) / 2
	f.sumH2 += h * h * h
	f.sH += h
	if pKPa == f.p {
		f.equal++
	} else {
		f.equal = 1
	}
	f.t, f.p = tS, pKPa
	f.take(h)
}

// take adds the latest reading, h seconds after the one before, to the sums.
func (f *PumpDownFit) take(h float64) {
	v := 1 / f.equal
	x := [3]float64{1, f.t - f.t0, f.area}
	y := f.p - f.p0
	for i := range 3 {
		for j := range 3 {
			f.xx[i][j] += v * x[i] * x[j]
			f.vxx[i][j] += v * v * x[i] * x[j]
		}
		f.xy[i] += v * x[i] * y
		f.sum[i] += v * x[i]
		f.pendX[i] = v * x[i]
	}
	f.yy += v * y * y
	f.pendH = h
	f.noiseJ += v * (f.varOld + h*h/4)
	f.noiseYJ += v * h / 2
	f.vSum += v
	f.vH += v * h
	f.n++
}

// settle closes the account of the latest reading once its weight w in all later integrals is known.
func (f *PumpDownFit) settle(w float64) {
	var n [3]float64
	for i := range 3 {
		n[i] = w*f.sum[i] - f.pendH/2*f.pendX[i]
	}
	for i := range 3 {
		for j := range 3 {
			f.vxn[i][j] += f.pendX[i] * n[j]
			f.nn[i][j] += n[i] * n[j]
		}
		f.wx[i] += w * f.pendX[i]
		f.wn[i] += w * n[i]
	}
	f.ww += w * w
	f.varOld += w * w
}

// influence is Σ s·sᵀ, the covariance of the score in units of σ², for the slope a. The noise e_j of one
// reading enters the score Σ v·x·(e − a·∫e) with the factor
// s_j = v_j·x_j − a·(h_j/2·v_j·x_j + W_j·(T − C_j)), C_j the sum up to j, T over all.
func (f *PumpDownFit) influence(a float64) (s [3][3]float64) {
	last := *f
	last.settle(0) // the latest reading is in no later integral
	t := last.sum
	for i := range 3 {
		for j := range 3 {
			s[i][j] = last.vxx[i][j] +
				a*(last.vxn[i][j]+last.vxn[j][i]-last.wx[i]*t[j]-last.wx[j]*t[i]) +
				a*a*(last.nn[i][j]-last.wn[i]*t[j]-last.wn[j]*t[i]+last.ww*t[i]*t[j])
		}
	}
	return s
}

// Decay returns the fit so far. ErrTooFew: fewer than 5 readings. ErrNotIdentifiable: no falling
// exponential describes them (yet), as with a pressure that stays where it is.
func (f *PumpDownFit) Decay() (Decay, error) {
	if f.n < 5 || f.vSum < 4 {
		return Decay{}, ErrTooFew
	}
	var (
		beta     [3]float64
		inverse  [3][3]float64
		score    [3][3]float64
		variance float64
	)
	for range 3 { // the noise decides the correction, the residuals decide the noise
		g, r := f.xx, f.xy
		g[2][2] -= variance * f.noiseJ
		r[2] -= variance * f.noiseYJ
		var ok bool
		if inverse, ok = invertSymmetric(g); !ok {
			return Decay{}, ErrNotIdentifiable
		}
		beta = apply(inverse, r)
		a := beta[2]
		score = f.influence(a)
		// E[Σ v·u²] = σ²·(Σ v·(1 − a·h + a²·Var J) − tr(G⁻¹·S)).
		free := f.vSum - a*f.vH + a*a*f.noiseJ - traceProduct(inverse, score)
		if !(free > 0.5) {
			return Decay{}, ErrNotIdentifiable
		}
		variance = max(f.residual(beta), 0) / free
	}
	a, b := beta[2], beta[1]
	if !(a < 0) {
		return Decay{}, ErrNotIdentifiable
	}
	// The trapezoids of an exponential are its integral times a constant, so p∞ is exact for even
	// sampling, and τ follows from −a = (2/h)·tanh(h/2τ).
	h := math.Sqrt(f.sumH2 / f.sH)
	half := -a * h / 2
	if half >= 0.95 {
		return Decay{}, ErrNotIdentifiable // readings further apart than 3.6 τ
	}
	tau := -1 / a
	if h > 0 {
		tau = h / (2 * math.Atanh(half))
	}
	end := f.p0 - b/a
	start := f.p0 + beta[0]
	d := Decay{
		EndKPa: end, TauS: tau, AmplitudeKPa: start - end, OriginS: f.t0,
		NoiseKPa: math.Sqrt(variance), N: f.n, LastS: f.t,
	}
	// Gradients of (p∞, ln τ, A) over (c, b, a).
	jac := [3][3]float64{
		{0, -1 / a, b / (a * a)},
		{0, 0, -1 / a},
		{1, 1 / a, -b / (a * a)},
	}
	cov := sandwich(inverse, score)
	for i := range 3 {
		for j := range 3 {
			cov[i][j] *= variance
		}
	}
	d.Cov = sandwich(jac, cov)
	if !d.finite() {
		return Decay{}, ErrNotIdentifiable
	}
	return d, nil
}

// residual is Σ v·(y − x·β)².
func (f *PumpDownFit) residual(beta [3]float64) float64 {
	r := f.yy
	for i := range 3 {
		r -= 2 * beta[i] * f.xy[i]
		for j := range 3 {
			r += beta[i] * beta[j] * f.xx[i][j]
		}
	}
	return r
}

func (d Decay) finite() bool {
	s := d.EndKPa + d.TauS + d.AmplitudeKPa + d.NoiseKPa
	for i := range 3 {
		for j := range 3 {
			s += d.Cov[i][j]
		}
	}
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}
