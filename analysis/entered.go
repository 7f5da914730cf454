package analysis

import (
	"math"

	"luted/analysis/physics"
)

// Entered is the basis of a volume that a person has read and written down.
const Entered = "entered"

// EnteredLU is the standard uncertainty of a volume that a person has read off a drum, a pail or a sight
// glass, L. Type B, rectangular: the marks and the reading within ±2 % or ±0.5 L, whichever is more, and the
// liquid within 10 K of the 20 °C that a litre is meant at, at 0.12 %/K, as for a meter without a thermometer
// beside it (common practice, no source).
func EnteredLU(liters float64) float64 {
	u, _ := physics.Combined( // GUM eq. 10
		physics.Contribution{U: physics.RectangularU(max(0.5, 0.02*liters))},
		physics.Contribution{U: physics.RectangularU(0.012 * liters)},
	)
	return u
}

// WithEntered returns the summary with a recovered volume that a person has entered, L, and the figures that
// rest on it, the energy to be expected among them. densityKgPerL is that of the solvent at 20 °C; 0 if it is not known, and then the figures by
// mass are absent. The cost goes with the old volume: CostOf of the still's prices gives the new one. s itself
// is not changed.
func (s Summary) WithEntered(liters, densityKgPerL float64) Summary {
	u := EnteredLU(liters)
	s.expectFor(liters, u)
	s.RecoveredL, s.RecoveredLU, s.RecoveredBasis = number(liters, true), number(u, true), Entered
	s.Cost = nil
	s.RecoveredKg, s.KWhPerGal, s.KWhPerGalU, s.KWhPerKg, s.KWhPerKgU, s.RatioToMinimum = nil, nil, nil, nil, nil, nil
	if densityKgPerL > 0 {
		s.RecoveredKg = number(liters*densityKgPerL, true)
	}
	if s.EnergyKWh == nil || *s.EnergyKWh <= 0 || liters <= 0.5 {
		return s
	}
	kWh, uE := *s.EnergyKWh, 0.0
	if s.EnergyKWhU != nil {
		uE = *s.EnergyKWhU
	}
	perGal := kWh / liters * LPerGal
	relative, _ := physics.Combined(physics.Contribution{U: uE / kWh}, physics.Contribution{U: u / liters}) // GUM 5.1.6
	s.KWhPerGal, s.KWhPerGalU = number(perGal, true), number(perGal*relative, true)
	if densityKgPerL > 0 {
		perKg := kWh / (liters * densityKgPerL)
		s.KWhPerKg, s.KWhPerKgU = number(perKg, true), number(perKg*relative, true)
	}
	if s.MinimumKWhPerGal != nil && *s.MinimumKWhPerGal > 0 {
		s.RatioToMinimum = number(perGal / *s.MinimumKWhPerGal, true)
	}
	return s
}

// expectFor moves the energy to be expected to another volume recovered, L with its standard uncertainty, by the
// baseline's own slope.
func (s *Summary) expectFor(liters, u float64) {
	if s.ExpectedKWh == nil || s.ExpectedPerL == nil || s.RecoveredL == nil {
		return
	}
	moved := *s.ExpectedKWh + *s.ExpectedPerL*(liters-*s.RecoveredL)
	s.ExpectedKWh = number(moved, moved > 0)
	s.ExpectedKWhU = number(math.Hypot(value(s.ExpectedKWhU), *s.ExpectedPerL*u), moved > 0)
}
