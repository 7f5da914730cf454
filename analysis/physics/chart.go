package physics

import "math"

// EWMA is an exponentially weighted moving average with its control limits.
//
// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: z ← λ·x + (1 − λ)·z, limits
// z0 ± k·s·√(λ/(2 − λ)) for a chart that has run for long.
type EWMA struct {
	Center float64 // z0: what is expected
	SD     float64 // s: of one value
	Lambda float64 // weight of the newest value, 0 < λ ≤ 1; zero means 0.2
	K      float64 // width of the limits in standard deviations; zero means 3

	z float64
	n int
}

func (e *EWMA) lambda() float64 {
	if e.Lambda == 0 {
		return 0.2
	}
	return e.Lambda
}

// Add takes the next value and returns the average. NaN is passed over.
func (e *EWMA) Add(x float64) float64 {
	if e.n == 0 {
		e.z = e.Center
	}
	if !math.IsNaN(x) {
		e.n++
		e.z += e.lambda() * (x - e.z)
	}
	return e.z
}

// Value is the present average: Center before the first value.
func (e *EWMA) Value() float64 {
	if e.n == 0 {
		return e.Center
	}
	return e.z
}

// Limits are the control limits of a chart that has run for long.
func (e *EWMA) Limits() (low, high float64) {
	k := e.K
	if k == 0 {
		k = 3
	}
	l := e.lambda()
	w := k * e.SD * math.Sqrt(l/(2-l))
	return e.Center - w, e.Center + w
}

// Signal reports whether the average is outside its limits.
func (e *EWMA) Signal() bool {
	low, high := e.Limits()
	return e.Value() < low || e.Value() > high
}

// CUSUM is a tabular cumulative sum of deviations from a target.
//
// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: High ← max(0, High + x − Target − K),
// Low ← max(0, Low + Target − K − x); a signal when either passes H.
type CUSUM struct {
	Target float64
	K      float64 // allowance, in the unit of the values: half of the shift to be found
	H      float64 // decision limit, in the unit of the values: 4 to 5 standard deviations

	High, Low float64 // the two sums
	Sum       float64 // plain sum of x − Target
	HighRun   int     // values since High was last 0: when the shift began
	LowRun    int     // values since Low was last 0
	N         int
}

// Add takes the next value. NaN is passed over.
func (c *CUSUM) Add(x float64) {
	if math.IsNaN(x) {
		return
	}
	c.N++
	c.Sum += x - c.Target
	c.High, c.HighRun = fold(c.High+x-c.Target-c.K, c.HighRun)
	c.Low, c.LowRun = fold(c.Low+c.Target-c.K-x, c.LowRun)
}

func fold(sum float64, run int) (float64, int) {
	if sum <= 0 {
		return 0, 0
	}
	return sum, run + 1
}

// Signal is +1 when the values have shifted up, −1 down, 0 not (shown).
func (c *CUSUM) Signal() int {
	switch {
	case c.High > c.H:
		return 1
	case c.Low > c.H:
		return -1
	}
	return 0
}
