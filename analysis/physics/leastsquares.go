package physics

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrSingular: the points do not determine the coefficients (too few, or all alike).
var ErrSingular = errors.New("too few different points for this fit")

// Line is a straight line fitted by least squares.
type Line struct {
	Intercept, Slope     float64
	InterceptSD, SlopeSD float64
	Cov                  float64 // covariance of intercept and slope
	ResidualSD           float64 // √(Σ w·r²/(n − 2)); 0 with two points
	R2                   float64 // share of the (weighted) variance explained
	N                    int
}

// FitLine fits y = Intercept + Slope·x by ordinary least squares. The slices have the same length, at least
// two, and are not kept. With two points the standard deviations are 0: nothing is left to judge them by.
func FitLine(x, y []float64) (Line, error) { return FitLineWeighted(x, y, nil) }

// FitLineWeighted minimises Σ w·(y − Intercept − Slope·x)², with weights in inverse proportion to the
// variances of y; their scale does not matter. Points of weight 0 do not count; nil means equal weights.
//
// Draper and Smith, Applied Regression Analysis, 3rd ed. (1998), ch. 1 and 9; sums are taken about the
// means so that large offsets cost no digits.
func FitLineWeighted(x, y, w []float64) (Line, error) {
	if len(x) != len(y) || w != nil && len(w) != len(x) {
		return Line{}, errors.New("a line needs as many y (and weights) as x")
	}
	weight := func(i int) float64 {
		if w == nil {
			return 1
		}
		return max(w[i], 0)
	}
	var l Line
	var sum, mx, my float64
	for i := range x {
		if v := weight(i); v > 0 {
			l.N++
			sum += v
			mx += v * x[i]
			my += v * y[i]
		}
	}
	mx, my = mx/sum, my/sum
	var sxx, sxy, syy float64
	for i := range x {
		v, dx, dy := weight(i), x[i]-mx, y[i]-my
		sxx += v * dx * dx
		sxy += v * dx * dy
		syy += v * dy * dy
	}
	if l.N < 2 || !(sxx > 1e-28*sum*mx*mx) || math.IsInf(sxx, 0) {
		return Line{}, ErrSingular
	}
	l.Slope = sxy / sxx
	l.Intercept = my - l.Slope*mx
	var rss float64
	for i := range x {
		r := (y[i] - my) - l.Slope*(x[i]-mx)
		rss += weight(i) * r * r
	}
	l.R2 = 1
	if syy > 0 {
		l.R2 = 1 - rss/syy
	}
	if l.N > 2 {
		variance := rss / float64(l.N-2)
		l.ResidualSD = math.Sqrt(variance)
		l.SlopeSD = math.Sqrt(variance / sxx)
		l.InterceptSD = math.Sqrt(variance * (1/sum + mx*mx/sxx))
		l.Cov = -variance * mx / sxx
	}
	return l, nil
}

// At is the line at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// AtSD is the standard deviation of the line (not of a further point) at x.
func (l Line) AtSD(x float64) float64 {
	return math.Sqrt(max(l.InterceptSD*l.InterceptSD+2*x*l.Cov+x*x*l.SlopeSD*l.SlopeSD, 0))
}

// PredictSD is the standard deviation of a further point at x about the line.
func (l Line) PredictSD(x float64) float64 { return math.Hypot(l.AtSD(x), l.ResidualSD) }

// Regression is y = Σ Coef[j]·x[j] fitted by least squares.
type Regression struct {
	Coef       []float64
	SD         []float64 // standard deviations of the coefficients
	Cov        *mat.SymDense
	Unit       *mat.SymDense // (XᵀX)⁻¹: the covariances if every y had a standard deviation of 1
	ResidualSD float64       // √(Σr²/(n − k))
	R2         float64       // about the mean of y
	N          int
}

// FitLinear fits y by the columns of rows (write a column of ones for a constant), by ordinary least
// squares: rows[i] belongs to y[i]. Every column is scaled and the QR decomposition is used, so columns of
// very different size do no harm. With as many rows as columns the standard deviations are 0.
func FitLinear(rows [][]float64, y []float64) (Regression, error) {
	n := len(rows)
	if n != len(y) || n == 0 || len(rows[0]) == 0 || n < len(rows[0]) {
		return Regression{}, ErrSingular
	}
	k := len(rows[0])
	x := mat.NewDense(n, k, nil)
	scale := make([]float64, k)
	for _, row := range rows {
		if len(row) != k {
			return Regression{}, errors.New("every row of a regression needs the same number of columns")
		}
		for j, v := range row {
			scale[j] = max(scale[j], math.Abs(v))
		}
	}
	for i, row := range rows {
		for j, v := range row {
			if !(scale[j] > 0) || math.IsInf(scale[j], 0) {
				return Regression{}, ErrSingular
			}
			x.Set(i, j, v/scale[j])
		}
	}
	var qr mat.QR
	qr.Factorize(x)
	if c := qr.Cond(); !(c < 1e12) {
		return Regression{}, ErrSingular
	}
	b := mat.NewVecDense(k, nil)
	if err := qr.SolveVecTo(b, false, mat.NewVecDense(n, append([]float64(nil), y...))); err != nil {
		return Regression{}, ErrSingular
	}
	var mean, rss, tss float64
	for _, v := range y {
		mean += v / float64(n)
	}
	for i := range n {
		r := y[i]
		for j := range k {
			r -= x.At(i, j) * b.AtVec(j)
		}
		rss += r * r
		tss += (y[i] - mean) * (y[i] - mean)
	}
	g := Regression{Coef: make([]float64, k), SD: make([]float64, k), Cov: mat.NewSymDense(k, nil), Unit: mat.NewSymDense(k, nil), R2: 1, N: n}
	if tss > 0 {
		g.R2 = 1 - rss/tss
	}
	var variance float64
	if n > k {
		variance = rss / float64(n-k)
	}
	g.ResidualSD = math.Sqrt(variance)
	// (XᵀX)⁻¹ = R⁻¹·R⁻ᵀ.
	var r mat.Dense
	qr.RTo(&r)
	var inv mat.Dense
	if err := inv.Inverse(r.Slice(0, k, 0, k)); err != nil {
		return Regression{}, ErrSingular
	}
	for i := range k {
		g.Coef[i] = b.AtVec(i) / scale[i]
		for j := i; j < k; j++ {
			var s float64
			for m := range k {
				s += inv.At(i, m) * inv.At(j, m)
			}
			s /= scale[i] * scale[j]
			g.Unit.SetSym(i, j, s)
			g.Cov.SetSym(i, j, s*variance)
		}
		g.SD[i] = math.Sqrt(g.Cov.At(i, i))
	}
	return g, nil
}
