package physics

import (
	"math"
	"testing"
)

// near fails unless got is within tol of want; tol is absolute. The source is printed with the failure.
func near(t *testing.T, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g ± %.2g (%s)", what, got, want, tol, source)
	}
}
