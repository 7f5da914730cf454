package physics

import (
	"errors"
	"math"
)

// Decay is a fitted pump-down p(t) = EndKPa + AmplitudeKPa·e^(−t/TauS), t in seconds on the clock of the
// samples that were added, with what is known about its uncertainty.
type Decay struct {
	EndKPa       float64 // pressure it levels off at, kPa absolute
	TauS         float64 // time constant, s
	AmplitudeKPa float64 // at t = OriginS
	OriginS      float64 // time the amplitude refers to, s

	// Cov is the covariance of (EndKPa, ln TauS, AmplitudeKPa). The logarithm is used because the
	// estimate of τ is skewed and that of ln τ is nearly normal.
	Cov [3][3]float64

	NoiseKPa float64 // standard deviation of one reading about the curve, kPa
	N        int     // readings used
	LastS    float64 // time of the latest reading, s
}

// Errors of the fits.
var (
	// ErrTooFew: not enough readings yet, or no time passed between them.
	ErrTooFew = errors.New("too few readings for a pump-down fit")
	// ErrNotIdentifiable: the readings do not curve enough to tell where they level off.
	ErrNotIdentifiable = errors.New("the readings do not yet show where the pressure levels off")
)

// At is the fitted pressure at time t (s), kPa absolute.
func (d Decay) At(tS float64) float64 {
	return d.EndKPa + d.AmplitudeKPa*math.Exp(-(tS-d.OriginS)/d.TauS)
}

// AtSD is the standard deviation of the fitted curve (not of a reading) at time t, kPa: the covariance
// propagated to first order.
func (d Decay) AtSD(tS float64) float64 {
	x := (tS - d.OriginS) / d.TauS
	e := math.Exp(-x)
	g := [3]float64{1, d.AmplitudeKPa * x * e, e}
	return math.Sqrt(max(quadratic(d.Cov, g), 0))
}

// EndSDKPa is the standard deviation of EndKPa, kPa.
func (d Decay) EndSDKPa() float64 { return math.Sqrt(max(d.Cov[0][0], 0)) }

// TauSDS is the standard deviation of TauS, s.
func (d Decay) TauSDS() float64 { return d.TauS * math.Sqrt(max(d.Cov[1][1], 0)) }

// TimeTo is when the fitted curve comes to pKPa, s on the clock of the samples; ok is false if never.
func (d Decay) TimeTo(pKPa float64) (tS float64, ok bool) {
	dt, ok := decayTime(d.EndKPa+d.AmplitudeKPa, d.EndKPa, d.TauS, pKPa)
	return d.OriginS + dt, ok
}

// ChanceBelow is the probability that the curve is at or below targetKPa at deadlineS, and so has reached
// it by then: a falling exponential is lowest at the end. The uncertainty of the fit alone is counted,
// with ln τ and the two linear parameters taken as normal; a later fault or repair is not foreseen.
func (d Decay) ChanceBelow(targetKPa, deadlineS float64) float64 {
	// Given ln τ the curve is linear in its other parameters, so the forecast is normal there; mix over
	// ln τ on a grid of ±4 standard deviations. Within a cell of the grid the forecast moves by step·sd;
	// that movement counts as a uniform spread, or the mixture would be a staircase.
	const cells, reach = 32, 4.0
	const step = 2 * reach / cells
	sdLog := math.Sqrt(max(d.Cov[1][1], 0))
	var chance, total float64
	for i := range cells {
		u := -reach + (float64(i)+0.5)*step
		mean, sd := d.given(u*sdLog, deadlineS)
		ahead, _ := d.given((u+step/2)*sdLog, deadlineS)
		behind, _ := d.given((u-step/2)*sdLog, deadlineS)
		spread := (ahead - behind) / math.Sqrt(12)
		w := math.Exp(-u * u / 2)
		chance += w * normalBelow(targetKPa-mean, math.Hypot(sd, spread))
		total += w
	}
	return min(max(chance/total, 0), 1)
}

// given is the forecast for time t and its standard deviation if ln τ were off by dl: the normal
// distribution of the other two parameters, conditional on it.
func (d Decay) given(dl, tS float64) (meanKPa, sdKPa float64) {
	end, amp := d.EndKPa, d.AmplitudeKPa
	vEnd, vAmp, cov := d.Cov[0][0], d.Cov[2][2], d.Cov[0][2]
	if v := d.Cov[1][1]; v > 0 {
		end += d.Cov[0][1] / v * dl
		amp += d.Cov[1][2] / v * dl
		vEnd -= d.Cov[0][1] * d.Cov[0][1] / v
		vAmp -= d.Cov[1][2] * d.Cov[1][2] / v
		cov -= d.Cov[0][1] * d.Cov[1][2] / v
	}
	e := math.Exp(-(tS - d.OriginS) / (d.TauS * math.Exp(dl)))
	return end + amp*e, math.Sqrt(max(vEnd+2*e*cov+e*e*vAmp, 0))
}

// normalBelow is the probability that a normal variable of mean 0 and standard deviation sd is below x.
func normalBelow(x, sd float64) float64 {
	if !(sd > 0) {
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
