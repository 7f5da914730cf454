package physics

import "math"

// Three unknowns are all a pump-down has; 3×3 arrays live on the stack and cost no allocation.

// invertSymmetric inverts a symmetric positive definite matrix by Cholesky factors of the matrix scaled
// to a unit diagonal; ok is false if it is singular to working precision.
func invertSymmetric(m [3][3]float64) (inv [3][3]float64, ok bool) {
	var scale [3]float64
	for i := range 3 {
		if !(m[i][i] > 0) || math.IsInf(m[i][i], 0) {
			return inv, false
		}
		scale[i] = 1 / math.Sqrt(m[i][i])
	}
	var l [3][3]float64
	for i := range 3 {
		for j := 0; j <= i; j++ {
			s := m[i][j] * scale[i] * scale[j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > 1e-13) {
				return inv, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	for c := range 3 {
		var y, x [3]float64
		for i := range 3 {
			if i == c {
				y[i] = 1
			}
			for k := range i {
				y[i] -= l[i][k] * y[k]
			}
			y[i] /= l[i][i]
		}
		for i := 2; i >= 0; i-- {
			x[i] = y[i]
			for k := i + 1; k < 3; k++ {
				x[i] -= l[k][i] * x[k]
			}
			x[i] /= l[i][i]
		}
		for i := range 3 {
			inv[i][c] = x[i] * scale[i] * scale[c]
		}
	}
	return inv, true
}

func apply(m [3][3]float64, v [3]float64) (out [3]float64) {
	for i := range 3 {
		for j := range 3 {
			out[i] += m[i][j] * v[j]
		}
	}
	return out
}

func multiply(a, b [3][3]float64) (out [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return out
}

// sandwich is m·s·mᵀ.
func sandwich(m, s [3][3]float64) [3][3]float64 {
	var t [3][3]float64
	for i := range 3 {
		for j := range 3 {
			t[i][j] = m[j][i]
		}
	}
	return multiply(multiply(m, s), t)
}

// traceProduct is the trace of a·b.
func traceProduct(a, b [3][3]float64) (t float64) {
	for i := range 3 {
		for j := range 3 {
			t += a[i][j] * b[j][i]
		}
	}
	return t
}
