package physics

import (
	"math"
	"testing"
)

var norrisX = []float64{
	0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
	556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
}

var norrisY = []float64{
	0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
	557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
}

// ST-8 … ST-12: NIST Statistical Reference Datasets, linear regression, "Norris" (36 points). The
// tolerance is 10 of the 15 certified digits.
func TestLineNorris(t *testing.T) {
	const source = "NIST StRD Norris, certified"
	l, err := FitLine(norrisX, norrisY)
	if err != nil {
		t.Fatal(err)
	}
	rows := make([][]float64, len(norrisX))
	for i, x := range norrisX {
		rows[i] = []float64{1, x}
	}
	g, err := FitLinear(rows, norrisY)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name               string
		line, linear, want float64
	}{
		{"ST-8 B0", l.Intercept, g.Coef[0], -0.262323073774029},
		{"ST-9 B1", l.Slope, g.Coef[1], 1.00211681802045},
		{"ST-10 sd of B0", l.InterceptSD, g.SD[0], 0.232818234301152},
		{"ST-10 sd of B1", l.SlopeSD, g.SD[1], 0.000429796848199937},
		{"ST-11 residual sd", l.ResidualSD, g.ResidualSD, 0.884796396144373},
		{"ST-12 R²", l.R2, g.R2, 0.999993745883712},
	} {
		near(t, tt.name+", line", tt.line, tt.want, 1e-10*math.Abs(tt.want), source)
		near(t, tt.name+", general", tt.linear, tt.want, 1e-10*math.Abs(tt.want), source)
	}
	near(t, "covariance of B0 and B1", l.Cov, g.Cov.At(0, 1), 1e-12, "the two routines")
	near(t, "sd of the line at 0", l.AtSD(0), l.InterceptSD, 1e-15, "definition")
}

// NIST StRD, linear regression, "Longley" (16 points, 7 coefficients, very nearly dependent columns;
// Longley, J. Am. Stat. Assoc. 62 (1967) 819). Data and certified figures typed from memory; that they
// agree to ten digits confirms both.
func TestLinearLongley(t *testing.T) {
	const source = "NIST StRD Longley, certified"
	y := []float64{60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761, 66019, 67857, 68169, 66513, 68655, 69564, 69331, 70551}
	columns := [][]float64{
		{83.0, 88.5, 88.2, 89.5, 96.2, 98.1, 99.0, 100.0, 101.2, 104.6, 108.4, 110.8, 112.6, 114.2, 115.7, 116.9},
		{234289, 259426, 258054, 284599, 328975, 346999, 365385, 363112, 397469, 419180, 442769, 444546, 482704, 502601, 518173, 554894},
		{2356, 2325, 3682, 3351, 2099, 1932, 1870, 3578, 2904, 2822, 2936, 4681, 3813, 3931, 4806, 4007},
		{1590, 1456, 1616, 1650, 3099, 3594, 3547, 3350, 3048, 2857, 2798, 2637, 2552, 2514, 2572, 2827},
		{107608, 108632, 109773, 110929, 112075, 113270, 115094, 116219, 117388, 118734, 120445, 121950, 123366, 125368, 127852, 130081},
	}
	rows := make([][]float64, len(y))
	for i := range y {
		rows[i] = []float64{1}
		for _, c := range columns {
			rows[i] = append(rows[i], c[i])
		}
		rows[i] = append(rows[i], float64(1947+i))
	}
	g, err := FitLinear(rows, y)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{
		-3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359, -0.511041056535807e-01, 1829.15146461355,
	} {
		near(t, "coefficient", g.Coef[i], want, 1e-9*math.Abs(want), source)
	}
	for i, want := range []float64{
		890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212,
	} {
		near(t, "sd", g.SD[i], want, 1e-9*math.Abs(want), source)
	}
	near(t, "residual sd", g.ResidualSD, 304.854073561965, 1e-8, source)
	near(t, "R²", g.R2, 0.995479004577296, 1e-12, source)
}

// EB-1 … EB-3: an energy baseline by hand (exact fractions), in the way of ISO 50006.
func TestLineBaseline(t *testing.T) {
	l, err := FitLine([]float64{4, 6, 8, 10, 12, 14}, []float64{5.0, 6.3, 7.3, 8.7, 9.8, 11.1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "EB-1 b1 (kWh/gal)", l.Slope, 106.0/175, 1e-14, "exact fraction")
	near(t, "EB-2 b0 (kWh)", l.Intercept, 2711.0/1050, 1e-13, "exact fraction")
	near(t, "EB-3 R²", l.R2, 0.998792548, 5e-10, "recomputed")
	near(t, "EB-3 s (kWh)", l.ResidualSD, 0.088101673, 5e-10, "recomputed")
	near(t, "EB-3 CV(RMSE) (%)", l.ResidualSD/(48.2/6)*100, 1.096701, 5e-7, "recomputed")
}

func TestLineWeights(t *testing.T) {
	// A weight of 2 is a point measured twice; a weight of 0 is no point.
	x, y := []float64{0, 1, 2, 3, 9}, []float64{1, 2.5, 2.9, 4.4, -50}
	twice, err := FitLine([]float64{0, 1, 1, 2, 3}, []float64{1, 2.5, 2.5, 2.9, 4.4})
	if err != nil {
		t.Fatal(err)
	}
	weighted, err := FitLineWeighted(x, y, []float64{1, 2, 1, 1, 0})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", weighted.Slope, twice.Slope, 1e-14, "a point twice")
	near(t, "intercept", weighted.Intercept, twice.Intercept, 1e-14, "a point twice")
	scaled, _ := FitLineWeighted(x, y, []float64{10, 20, 10, 10, 0})
	near(t, "slope sd", scaled.SlopeSD, weighted.SlopeSD, 1e-14, "the scale of weights does not matter")
}

func TestLineRefuses(t *testing.T) {
	for _, tt := range []struct {
		name string
		x, y []float64
	}{
		{"none", nil, nil}, {"one", []float64{1}, []float64{1}}, {"same x", []float64{3, 3, 3}, []float64{1, 2, 3}},
		{"lengths", []float64{1, 2}, []float64{1}}, {"not finite", []float64{1, math.Inf(1)}, []float64{1, 2}},
	} {
		if l, err := FitLine(tt.x, tt.y); err == nil {
			t.Errorf("%s: %+v, want an error", tt.name, l)
		}
	}
	if _, err := FitLinear([][]float64{{1, 2}, {2, 4}, {3, 6}}, []float64{1, 2, 3}); err == nil {
		t.Error("dependent columns: want an error")
	}
	if _, err := FitLinear(nil, nil); err == nil {
		t.Error("nothing: want an error")
	}
}
