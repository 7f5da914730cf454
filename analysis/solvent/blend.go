package solvent

import "math"

// blend is a mixture with its substances found and its mole fractions computed; on the stack.
type blend struct {
	n    int
	part [MaxParts]*data
	mole [MaxParts]float64 // mole fractions in the liquid, sum 1
	perL float64           // mol in one litre of the blend at 20 °C
}

// resolve finds the substances. Volumes are taken to add up on mixing, and are scaled to sum to 1.
func (m Mixture) resolve() (b blend, ok bool) {
	if len(m.Parts) == 0 || len(m.Parts) > MaxParts {
		return b, false
	}
	var volume, moles float64
	for i := range m.Parts {
		d := m.Parts[i].Own.data
		if d == nil {
			if d = published().find(m.Parts[i].Name); d == nil {
				return b, false
			}
		}
		f := m.Parts[i].Fraction
		if !(f >= 0) || math.IsInf(f, 1) {
			return b, false
		}
		b.part[i] = d
		b.mole[i] = f * d.rho20 / d.molarMass // mol/L
		volume += f
		moles += b.mole[i]
	}
	if !(moles > 0) {
		return b, false
	}
	for i := range m.Parts {
		b.mole[i] /= moles
	}
	b.n, b.perL = len(m.Parts), moles/volume
	return b, true
}

// lnBubble is the logarithm of the bubble pressure in Pa, its derivative over 1/T, and whether every part
// is within its range.
func (b *blend) lnBubble(k float64) (lnPa, slope float64, ok bool) {
	ok = true
	if b.n == 1 {
		k, ok = b.part[0].psat.supercooled(k)
		lnPa, slope = b.part[0].psat.lnPsat(k)
		return lnPa, slope, ok
	}
	var sum, weighted float64
	for i := range b.n {
		ki, in := b.part[i].psat.supercooled(k)
		ok = ok && in
		l, s := b.part[i].psat.lnPsat(ki)
		p := b.mole[i] * math.Exp(l)
		sum += p
		if in {
			weighted += p * s
		}
	}
	return math.Log(sum), weighted / sum, ok
}

// lnDew is the logarithm of the dew pressure of vapour with the blend's composition: 1/p = Σ yᵢ/pᵢ(T).
func (b *blend) lnDew(k float64) (lnPa, slope float64, ok bool) {
	ok = true
	var sum, weighted float64
	for i := range b.n {
		ki, in := b.part[i].psat.supercooled(k)
		ok = ok && in
		l, s := b.part[i].psat.lnPsat(ki)
		q := b.mole[i] * math.Exp(-l)
		sum += q
		if in {
			weighted += q * s
		}
	}
	return -math.Log(sum), weighted / sum, ok
}

// rangeK is where every part has a liquid.
func (b *blend) rangeK() (low, high float64) {
	low, high = b.part[0].psat.minK, b.part[0].psat.maxK
	for _, d := range b.part[1:b.n] {
		// A part that would be frozen alone stays dissolved, so it may be supercooled.
		low = max(low, d.psat.minK-SupercooledK)
		high = min(high, d.psat.maxK)
	}
	if b.n > 1 {
		low = max(low, b.part[0].psat.minK-SupercooledK)
	}
	return low, high
}

// lnWet is the logarithm of the pressure of the blend lying on water that does not mix with it: each boils
// as if alone, and the pressures add.
func (b *blend) lnWet(k float64) (lnPa, slope float64, ok bool) {
	lnB, slopeB, ok := b.lnBubble(k)
	ki, in := water().psat.supercooled(k)
	lnW, slopeW := water().psat.lnPsat(ki)
	pb, pw := math.Exp(lnB), math.Exp(lnW)
	return math.Log(pb + pw), (pb*slopeB + pw*slopeW) / (pb + pw), ok && in
}

// line is one of the pressures of a blend as a function of temperature.
type line uint8

const (
	bubble line = iota
	dew
	wet
)

func (b *blend) ln(l line, k float64) (lnPa, slope float64, ok bool) {
	switch l {
	case dew:
		return b.lnDew(k)
	case wet:
		return b.lnWet(k)
	}
	return b.lnBubble(k)
}

// solve finds the temperature at which the line is at lnPa.
func (b *blend) solve(lnPa float64, l line) (k float64, ok bool) {
	lowK, highK := b.rangeK()
	if l == wet {
		lowK, highK = max(lowK, water().psat.minK), min(highK, water().psat.maxK)
	}
	atLow, _, _ := b.ln(l, lowK)
	atHigh, _, _ := b.ln(l, highK)
	switch {
	case lnPa < atLow:
		return lowK, false
	case lnPa > atHigh:
		return highK, false
	}
	return bracket{lowK, highK, atLow, atHigh}.solve(lnPa, func(k float64) (float64, float64) {
		v, slope, _ := b.ln(l, k)
		return v, slope
	}), true
}
