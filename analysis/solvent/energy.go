package solvent

import "math"

// litresPerGal is the US gallon, 231 in³, exactly.
const litresPerGal = 3.785411784

// kJPerKWh is exact.
const kJPerKWh = 3600

// MinimumEnergyKWhPerGal is the least heat that distils one US gallon (measured at 20 °C) of the mixture:
// warming the liquid from fromC to its boiling point at pKPa absolute, and evaporating it there; no losses,
// no residue, no vacuum pump.
//
//	E = Σ nᵢ·(∫ cpᵢ dT + Hvapᵢ(T))      T = BubbleC(p), nᵢ mol of part i in a gallon
//
// A charge hotter than its boiling point counts as being at it. For a blend the later, heavier vapour
// leaves somewhat hotter, which costs a few per cent more, so the figure stays a minimum. Beyond the
// range of a heat capacity its value at the end of the range is used. ok is false where BubbleC is.
func (m Mixture) MinimumEnergyKWhPerGal(fromC, pKPa float64) (kWhPerGal float64, ok bool) {
	sensible, latent, ok := m.HeatKJPerL(fromC, pKPa)
	return (sensible + latent) * litresPerGal / kJPerKWh, ok
}

// HeatKJPerL is the heat that one litre of the mixture (measured at 20 °C) takes: to warm from fromC to
// its boiling point at pKPa absolute (sensible), and to evaporate there (latent), both in kJ/L.
func (m Mixture) HeatKJPerL(fromC, pKPa float64) (sensible, latent float64, ok bool) {
	b, ok := m.resolve()
	if !ok || math.IsNaN(fromC) {
		return 0, 0, false
	}
	tC, ok := m.BubbleC(pKPa)
	k := tC + zeroCelsiusK
	for i, d := range b.part[:b.n] {
		n := b.mole[i] * b.perL / 1000 // kmol/L… times J/mol gives kJ/L
		at, _ := d.hvap.within(k)
		latent += n * d.hvap.heatOfVaporization(at)
		if fromC < tC {
			sensible += n * d.enthalpy(fromC+zeroCelsiusK, k)
		}
	}
	return sensible, latent, ok
}

// HeatOfVaporizationKJPerKg is the heat in kJ/kg that evaporates the whole blend at tC.
func (m Mixture) HeatOfVaporizationKJPerKg(tC float64) (kJPerKg float64, ok bool) {
	return m.perKg(tC, func(d *data, k float64) (float64, bool) {
		k, ok := d.hvap.within(k)
		return d.hvap.heatOfVaporization(k), ok
	})
}

// HeatCapacityKJPerKgK is that of the liquid blend at tC, kJ/(kg·K).
func (m Mixture) HeatCapacityKJPerKgK(tC float64) (kJPerKgK float64, ok bool) {
	return m.perKg(tC, func(d *data, k float64) (float64, bool) {
		k, ok := d.cp.within(k)
		return d.cp.heatCapacity(k), ok || d.cp.form == const298 || d.cp.form == constantProperty
	})
}

// perKg averages a molar property (J/mol) over the blend and gives it per kg (kJ).
func (m Mixture) perKg(tC float64, molar func(*data, float64) (float64, bool)) (float64, bool) {
	b, ok := m.resolve()
	if !ok {
		return 0, false
	}
	var joules, grams float64
	for i, d := range b.part[:b.n] {
		v, in := molar(d, tC+zeroCelsiusK)
		joules += b.mole[i] * v
		grams += b.mole[i] * d.molarMass
		ok = ok && in
	}
	return joules / grams, ok
}

// Nodes and weights of five-point Gauss–Legendre quadrature (Abramowitz and Stegun, table 25.4): exact
// for polynomials up to degree 9, so for every heat capacity here but DIPPR114, which has a pole at the
// critical point; four panels serve that to 1e-5.
var gauss5 = [5][2]float64{
	{0, 0.568888888888889},
	{-0.538469310105683, 0.478628670499366}, {0.538469310105683, 0.478628670499366},
	{-0.906179845938664, 0.236926885056189}, {0.906179845938664, 0.236926885056189},
}

// enthalpy is ∫ cp dT of the liquid in J/mol; outside the range of cp the value at its end is held.
func (d *data) enthalpy(fromK, toK float64) float64 {
	e := &d.cp
	if e.form == const298 || e.form == constantProperty {
		return e.heatCapacity(0) * (toK - fromK)
	}
	lowK, highK := min(max(fromK, e.minK), e.maxK), min(max(toK, e.minK), e.maxK)
	sum := e.heatCapacity(e.minK)*(min(toK, e.minK)-min(fromK, e.minK)) +
		e.heatCapacity(e.maxK)*(max(toK, e.maxK)-max(fromK, e.maxK))
	panels := 1
	if e.form == dippr114 {
		panels = 4
	}
	half := (highK - lowK) / 2 / float64(panels)
	for i := range panels {
		mid := lowK + half*float64(2*i+1)
		for _, g := range gauss5 {
			sum += g[1] * half * e.heatCapacity(mid+half*g[0])
		}
	}
	return sum
}
