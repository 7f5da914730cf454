// Package solvent holds property data of the solvents people distil and computes from them what the
// analysis needs: vapour pressure, boiling temperature at any pressure, heat of vaporisation, heat
// capacity, density, the bubble point of blends, and the hazards to name.
package solvent

// Mixture is a solvent or a blend. The zero value is an unknown solvent.
type Mixture struct {
	Parts []Part
}

// Part is one component of a blend.
type Part struct {
	Name     string  // a name from the table
	Fraction float64 // by volume at 20 °C; the fractions of a mixture sum to 1
}

// Known reports whether anything is known about the mixture.
func (m Mixture) Known() bool { return len(m.Parts) > 0 }
