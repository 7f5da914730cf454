package solvent

import (
	"errors"
	"fmt"
	"math"
)

// Custom describes a solvent that is not in the table, with figures from its data sheet. Zero means not
// stated; either Antoine or BoilingC with HeatOfVaporizationKJPerKg must be.
type Custom struct {
	Name         string
	MolarMass    float64 // g/mol; zero means estimated from Trouton's rule, good to about a tenth
	DensityKgL   float64 // at 20 °C, kg/L; zero means 0.87, that of most hydrocarbons
	HeatCapacity float64 // of the liquid, kJ/(kg·K); zero means 2.0

	BoilingC                  float64  // at 101.325 kPa, °C
	HeatOfVaporizationKJPerKg float64  // at the boiling point, kJ/kg
	Antoine                   *Antoine // takes the place of both for the vapour pressure

	Hazards Hazards
	Note    string
}

// Antoine is log10(p) = A − B/(C + t), t in °C, with p in a unit of UnitKPa.
type Antoine struct {
	A, B, C    float64
	UnitKPa    float64 // what one unit of p is in kPa: zero means 1 mmHg, 0.133322 kPa
	MinC, MaxC float64 // range of the coefficients, °C; both zero means from where p is 1 kPa to where it is 200 kPa
}

// mmHgKPa is the conventional millimetre of mercury (NIST SP 811, appendix B).
const mmHgKPa = 0.133322387415

// Trouton's rule as Hildebrand's average for liquids that do not associate: entropy of vaporisation of
// about 88 J/(mol·K) at the boiling point.
const troutonJPerMolK = 88

// watsonSlope is −Tb/H·dH/dT at the boiling point: Watson (Ind. Eng. Chem. 35 (1943) 398), H ∝ (1 − Tr)^0.38,
// with Guldberg's rule Tb = ⅔·Tc.
const watsonSlope = 0.38 * (2.0 / 3) / (1 - 2.0/3)

// vaporZ is how much smaller a mole of vapour at the boiling point is than an ideal gas: Berthelot's equation,
// 1 + 9/128·(p/pc)·(Tc/T)·(1 − 6·(Tc/T)²), with Guldberg's rule and pc = 40 bar.
const vaporZ = 1 + 9.0/128/40*1.5*(1-6*1.5*1.5)

// NewCustom makes a solvent from data sheet figures. With a boiling point and a heat of vaporisation the
// vapour pressure follows from the Clausius–Clapeyron equation, d(ln p)/d(1/T) = −H/(z·R), the heat of
// vaporisation falling with temperature as Watson found. Made so, the solvents of the table boil within
// 0.5 K rms (worst 1.5 K) of their table values at 20 kPa; at 10 kPa the worst, water, is 2.2 K off.
func NewCustom(c Custom) (Solvent, error) {
	d := &data{name: c.Name, hazards: c.Hazards, note: c.Note}
	if c.Name == "" {
		return Solvent{}, errors.New("a custom solvent needs a name")
	}
	for what, v := range map[string]float64{
		"molar mass": c.MolarMass, "density": c.DensityKgL, "heat capacity": c.HeatCapacity,
		"heat of vaporisation": c.HeatOfVaporizationKJPerKg,
	} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return Solvent{}, fmt.Errorf("%s: %s of %g; write a positive number", c.Name, what, v)
		}
	}
	source := "data sheet"
	boilingK := c.BoilingC + zeroCelsiusK
	switch {
	case c.Antoine != nil:
		if err := d.fromAntoine(*c.Antoine); err != nil {
			return Solvent{}, fmt.Errorf("%s: %w", c.Name, err)
		}
		d.psat.source = source
		d.psatEnds()
		boilingK, _ = d.boilingK(math.Log(101325))
	case c.BoilingC == 0 && c.HeatOfVaporizationKJPerKg == 0:
		return Solvent{}, fmt.Errorf("%s: write its Antoine coefficients, or its boiling point at sea level and its heat of vaporisation", c.Name)
	case !(c.BoilingC > -50 && c.BoilingC < 400):
		return Solvent{}, fmt.Errorf("%s: boils at %g °C; write its boiling point at sea level, from -50 °C to 400 °C", c.Name, c.BoilingC)
	case !(c.HeatOfVaporizationKJPerKg > 0):
		return Solvent{}, fmt.Errorf("%s: no heat of vaporisation; write it in kJ/kg (most solvents: 200 to 900)", c.Name)
	}
	d.molarMass = c.MolarMass
	if d.molarMass == 0 {
		if c.HeatOfVaporizationKJPerKg == 0 {
			return Solvent{}, fmt.Errorf("%s: write its molar mass, or its heat of vaporisation", c.Name)
		}
		d.molarMass = troutonJPerMolK * boilingK / c.HeatOfVaporizationKJPerKg
	}
	heat := c.HeatOfVaporizationKJPerKg * d.molarMass // J/mol
	if c.Antoine == nil {
		// The range is where the solvent is plausibly distilled, about 0.2 kPa to 5 bar.
		d.psat = equation{form: clausius, c: [5]float64{heat / (gasConstant * vaporZ), boilingK, watsonSlope},
			minK: 0.62 * boilingK, maxK: 1.2 * boilingK, source: source}
		d.psatEnds()
	}
	d.hvap = equation{form: watson, c: [5]float64{heat, boilingK, watsonSlope}, minK: d.psat.minK, maxK: d.psat.maxK, source: source}
	if heat == 0 {
		d.hvap.form, d.hvap.c = heatOfAntoine, d.psat.c
	}
	specific, density := c.HeatCapacity, c.DensityKgL
	if specific == 0 {
		specific = 2.0
	}
	if density == 0 {
		density = 0.87
	}
	d.cp = equation{form: constantProperty, c: [5]float64{specific * d.molarMass * 1000}, minK: d.psat.minK, maxK: d.psat.maxK, source: source}
	d.rho = equation{form: constantProperty, c: [5]float64{density * 1000}, minK: d.psat.minK, maxK: d.psat.maxK, source: source}
	d.finish()
	return Solvent{d}, nil
}

func (d *data) fromAntoine(a Antoine) error {
	unit := a.UnitKPa
	if unit == 0 {
		unit = mmHgKPa
	}
	// A is about 6 to 11 in every unit of pressure, B some hundreds to thousands: far outside, the figures
	// are mistyped, and their difference has no digits left.
	if !(a.A > 0 && a.A < 30 && a.B > 0 && a.B < 1e5 && unit > 0) || math.IsInf(a.C+unit, 0) || math.IsNaN(a.C) {
		return fmt.Errorf("Antoine coefficients A %g, B %g, C %g: A must be from 0 to 30, B from 0 to 100 000, the unit positive", a.A, a.B, a.C)
	}
	at := func(kPa float64) float64 { return a.B/(a.A-math.Log10(kPa/unit)) - a.C }
	low, high := a.MinC, a.MaxC
	if low == 0 && high == 0 {
		low, high = at(1), at(200)
	}
	if !(low < high && low+a.C > 0 && low > -zeroCelsiusK) || math.IsInf(high, 0) {
		return fmt.Errorf("Antoine coefficients A %g, B %g, C %g give no boiling point between %g °C and %g °C", a.A, a.B, a.C, low, high)
	}
	boils := at(101.325)
	if !(boils > -100 && boils < 500) {
		return fmt.Errorf("Antoine coefficients A %g, B %g, C %g give a boiling point of %.4g °C at sea level: check their unit (log10, °C, mmHg unless stated)", a.A, a.B, a.C, boils)
	}
	d.psat = equation{form: antoine, c: [5]float64{a.A, a.B, a.C, unit * 1000}, minK: low + zeroCelsiusK, maxK: high + zeroCelsiusK}
	return nil
}

func (d *data) psatEnds() {
	d.lnLow, _ = d.psat.lnPsat(d.psat.minK)
	d.lnHigh, _ = d.psat.lnPsat(d.psat.maxK)
}

// sameData compares what can be compared without following pointers to figures.
func sameData(a, b *data) bool {
	return a.name == b.name && a.molarMass == b.molarMass && a.psat == b.psat && a.hvap == b.hvap && a.cp == b.cp && a.rho == b.rho
}
