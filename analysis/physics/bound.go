package physics

import "math"

// Pumping is a pump-down as its gauge sees it: what decides how soon anybody can know where it ends.
type Pumping struct {
	StartKPa float64 // pressure at the first reading, kPa absolute
	EndKPa   float64 // pressure it levels off at, kPa absolute
	TauS     float64 // time constant, s
	NoiseKPa float64 // standard deviation of one reading, kPa
	EveryS   float64 // time between readings, s
}

// EndSDBoundKPa is the Cramér–Rao bound after the given number of readings (the first at time 0): no
// unbiased estimate of the end pressure from them, with end, amplitude and time constant all unknown, has
// a smaller standard deviation (kPa). ok is false while the readings do not determine it at all.
//
// Cramér, Mathematical Methods of Statistics (1946), ch. 32; the Fisher information of independent normal
// errors is Σ g·gᵀ/σ², g the gradient of the curve.
func (p Pumping) EndSDBoundKPa(readings int) (sd float64, ok bool) {
	var m [3][3]float64
	for i := range readings {
		p.inform(&m, float64(i)*p.EveryS)
	}
	return p.bound(m)
}

// inform adds a reading at time t to the information on (p∞, A, ln τ), in units of 1/σ².
func (p Pumping) inform(m *[3][3]float64, t float64) {
	x := t / p.TauS
	e := math.Exp(-x)
	g := [3]float64{1, e, (p.StartKPa - p.EndKPa) * x * e}
	for i := range 3 {
		for j := range 3 {
			m[i][j] += g[i] * g[j]
		}
	}
}

func (p Pumping) bound(m [3][3]float64) (float64, bool) {
	inv, ok := invertSymmetric(m)
	if !ok || !(inv[0][0] > 0) {
		return 0, false
	}
	return p.NoiseKPa * math.Sqrt(inv[0][0]), true
}

// LeastTimeS is the least time in s in which the readings can show that the pump-down will end above
// targetKPa: the number of readings times their distance, for the smallest number with which sds standard deviations of the bound are
// smaller than EndKPa − targetKPa. 1.645 standard deviations are one chance in twenty. ok is false if it takes more
// than 100 time constants, or the end is not above the target.
func (p Pumping) LeastTimeS(targetKPa, sds float64) (seconds float64, ok bool) {
	margin := p.EndKPa - targetKPa
	if !(margin > 0 && p.EveryS > 0 && p.TauS > 0) {
		return 0, false
	}
	var m [3][3]float64
	for t := 0.0; t <= 100*p.TauS; t += p.EveryS {
		p.inform(&m, t)
		if sd, ok := p.bound(m); ok && sds*sd < margin {
			return t + p.EveryS, true
		}
	}
	return 0, false
}
