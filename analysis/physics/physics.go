// Package physics holds the primitives the analysis is made of: the atmosphere, pump-down and leak
// formulae, flow through a hole, fits with honest uncertainties, robust statistics and control charts.
//
// The idea: each equation is written once, with its source beside it, and tested against a number that
// somebody else published.
//
// The invariant: everything here is pure arithmetic. Nothing reads a clock, keeps a slice it was given,
// or returns NaN for finite input in the stated range; what cannot be computed is said with ok == false
// or an error.
//
// Units are in the names: KPa (absolute unless it says otherwise), MbarLS (mbar·L/s), S (seconds),
// L (litres), C (degrees Celsius), M (metres), MM (millimetres).
package physics

// GasConstant is the molar gas constant R in J/(mol·K): exact since the SI of 2019 (CODATA 2018).
const GasConstant = 8.314462618

// ZeroCelsiusK is 0 °C in kelvin, exact by definition.
const ZeroCelsiusK = 273.15

// AtmosphereKPa is the standard atmosphere, 101.325 kPa, exact by definition.
const AtmosphereKPa = 101.325

// mbarPerKPa and the like are definitions: 1 bar = 100 kPa exactly.
const mbarPerKPa = 10
