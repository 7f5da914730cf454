package physics

import (
	"math"
	"slices"
)

// Median returns the median of the values; ok is false without any. NaN is passed over. The slice is not
// changed.
func Median(values []float64) (median float64, ok bool) {
	s := sorted(values)
	if len(s) == 0 {
		return 0, false
	}
	return middle(s), true
}

func sorted(values []float64) []float64 {
	s := make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) {
			s = append(s, v)
		}
	}
	slices.Sort(s)
	return s
}

func middle(s []float64) float64 {
	n := len(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return s[n/2-1]/2 + s[n/2]/2
}

// madScale makes the median absolute deviation of normal values their standard deviation: 1/Φ⁻¹(3/4)
// (Hampel, J. Am. Stat. Assoc. 69 (1974) 383).
const madScale = 1.4826022185056018

// MAD returns the median and the scaled median absolute deviation, which for normal values estimates the
// standard deviation and which up to half of the values cannot spoil. ok is false without values; one
// value has a deviation of 0.
func MAD(values []float64) (median, sd float64, ok bool) {
	s := sorted(values)
	if len(s) == 0 {
		return 0, 0, false
	}
	median = middle(s)
	for i := range s {
		s[i] = math.Abs(s[i] - median)
	}
	slices.Sort(s)
	return median, madScale * middle(s), true
}

// Trend is a robust line through points: the slope of Theil and Sen with its confidence interval.
type Trend struct {
	Slope     float64
	Intercept float64 // median of y − Slope·x
	Low, High float64 // interval of the slope
	N         int
}

// TheilSen fits a line whose slope is the median of the slopes between all pairs of points, so that up to
// 29 % of the points may be anything. The interval has the given confidence (0.9, say), from Kendall's S.
// Points with NaN are passed over; ErrSingular without two different x. It takes n²/2 slopes, so it is for
// runs, not for scans.
//
// Sen, J. Am. Stat. Assoc. 63 (1968) 1379; interval by his section 3 with the normal approximation and the
// variance for ties in x.
func TheilSen(x, y []float64, confidence float64) (Trend, error) {
	if len(x) != len(y) {
		return Trend{}, ErrSingular
	}
	var slopes []float64
	var xs, rest []float64
	for i := range x {
		if math.IsNaN(x[i] + y[i]) {
			continue
		}
		xs = append(xs, x[i])
		for j := range i {
			if dx := x[i] - x[j]; dx != 0 && !math.IsNaN(y[j]+x[j]) {
				slopes = append(slopes, (y[i]-y[j])/dx)
			}
		}
	}
	if len(slopes) == 0 {
		return Trend{}, ErrSingular
	}
	slices.Sort(slopes)
	t := Trend{Slope: middle(slopes), N: len(xs)}
	for i := range x {
		if !math.IsNaN(x[i] + y[i]) {
			rest = append(rest, y[i]-t.Slope*x[i])
		}
	}
	slices.Sort(rest)
	t.Intercept = middle(rest)

	n := float64(len(xs))
	variance := n * (n - 1) * (2*n + 5)
	slices.Sort(xs)
	for i := 0; i < len(xs); {
		j := i
		for j < len(xs) && xs[j] == xs[i] {
			j++
		}
		u := float64(j - i)
		variance -= u * (u - 1) * (2*u + 5)
		i = j
	}
	z := math.Sqrt2 * math.Erfinv(min(max(confidence, 0), 1))
	c := z * math.Sqrt(max(variance, 0)/18)
	m := float64(len(slopes))
	t.Low = ranked(slopes, (m-c)/2)
	t.High = ranked(slopes, (m+c)/2+1)
	return t, nil
}

// ranked is the value of a (fractional) rank counted from 1 in sorted values, held inside them.
func ranked(s []float64, rank float64) float64 {
	rank = min(max(rank, 1), float64(len(s)))
	if math.IsNaN(rank) {
		return s[0]
	}
	i := int(rank)
	f := rank - float64(i)
	if i >= len(s) {
		return s[len(s)-1]
	}
	return s[i-1]*(1-f) + s[i]*f
}
