package physics

import (
	"errors"
	"math"
)

// Decay is a fitted pump-down, p(t) = EndKPa + AmplitudeKPa·e^(−(t − OriginS)/TauS), with what is known
// about its uncertainty. Times are in s on the clock of the readings, pressures in kPa absolute.
//
// Inside it is held as p(t) = start − fall·(1 − e^(−rate·t))/rate: the pressure and the speed of its fall
// at the origin, and the rate 1/τ. Those three are what early readings determine, with nearly normal
// errors; p∞ = start − fall/rate and τ are not, and go to infinity as the curve tends to a straight line.
type Decay struct {
	EndKPa       float64 // pressure it levels off at
	TauS         float64 // time constant
	AmplitudeKPa float64 // what it still has to fall at the origin
	OriginS      float64 // the first reading

	StartKPa    float64 // pressure at the origin
	FallKPaPerS float64 // speed of its fall there, kPa/s
	RatePerS    float64 // 1/τ; not positive if the readings do not curve as a pump-down does

	// Cov is the covariance of (StartKPa, FallKPaPerS, RatePerS).
	Cov [3][3]float64

	NoiseKPa float64 // standard deviation of one reading about the curve
	RoughKPa float64 // part of it that the gauge's scatter at rest does not explain; 0 if that is not known
	N        int     // readings used
	LastS    float64 // time of the latest reading
}

// Errors of the fits.
var (
	// ErrTooFew: not enough readings yet. The Decay returned with it is empty.
	ErrTooFew = errors.New("too few readings for a pump-down fit")
	// ErrNotIdentifiable: the readings do not curve enough to tell where they level off. The Decay
	// returned with it has no EndKPa, TauS and AmplitudeKPa, but its forecast, At, AtSD and ChanceBelow,
	// holds, with the uncertainty that a nearly straight line has.
	ErrNotIdentifiable = errors.New("the readings do not yet show where the pressure levels off")
)

// identifiable is how many of its standard deviations the rate must be above zero for a fit to have an
// end pressure.
const identifiable = 2

// level fills in p∞, τ and A from the other three, or returns ErrNotIdentifiable.
func (d *Decay) level() error {
	if k := d.RatePerS; !(k > 0 && k > identifiable*math.Sqrt(max(d.Cov[2][2], 0))) {
		return ErrNotIdentifiable
	}
	d.TauS = 1 / d.RatePerS
	d.AmplitudeKPa = d.FallKPaPerS / d.RatePerS
	d.EndKPa = d.StartKPa - d.AmplitudeKPa
	return nil
}

// bend is (1 − e^(−k·t))/k, which is t for a straight line, and its derivative over k. For an infinite t
// it is 1/k.
func bend(k, t float64) (phi, dPhi float64) {
	x := k * t
	if math.Abs(x) < 1e-4 {
		return t * (1 - x/2 + x*x/6), t * t * (-0.5 + x/3)
	}
	if math.IsInf(t, 1) {
		return 1 / k, -1 / (k * k)
	}
	phi = -math.Expm1(-x) / k
	return phi, (t*math.Exp(-x) - phi) / k
}

// At is the fitted pressure at time t, kPa absolute.
func (d Decay) At(tS float64) float64 {
	phi, _ := bend(d.RatePerS, tS-d.OriginS)
	return d.StartKPa - d.FallKPaPerS*phi
}

// AtSD is the standard deviation of the fitted curve (not of a reading) at time t, kPa: the covariance
// propagated to first order.
func (d Decay) AtSD(tS float64) float64 {
	phi, dPhi := bend(d.RatePerS, tS-d.OriginS)
	return math.Sqrt(max(quadratic(d.Cov, [3]float64{1, -phi, -d.FallKPaPerS * dPhi}), 0))
}

// EndSDKPa is the standard deviation of EndKPa to first order; 0 if there is no end.
func (d Decay) EndSDKPa() float64 {
	if d.TauS == 0 {
		return 0
	}
	k := d.RatePerS
	return math.Sqrt(max(quadratic(d.Cov, [3]float64{1, -1 / k, d.FallKPaPerS / (k * k)}), 0))
}

// TauSDS is the standard deviation of TauS to first order, s; 0 if there is no end.
func (d Decay) TauSDS() float64 {
	return math.Sqrt(max(d.Cov[2][2], 0)) * d.TauS * d.TauS
}

// TimeTo is when the fitted curve comes to pKPa, s on the clock of the readings; ok is false if never.
func (d Decay) TimeTo(pKPa float64) (tS float64, ok bool) {
	if d.TauS == 0 {
		dt := (d.StartKPa - pKPa) / d.FallKPaPerS // the straight line: no later than it
		return d.OriginS + dt, d.N > 0 && dt >= 0 && !math.IsInf(dt, 0)
	}
	dt, ok := decayTime(d.StartKPa, d.EndKPa, d.TauS, pKPa)
	return d.OriginS + dt, ok
}

// slowestRate is that of the slowest pump-down worth the name, τ = 1000 s (common practice, no source).
const slowestRate = 1e-3

// ChanceBelow is the probability that the curve is at or below targetKPa at deadlineS, and so has reached
// it by then: a falling exponential is lowest at the end. deadlineS may be +Inf: the chance that it ever
// does. The uncertainty of the fit alone is counted, with start, fall and rate taken as normal and the
// rate as not negative, for a pump-down never falls ever faster; a later fault or repair is not foreseen.
// An empty Decay, which says nothing against it, gives 1.
func (d Decay) ChanceBelow(targetKPa, deadlineS float64) float64 {
	if d.N == 0 {
		return 1
	}
	// Given the rate the curve is linear in the other two, so the forecast is normal there; mix over the
	// rate on a grid out to 4 standard deviations. Within a cell of the grid the forecast moves; that
	// counts as a uniform spread, or the mixture would be a staircase.
	const cells, reach = 24, 4.0
	t := deadlineS - d.OriginS
	sdRate := math.Sqrt(max(d.Cov[2][2], 0))
	low, high := max(-reach*sdRate, -d.RatePerS), reach*sdRate
	if low >= high { // known, or surely negative
		mean, sd := d.given(max(d.RatePerS, 0), t)
		return normalBelow(targetKPa-mean, sd)
	}
	step := (high - low) / cells
	before, _ := d.given(d.RatePerS+low, t)
	mean, sd := d.given(d.RatePerS+low+step/2, t)
	var chance, total float64
	for i := range cells {
		u := low + (float64(i)+0.5)*step
		next, nextSD := d.given(d.RatePerS+u+step, t)
		spread := (next - before) / 2 / math.Sqrt(12)
		if i == 0 {
			spread *= 4. / 3 // from the edge of the grid, one and a half cells
		}
		if math.IsNaN(spread) || math.IsInf(spread, 0) {
			spread = 0
		}
		w := math.Exp(-u*u/(2*sdRate*sdRate)) / max(d.RatePerS+u, slowestRate)
		chance += w * normalBelow(targetKPa-mean, math.Hypot(sd, spread))
		total += w
		before, mean, sd = mean, next, nextSD
	}
	return min(max(chance/total, 0), 1)
}

// given is the forecast t seconds after the origin, and its standard deviation, if the rate were k: the
// normal distribution of start and fall, conditional on it.
func (d Decay) given(k, t float64) (meanKPa, sdKPa float64) {
	start, fall := d.StartKPa, d.FallKPaPerS
	vStart, vFall, cov := d.Cov[0][0], d.Cov[1][1], d.Cov[0][1]
	if v := d.Cov[2][2]; v > 0 {
		dk := k - d.RatePerS
		start += d.Cov[0][2] / v * dk
		fall += d.Cov[1][2] / v * dk
		vStart -= d.Cov[0][2] * d.Cov[0][2] / v
		vFall -= d.Cov[1][2] * d.Cov[1][2] / v
		cov -= d.Cov[0][2] * d.Cov[1][2] / v
	}
	phi := t
	if k > 0 {
		phi, _ = bend(k, t)
	}
	if math.IsInf(phi, 1) { // a straight line for ever
		if fall == 0 {
			return start, 0
		}
		return math.Copysign(math.Inf(1), -fall), 0
	}
	return start - fall*phi, math.Sqrt(max(vStart-2*phi*cov+phi*phi*vFall, 0))
}

// normalBelow is the probability that a normal variable of mean 0 and standard deviation sd is below x.
func normalBelow(x, sd float64) float64 {
	if !(sd > 0) || math.IsInf(x, 0) {
		if x >= 0 {
			return 1
		}
		return 0
	}
	return 0.5 * math.Erfc(-x/(sd*math.Sqrt2))
}

func quadratic(m [3][3]float64, g [3]float64) float64 {
	var s float64
	for i := range 3 {
		for j := range 3 {
			s += g[i] * m[i][j] * g[j]
		}
	}
	return s
}
