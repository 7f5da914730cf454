package physics

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
