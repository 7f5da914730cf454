package physics

import "math"

// restWeight is how many readings the noise of a gauge at rest counts as.
const restWeight = 10

// noiseVariance is the variance of one reading, from the sum of squares of the residuals of a fit and the
// number of readings free in it, together with the noise at rest, if known: never less than what rounding
// to the steps of a coarse gauge alone gives, step²/12.
//
// The estimate is itself uncertain when few readings are free, and a normal distribution with it would be
// too narrow: widen is the factor by which Student's distribution has the larger variance, ν/(ν − 2).
func noiseVariance(rss, free, restKPa, stepKPa float64) (variance, widen float64) {
	rss = max(rss, 0)
	if restKPa > 0 {
		rss += restWeight * restKPa * restKPa
		free += restWeight
	}
	return max(rss/free, stepKPa*stepKPa/12), free / max(free-2, free/3)
}

// roundingVariance is the part of the rounding to steps of a coarse gauge that does not average out,
// however many readings there are: near a level pressure they fall on one or two steps, and their mean is
// off by a share of a step that no statistics shows. A twelfth of a step covers what simulated gauges
// with 0.05 and 0.3 kPa of noise on steps of 1.7 kPa were off (see TestPumpDownFitHonest).
func roundingVariance(stepKPa float64) float64 { return stepKPa * stepKPa / 144 }

// roughness is the part of the residuals of a fit that the noise of the gauge at rest does not explain, as a root
// mean square: χ² over the number of readings free in it has a standard deviation of √(2/free), and three of
// those are left to chance.
func roughness(rss, free, restKPa, stepKPa float64) float64 {
	rest := max(restKPa*restKPa, stepKPa*stepKPa/12)
	if !(rest > 0 && free > 0) {
		return 0
	}
	return math.Sqrt(max(0, rss/free-rest*(1+3*math.Sqrt(2/free))))
}
