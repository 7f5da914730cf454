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
		return fmt.Errorf("the parts of the blend sum to %.4g by volume; they must sum to 1", sum)
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

// LitersAt20 is what one litre of the liquid measured at tC is at 20 °C, L: its parts keep their mass and their
// volumes add up. Trade litres and gallons are stated at a reference temperature, a meter reads the liquid as it
// is: toluene at 10 °C measures 1.1 % less. Outside the range of a density its end is used. ok is false if a
// part is unknown or has one density only, whatever its temperature.
func (m Mixture) LitersAt20(tC float64) (liters float64, ok bool) {
	b, ok := m.resolve()
	if !ok || math.IsNaN(tC) {
		return 1, false
	}
	var then, now float64
	for i, d := range b.part[:b.n] {
		if d.rho.form == constantProperty {
			return 1, false
		}
		k, _ := d.rho.within(tC + zeroCelsiusK)
		k20, _ := d.rho.within(20 + zeroCelsiusK)
		kg := b.mole[i] * d.molarMass
		then += kg / d.rho.density(k, d.molarMass)
		now += kg / d.rho.density(k20, d.molarMass)
	}
	return now / then, true
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
	k, ok := b.solve(lnPa, bubble)
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
	k, ok := b.solve(math.Log(pKPa*1000), dew)
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

// WetBoilingC is the temperature in °C at which the blend boils at pKPa absolute while water lies in the
// pot with it: the two pressures add, so it is below the boiling points of both. It says what to expect of
// a wet drum. ok is false if a part mixes with water (or nobody says that it does not), and as for BubbleC.
func (m Mixture) WetBoilingC(pKPa float64) (tC float64, ok bool) {
	b, ok := m.resolve()
	if !ok || !(pKPa > 0) {
		return 0, false
	}
	for _, d := range b.part[:b.n] {
		if d.hazards.Water != Immiscible {
			return 0, false
		}
	}
	k, ok := b.solve(math.Log(pKPa*1000), wet)
	return k - zeroCelsiusK, ok
}
