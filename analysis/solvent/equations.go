package solvent

import "math"

// gasConstant is the molar gas constant in J/(mol·K), exact since the SI of 2019.
const gasConstant = 8.314462618

// zeroCelsiusK is 0 °C in kelvin.
const zeroCelsiusK = 273.15

// form names the shape of an equation, by the number its publisher gave it.
type form uint8

const (
	none form = iota
	dippr101
	wagner25
	dippr106
	ppds12
	dippr100
	dippr114
	const298
	dippr105
	ppds116
	antoine          // custom solvents: log10 of the pressure
	clausius         // custom solvents: boiling point and heat of vaporisation
	heatOfAntoine    // heat of vaporisation from the slope of an Antoine equation
	watson           // custom solvents: heat of vaporisation away from the boiling point
	constantProperty // custom solvents: one figure at all temperatures
)

var formNames = map[string]form{
	"DIPPR101": dippr101, "WAGNER25": wagner25, "DIPPR106": dippr106, "PPDS12": ppds12, "DIPPR100": dippr100,
	"DIPPR114": dippr114, "CONST298": const298, "DIPPR105": dippr105, "PPDS116": ppds116,
}

// equation is one property of one substance as a function of temperature.
type equation struct {
	form       form
	c          [5]float64
	tc         float64 // critical temperature, K
	pc         float64 // critical pressure of the fit, Pa (WAGNER25)
	minK, maxK float64 // range of the published fit
	source     string
}

// within brings a temperature into the range of the fit, and says whether it was there.
func (e *equation) within(k float64) (clamped float64, ok bool) {
	switch {
	case k < e.minK:
		return e.minK, false
	case k > e.maxK:
		return e.maxK, false
	case k != k:
		return e.minK, false
	}
	return k, true
}

// lnPsat is the natural logarithm of the vapour pressure in Pa, and its derivative over 1/T (K).
//
// DIPPR101 (Perry's Chemical Engineers' Handbook, 8th ed., table 2-8): ln p = c1 + c2/T + c3·ln T + c4·T^c5.
// WAGNER25 (VDI Heat Atlas, 2nd ed., D3.1): ln(p/pc) = (Tc/T)·(c1·τ + c2·τ^1.5 + c3·τ^2.5 + c4·τ^5), τ = 1 − T/Tc.
func (e *equation) lnPsat(k float64) (lnPa, slope float64) {
	c := &e.c
	switch e.form {
	case dippr101:
		power := c[3] * integerPower(k, c[4])
		lnPa = c[0] + c[1]/k + c[2]*math.Log(k) + power
		// d/d(1/T) = −T²·d/dT
		return lnPa, c[1] - c[2]*k - c[4]*power*k
	case wagner25:
		tau := max(1-k/e.tc, 0)
		root := math.Sqrt(tau)
		sum := tau * (c[0] + root*c[1] + tau*root*c[2] + tau*tau*tau*tau*c[3])
		dSum := c[0] + 1.5*root*c[1] + 2.5*tau*root*c[2] + 5*tau*tau*tau*tau*c[3]
		// u = 1/T: d(ln p)/du = Tc·sum + Tc·u·dSum·dτ/du, dτ/du = T²/Tc
		return math.Log(e.pc) + e.tc/k*sum, e.tc*sum + dSum*k
	case antoine: // c: A, B, C of log10(p/unit) = A − B/(C + t), unit in Pa, t in °C
		d := c[2] + k - zeroCelsiusK
		return math.Ln10*(c[0]-c[1]/d) + math.Log(c[3]), -math.Ln10 * c[1] / (d * d) * k * k
	case clausius: // c: Hb/(z·R) in K, Tb in K, slope of H: H = Hb·(1 + s·(1 − T/Tb))
		h, tb, s := c[0], c[1], c[2]
		lnPa = math.Log(101325) + h*((1+s)*(1/tb-1/k)-s/tb*math.Log(k/tb))
		return lnPa, -h * (1 + s - s*k/tb)
	}
	return math.Inf(-1), 0
}

// integerPower is k^n; the tables use 2 and 6 only, which need no call of Pow.
func integerPower(k, n float64) float64 {
	switch n {
	case 2:
		return k * k
	case 6:
		c := k * k * k
		return c * c
	}
	return math.Pow(k, n)
}

// heatOfVaporization is in J/mol.
//
// DIPPR106 (Perry 8e, table 2-150): c1·(1−Tr)^(c2 + c3·Tr + c4·Tr²).
// PPDS12 (VDI 2e, D3.1): R·Tc·(c1·τ^(1/3) + c2·τ^(2/3) + c3·τ + c4·τ² + c5·τ^6).
func (e *equation) heatOfVaporization(k float64) float64 {
	c := &e.c
	tr := k / e.tc
	tau := max(1-tr, 0)
	switch e.form {
	case dippr106:
		if tau == 0 {
			return 0
		}
		return c[0] * math.Pow(tau, c[1]+tr*(c[2]+tr*c[3]))
	case ppds12:
		third := math.Cbrt(tau)
		t2 := tau * tau
		return gasConstant * e.tc * (c[0]*third + c[1]*third*third + c[2]*tau + c[3]*t2 + c[4]*t2*t2*t2)
	case watson: // c: Hb in J/mol, Tb in K, slope
		return c[0] * (1 + c[2]*(1-k/c[1]))
	case heatOfAntoine: // Clausius–Clapeyron with an ideal vapour: H = R·T²·d(ln p)/dT
		d := c[2] + k - zeroCelsiusK
		return gasConstant * math.Ln10 * c[1] * (k / d) * (k / d)
	}
	return math.NaN()
}

// heatCapacity of the liquid is in J/(mol·K); the published figures are per kmol.
//
// DIPPR100 and DIPPR114 (Perry 8e, table 2-153). CONST298: the value at 25 °C at all temperatures (CRC 95e).
func (e *equation) heatCapacity(k float64) float64 {
	c := &e.c
	switch e.form {
	case dippr100:
		return (c[0] + k*(c[1]+k*(c[2]+k*(c[3]+k*c[4])))) / 1000
	case dippr114:
		t := 1 - k/e.tc
		t2 := t * t
		return (c[0]*c[0]/t + c[1] - 2*c[0]*c[2]*t - c[0]*c[3]*t2 - c[2]*c[2]*t2*t/3 -
			c[2]*c[3]*t2*t2/2 - c[3]*c[3]*t2*t2*t/5) / 1000
	case const298, constantProperty:
		return c[0] / 1000
	}
	return math.NaN()
}

// density of the liquid is in kg/m³.
//
// DIPPR105 (Perry 8e): c1/c2^(1 + (1 − T/c3)^c4) in mol/m³. PPDS116 (VDI 2e, D3.1):
// c0 + c1·τ^0.35 + c2·τ^(2/3) + c3·τ + c4·τ^(4/3).
func (e *equation) density(k, molarMass float64) float64 {
	c := &e.c
	switch e.form {
	case dippr105: // stored as printed: c[1]…c[4]; c[0] is empty
		return c[1] / math.Pow(c[2], 1+math.Pow(max(1-k/c[3], 0), c[4])) * molarMass / 1000
	case ppds116:
		tau := max(1-k/e.tc, 0)
		third := math.Cbrt(tau)
		return c[0] + c[1]*math.Pow(tau, 0.35) + c[2]*third*third + c[3]*tau + c[4]*tau*third
	case constantProperty:
		return c[0]
	}
	return math.NaN()
}
