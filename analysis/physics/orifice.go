package physics

import "math"

// Air as the texts on leaks take it: ideal gas, γ = 1.4, M = 28.9647 g/mol.
const (
	airGamma     = 1.4
	airGPerMol   = 28.9647
	criticalAir  = 0.5282817877171742 // (2/(γ+1))^(γ/(γ−1)), γ = 1.4
	chokedFactor = 0.6847314563772704 // √γ·(2/(γ+1))^((γ+1)/(2(γ−1))), γ = 1.4
	fullConeMM2  = math.Pi / 4 * 1e-6 // m² per mm² of diameter squared
	pvToMbarLS   = 10                 // 1 Pa·m³/s = 10 mbar·L/s
)

// SharpEdgeCd is the discharge coefficient to use for a hole of unknown shape. From memory, not looked
// up: texts give 0.6 to 0.85 for a sharp edge (rising with the pressure ratio) and about 1 for a
// well-rounded one; 0.7 is the middle, good to about a fifth of the area or a tenth of the diameter.
const SharpEdgeCd = 0.7

// Hole is a round hole through which air of the surroundings leaks into the still.
type Hole struct {
	DiameterMM float64 // mm
	Cd         float64 // discharge coefficient: 1 for an ideal nozzle, SharpEdgeCd for a hole of unknown shape
}

// FlowMbarLS returns the air passing the hole from outsideKPa to insideKPa (both absolute), as a pV flow
// in mbar·L/s at the temperature outsideC. Zero when the inside is not below the outside.
//
// Isentropic flow of an ideal gas (any gas-dynamics text, e.g. ISO 9300 for the choked case):
// choked, p/p0 ≤ (2/(γ+1))^(γ/(γ−1)):  q = Cd·A·p0·√(R·T0/M)·√γ·(2/(γ+1))^((γ+1)/(2(γ−1)));
// below that the last two factors become √(2γ/(γ−1)·(r^(2/γ) − r^((γ+1)/γ))), r = p/p0.
func (h Hole) FlowMbarLS(insideKPa, outsideKPa, outsideC float64) float64 {
	if !(h.DiameterMM > 0 && h.Cd > 0) {
		return 0
	}
	area := h.DiameterMM * h.DiameterMM * fullConeMM2
	return h.Cd * area * flowPerAreaMbarLS(insideKPa, outsideKPa, outsideC)
}

// HoleForLeak returns the diameter in mm of the round hole with discharge coefficient cd that passes the
// leak (mbar·L/s at outsideC) from outsideKPa to insideKPa. ok is false when nothing can flow that way.
func HoleForLeak(leakMbarLS, insideKPa, outsideKPa, outsideC, cd float64) (mm float64, ok bool) {
	per := flowPerAreaMbarLS(insideKPa, outsideKPa, outsideC)
	if !(per > 0 && cd > 0 && leakMbarLS >= 0) {
		return 0, false
	}
	return math.Sqrt(leakMbarLS / (cd * per * fullConeMM2)), true
}

// flowPerAreaMbarLS is the flow through one square metre with Cd = 1.
func flowPerAreaMbarLS(insideKPa, outsideKPa, outsideC float64) float64 {
	k := outsideC + ZeroCelsiusK
	if !(outsideKPa > 0 && insideKPa < outsideKPa && k > 0) {
		return 0
	}
	speed := math.Sqrt(GasConstant * k / (airGPerMol / 1000)) // √(R·T0/M), m/s
	return outsideKPa * 1000 * speed * FlowFactor(insideKPa/outsideKPa) * pvToMbarLS
}

// FlowFactor is the dimensionless flow ψ(r) of air at the pressure ratio r = inside/outside: constant
// while the flow is choked (r ≤ 0.528), falling to 0 at r = 1.
func FlowFactor(r float64) float64 {
	switch {
	case r <= criticalAir:
		return chokedFactor
	case r >= 1:
		return 0
	}
	const g = airGamma
	return math.Sqrt(2 * g / (g - 1) * (math.Pow(r, 2/g) - math.Pow(r, (g+1)/g)))
}

// relativeFlow is the flow of air at the pressure ratio r as a share of the choked flow.
func relativeFlow(r float64) float64 {
	if r <= criticalAir {
		return 1
	}
	return FlowFactor(r) / chokedFactor
}

// relativeFlowSlope is the derivative of relativeFlow.
func relativeFlowSlope(r float64) float64 {
	if r <= criticalAir || r >= 1 {
		return 0
	}
	const g = airGamma
	f := math.Pow(r, 2/g) - math.Pow(r, (g+1)/g)
	df := 2/g*math.Pow(r, 2/g-1) - (g+1)/g*math.Pow(r, 1/g)
	return relativeFlow(r) * df / (2 * f)
}

// CriticalRatio is the pressure ratio below which the flow of air through a hole is choked: it no longer
// grows as the pressure inside falls.
const CriticalRatio = criticalAir
