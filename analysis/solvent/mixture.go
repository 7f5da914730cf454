package solvent

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Mixture is a solvent or a blend. The zero value is an unknown solvent.
//
// Blends are ideal (Raoult's law): good for likes with likes (toluene and xylene), up to several kelvin
// off for unlikes, and wrong for pairs that form azeotropes (alcohols with hydrocarbons, most with water).
type Mixture struct {
	Parts []Part
}

// Part is one component of a blend.
type Part struct {
	Name     string  // a name from the table, or that of Own
	Fraction float64 // by volume at 20 °C; the fractions of a mixture sum to 1
	Own      Solvent // a custom solvent; zero means: look Name up in the table
}

// MaxParts is the largest number of components of a blend.
const MaxParts = 8

// Pure returns the mixture that is one substance.
func Pure(s Solvent) Mixture {
	if !s.Known() {
		return Mixture{}
	}
	return Mixture{Parts: []Part{{Name: s.Name(), Fraction: 1, Own: s}}}
}

// Known reports whether anything is known about the mixture.
func (m Mixture) Known() bool { return len(m.Parts) > 0 }

// Solvent is the substance of the part; unknown if the table does not have it.
func (p Part) Solvent() Solvent {
	if p.Own.Known() {
		return p.Own
	}
	s, _ := Find(p.Name)
	return s
}

// Check returns what is wrong with the mixture, or nil: an unknown mixture is nothing wrong.
func (m Mixture) Check() error {
	if len(m.Parts) > MaxParts {
		return fmt.Errorf("a blend of %d parts: at most %d can be computed", len(m.Parts), MaxParts)
	}
	var sum float64
	for _, p := range m.Parts {
		if !p.Own.Known() {
			if _, err := Lookup(p.Name); err != nil {
				return err
			}
		}
		if !(p.Fraction > 0 && p.Fraction <= 1) {
			return fmt.Errorf("%s: a part of %g by volume; write a number above 0 and at most 1", p.Name, p.Fraction)
		}
		sum += p.Fraction
	}
	if m.Known() && math.Abs(sum-1) > 0.005 {
		return fmt.Errorf("the parts of the blend sum to %g by volume; they must sum to 1", sum)
	}
	return nil
}

// String names the mixture: "toluene", "60 % toluene, 40 % acetone", "unknown".
func (m Mixture) String() string {
	switch len(m.Parts) {
	case 0:
		return "unknown"
	case 1:
		return m.Parts[0].Name
	}
	var b strings.Builder
	for i, p := range m.Parts {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(strconv.FormatFloat(math.Round(p.Fraction*1000)/10, 'f', -1, 64) + " % " + p.Name)
	}
	return b.String()
}

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

// MoleFractions returns the mole fraction of every part in the liquid, in the order of Parts; nil if a
// part is unknown.
func (m Mixture) MoleFractions() []float64 {
	b, ok := m.resolve()
	if !ok {
		return nil
	}
	return append([]float64(nil), b.mole[:b.n]...)
}

// DensityKgPerL is the density of the blend at 20 °C, kg/L, volumes taken to add up; ok is false if a
// part is unknown.
func (m Mixture) DensityKgPerL() (kgPerL float64, ok bool) {
	b, ok := m.resolve()
	if !ok {
		return 0, false
	}
	for i := range b.n {
		kgPerL += b.mole[i] * b.perL * b.part[i].molarMass / 1000
	}
	return kgPerL, true
}

// VaporPressureKPa is the pressure in kPa absolute at which the blend begins to boil at tC (its bubble
// pressure): Raoult's law, p = Σ xᵢ·pᵢ(T). ok as for Solvent.VaporPressureKPa, for every part; above the
// critical point of a part the part counts with its critical pressure.
func (m Mixture) VaporPressureKPa(tC float64) (kPa float64, ok bool) {
	b, ok := m.resolve()
	if !ok {
		return 0, false
	}
	lnPa, _, ok := b.lnBubble(tC + zeroCelsiusK)
	return math.Exp(lnPa) / 1000, ok
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

// solve finds the temperature at which f (lnBubble or lnDew) is lnPa, by Newton's method on 1/T.
func (b *blend) solve(lnPa float64, dew bool) (k float64, ok bool) {
	lowK, highK := b.rangeK()
	f := b.lnBubble
	if dew {
		f = b.lnDew
	}
	atLow, _, _ := f(lowK)
	atHigh, _, _ := f(highK)
	switch {
	case lnPa < atLow:
		return lowK, false
	case lnPa > atHigh:
		return highK, false
	}
	low, high := 1/highK, 1/lowK
	u := low + (high-low)*(atHigh-lnPa)/(atHigh-atLow)
	for range 60 {
		v, slope, _ := f(1 / u)
		v -= lnPa
		if v > 0 {
			low = u
		} else {
			high = u
		}
		next := u - v/slope
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-u) <= 1e-13*u {
			return 1 / next, true
		}
		u = next
	}
	return 1 / u, true
}

// BubbleC is the temperature in °C at which the blend begins to boil at pKPa absolute. ok is false, and
// the figure that of the nearest end, outside the range of the parts' data.
func (m Mixture) BubbleC(pKPa float64) (tC float64, ok bool) {
	b, ok := m.resolve()
	if !ok || !(pKPa > 0) {
		return 0, false
	}
	lnPa := math.Log(pKPa * 1000)
	if b.n == 1 {
		k, ok := b.part[0].boilingK(lnPa)
		return k - zeroCelsiusK, ok
	}
	k, ok := b.solve(lnPa, false)
	return k - zeroCelsiusK, ok
}

// BoilingC is BubbleC: where boiling begins. As light ends leave, a blend goes on to DrynessC.
func (m Mixture) BoilingC(pKPa float64) (tC float64, ok bool) { return m.BubbleC(pKPa) }

// DewC is the temperature in °C at which vapour of the blend's own composition begins to condense at pKPa
// absolute; never below BubbleC. ok as for BubbleC.
func (m Mixture) DewC(pKPa float64) (tC float64, ok bool) {
	b, ok := m.resolve()
	if !ok || !(pKPa > 0) {
		return 0, false
	}
	if b.n == 1 {
		return m.BubbleC(pKPa)
	}
	k, ok := b.solve(math.Log(pKPa*1000), true)
	return k - zeroCelsiusK, ok
}

// DrynessC is the temperature in °C towards which the boiling point of the blend climbs as it is distilled
// to dryness at pKPa absolute: the boiling point of its highest boiling part. ok as for BubbleC.
func (m Mixture) DrynessC(pKPa float64) (tC float64, ok bool) {
	b, ok := m.resolve()
	if !ok || !(pKPa > 0) {
		return 0, false
	}
	lnPa := math.Log(pKPa * 1000)
	highest := math.Inf(-1)
	for _, d := range b.part[:b.n] {
		k, in := d.boilingK(lnPa)
		highest = max(highest, k)
		ok = ok && in
	}
	return highest - zeroCelsiusK, ok
}
