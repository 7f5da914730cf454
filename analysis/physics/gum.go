package physics

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Contribution is what one input adds to the uncertainty of a result.
type Contribution struct {
	U       float64 // |∂f/∂x|·u(x): standard uncertainty of the input as it shows in the result, in its unit
	Freedom float64 // degrees of freedom of u(x); zero means known exactly (infinite)
}

// Combined returns the combined standard uncertainty of a result with uncorrelated inputs and its
// effective degrees of freedom (+Inf if every contribution is known exactly or nothing is uncertain).
//
// GUM, JCGM 100:2008, eq. 10, u_c² = Σ(c·u)², and eq. G.2b (Welch–Satterthwaite), ν = u_c⁴/Σ((c·u)⁴/ν).
func Combined(inputs ...Contribution) (u, freedom float64) {
	var sum, fourth float64
	for _, c := range inputs {
		v := c.U * c.U
		sum += v
		if c.Freedom > 0 {
			fourth += v * v / c.Freedom
		}
	}
	if fourth == 0 {
		return math.Sqrt(sum), math.Inf(1)
	}
	return math.Sqrt(sum), sum * sum / fourth
}

// RectangularU is the standard uncertainty of a value known to lie anywhere within ±half of the given one:
// half/√3 (GUM 4.3.7). A reading of a scale with a step has half = step/2.
func RectangularU(half float64) float64 { return math.Abs(half) / math.Sqrt(3) }

// TriangularU is that of a value within ±half that is more likely in the middle: half/√6 (GUM 4.3.9).
func TriangularU(half float64) float64 { return math.Abs(half) / math.Sqrt(6) }

// CoverageFactor is the factor k for which a result ± k·u covers the true value with the given probability
// (0.95, say; 0 < probability < 1), by Student's distribution with the degrees of freedom (> 0; +Inf is the
// normal distribution). GUM G.3; the GUM cuts the degrees of freedom to a whole number first.
func CoverageFactor(probability, freedom float64) float64 {
	if freedom > 1e6 {
		return distuv.UnitNormal.Quantile(0.5 + probability/2)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.5 + probability/2)
}
