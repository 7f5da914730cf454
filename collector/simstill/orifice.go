package simstill

import "math"

const (
	gasConstant  = 8.314462618 // J/(mol·K), CODATA 2018, exact
	airMolarMass = 28.9647e-3  // kg/mol, U.S. Standard Atmosphere 1976
	zeroC        = 273.15      // K
)

// Isentropic flow of an ideal gas through a hole, air with γ = 1.4: choked below the critical pressure
// ratio (2/(γ+1))^(γ/(γ-1)). Textbook gas dynamics; the numbers are checked against a published table.
const gamma = 1.4

var (
	criticalRatio = math.Pow(2/(gamma+1), gamma/(gamma-1))
	chokedFactor  = math.Sqrt(gamma) * math.Pow(2/(gamma+1), (gamma+1)/(2*(gamma-1)))
)

// laminarShare is the share of the upstream pressure below which the flow grows in proportion to the
// pressure difference, and not to its root: it keeps the slope at zero finite, as viscosity does.
const laminarShare = 2e-4

// hole is an opening to the surroundings.
type hole struct {
	areaM2 float64 // effective: opening times discharge coefficient
}

// round makes the effective area of a round hole of a diameter in mm.
func round(mm, dischargeCoefficient float64) hole {
	return hole{math.Pi / 4 * mm * mm * 1e-6 * dischargeCoefficient}
}

// throughput is the flow from a gas at up (kPa) and tempC to down (kPa), as p·V in kPa·L/s at the
// upstream temperature (1 kPa·L/s = 10 mbar·L/s = 1 W).
func (h hole) throughput(up, down, tempC, molarMass float64) float64 {
	if h.areaM2 == 0 || up <= down {
		return 0
	}
	speed := math.Sqrt(gasConstant * (tempC + zeroC) / molarMass) // m/s
	return h.areaM2 * up * 1000 * speed * flowFunction(down/up)   // m²·Pa·m/s = W
}

// flowFunction is the dimensionless mass flow at the pressure ratio r = down/up.
func flowFunction(r float64) float64 {
	if r <= criticalRatio {
		return chokedFactor
	}
	if 1-r < laminarShare {
		return laminarTop * (1 - r) / laminarShare
	}
	return unchoked(r)
}

func unchoked(r float64) float64 {
	a := math.Pow(r, 1/gamma)
	return math.Sqrt(2 * gamma / (gamma - 1) * (a*a - r*a))
}

var laminarTop = unchoked(1 - laminarShare)
