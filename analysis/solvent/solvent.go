// Package solvent holds property data of the solvents people distil and computes from them what the
// analysis needs: vapour pressure, boiling temperature at any pressure, heat of vaporisation, heat
// capacity, density, the bubble point of blends, and the hazards to name.
//
// The idea: one table of published coefficients (data/solvents.tsv, sources in data/README.md), one
// function per published equation, and blends by ideal mixing.
//
// The invariant: a figure is never invented. Outside the range of its published fit a property is the
// figure at the nearest end of the range, returned with ok == false; the only extension is the vapour
// pressure of a liquid cooled below its freezing point, down to 20 K. Nothing returns NaN for a number.
//
// The data are for monitoring and estimating, not for setting safe limits. The supplier's safety data
// sheet, the maker's manual and local code govern.
package solvent

import "math"

// SupercooledK is how far below the range of the fit (mostly the freezing point) VaporPressureKPa
// follows its equation: enough for a vapour floor in a cold shop; the solid's own pressure is lower.
const SupercooledK = 20

// Solvent is one substance: from the table by Find, or made by NewCustom. The zero value is unknown.
// It is small and may be copied; it never changes.
type Solvent struct{ *data }

// Known reports whether this is a substance at all.
func (s Solvent) Known() bool { return s.data != nil }

// Name is the name in the table, or the one given to NewCustom.
func (s Solvent) Name() string {
	if s.data == nil {
		return "unknown"
	}
	return s.name
}

// Abbreviations are the other names the table lists.
func (s Solvent) Abbreviations() []string {
	if s.data == nil {
		return nil
	}
	return append([]string(nil), s.abbreviations...)
}

// CAS is the registry number; empty for a custom solvent.
func (s Solvent) CAS() string {
	if s.data == nil {
		return ""
	}
	return s.cas
}

// Note is the table's remark on the substance, or empty.
func (s Solvent) Note() string {
	if s.data == nil {
		return ""
	}
	return s.note
}

// Equal reports whether two solvents are the same substance.
func (s Solvent) Equal(o Solvent) bool {
	return s.data == o.data || s.data != nil && o.data != nil && sameData(s.data, o.data)
}

// MolarMassGMol is in g/mol; 0 if not known.
func (s Solvent) MolarMassGMol() float64 {
	if s.data == nil {
		return 0
	}
	return s.molarMass
}

// RangeC is the range of the vapour pressure fit, °C: mostly from the freezing point to the critical one.
func (s Solvent) RangeC() (low, high float64) {
	if s.data == nil {
		return 0, 0
	}
	return s.psat.minK - zeroCelsiusK, s.psat.maxK - zeroCelsiusK
}

// VaporPressureKPa is the pressure in kPa absolute at which the pure liquid boils at tC. ok is false, and
// the figure that of the nearest end, above the range of the fit or more than SupercooledK below it.
func (s Solvent) VaporPressureKPa(tC float64) (kPa float64, ok bool) {
	if s.data == nil {
		return 0, false
	}
	k, ok := s.psat.supercooled(tC + zeroCelsiusK)
	lnPa, _ := s.psat.lnPsat(k)
	return math.Exp(lnPa) / 1000, ok
}

// supercooled is within for a range that begins SupercooledK lower.
func (e *equation) supercooled(k float64) (clamped float64, ok bool) {
	if low := e.minK - SupercooledK; !(k >= low) {
		return low, false
	}
	if k > e.maxK {
		return e.maxK, false
	}
	return k, true
}

// BoilingC is the temperature in °C at which the pure liquid boils at pKPa absolute. ok is false, and the
// figure that of the nearest end, where the fit has no liquid at that pressure: below the freezing point
// or above the critical one.
func (s Solvent) BoilingC(pKPa float64) (tC float64, ok bool) {
	if s.data == nil || !(pKPa > 0) {
		return 0, false
	}
	k, ok := s.boilingK(math.Log(pKPa * 1000))
	return k - zeroCelsiusK, ok
}

// boilingK solves ln psat(T) = lnPa.
func (d *data) boilingK(lnPa float64) (k float64, ok bool) {
	switch {
	case lnPa < d.lnLow:
		return d.psat.minK, false
	case lnPa > d.lnHigh:
		return d.psat.maxK, false
	}
	span := bracket{d.psat.minK, d.psat.maxK, d.lnLow, d.lnHigh}
	return span.solve(lnPa, func(k float64) (float64, float64) { return d.psat.lnPsat(k) }), true
}

// bracket is a range of temperature and the logarithms of the pressure at its ends.
type bracket struct{ lowK, highK, lnLow, lnHigh float64 }

// solve finds the temperature at which f, a rising logarithm of pressure with its derivative over 1/T, is
// lnPa, by Newton's method on 1/T, in which it is nearly straight; a step out of the bracket is halved.
func (b bracket) solve(lnPa float64, f func(k float64) (ln, slope float64)) (k float64) {
	low, high := 1/b.highK, 1/b.lowK
	u := low + (high-low)*(b.lnHigh-lnPa)/(b.lnHigh-b.lnLow)
	for range 60 {
		v, slope := f(1 / u)
		v -= lnPa
		if v > 0 {
			low = u // too hot: 1/T must grow
		} else {
			high = u
		}
		next := u - v/slope
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-u) <= 1e-13*u {
			return 1 / next
		}
		u = next
	}
	return 1 / u
}

// HeatOfVaporizationKJPerKg is the heat in kJ/kg that boils off the pure liquid at tC.
func (s Solvent) HeatOfVaporizationKJPerKg(tC float64) (kJPerKg float64, ok bool) {
	if s.data == nil {
		return 0, false
	}
	k, ok := s.hvap.within(tC + zeroCelsiusK)
	return s.hvap.heatOfVaporization(k) / s.molarMass, ok
}

// HeatCapacityKJPerKgK is that of the liquid at tC, kJ/(kg·K). For a few substances the published range
// ends below the boiling point; expect some per cent there.
func (s Solvent) HeatCapacityKJPerKgK(tC float64) (kJPerKgK float64, ok bool) {
	if s.data == nil {
		return 0, false
	}
	k, ok := s.cp.within(tC + zeroCelsiusK)
	if s.cp.form == const298 || s.cp.form == constantProperty {
		ok = true // one figure is all there is, at every temperature
	}
	return s.cp.heatCapacity(k) / s.molarMass, ok
}

// DensityKgPerL is that of the liquid at tC, kg/L.
func (s Solvent) DensityKgPerL(tC float64) (kgPerL float64, ok bool) {
	if s.data == nil {
		return 0, false
	}
	k, ok := s.rho.within(tC + zeroCelsiusK)
	if s.rho.form == constantProperty {
		ok = true
	}
	return s.rho.density(k, s.molarMass) / 1000, ok
}

// Sources names where each property comes from.
func (s Solvent) Sources() map[string]string {
	if s.data == nil {
		return nil
	}
	return map[string]string{
		"vapour pressure": s.psat.source, "heat of vaporisation": s.hvap.source,
		"heat capacity": s.cp.source, "density": s.rho.source,
	}
}
