package otherplant

import (
	"fmt"
	"math"

	"luted/analysis/solvent"
)

// gasR is the molar gas constant, J/(mol·K) (CODATA 2018, exact).
const gasR = 8.314462618

const (
	tabLowC  = -60.0 // °C, first row of the vapour pressure tables
	tabRows  = 361   // one row a kelvin
	maxParts = 5
)

// substance is one volatile component, tabulated from the published property tables once.
type substance struct {
	name   string
	lnPsat [tabRows]float64 // ln of Pa
	hvap   [tabRows]float64 // J/mol
	cp     float64          // liquid, J/(mol·K), at 60 °C
	litre  float64          // L/mol at 20 °C
	molar  float64          // kg/mol
	water  bool
	mixes  bool // mixes with water
}

// newSubstance tabulates a solvent of the table.
func newSubstance(name string) (*substance, error) {
	s, ok := solvent.Find(name)
	if !ok {
		return nil, fmt.Errorf("no solvent %q in the table", name)
	}
	m := s.MolarMassGMol() / 1000
	rho, _ := s.DensityKgPerL(20)
	cp, _ := s.HeatCapacityKJPerKgK(60)
	out := &substance{name: name, cp: cp * 1000 * m, litre: m / rho, molar: m, water: name == "water"}
	switch name {
	case "acetone", "2-propanol", "methanol", "ethanol", "tetrahydrofuran":
		out.mixes = true
	}
	for i := range tabRows {
		t := tabLowC + float64(i)
		p, _ := s.VaporPressureKPa(t)
		h, _ := s.HeatOfVaporizationKJPerKg(t)
		out.lnPsat[i] = math.Log(math.Max(p, 1e-9) * 1000)
		out.hvap[i] = math.Max(h, 1) * 1000 * m
	}
	return out, nil
}

// row is the place of a temperature in the tables: row and share of the next.
func row(tC float64) (int, float64) {
	x := min(max(tC-tabLowC, 0), tabRows-1.001)
	i := int(x)
	return i, x - float64(i)
}

// psat is the vapour pressure of the pure liquid, Pa.
func (s *substance) psat(tC float64) float64 {
	i, f := row(tC)
	return math.Exp(s.lnPsat[i] + f*(s.lnPsat[i+1]-s.lnPsat[i]))
}

// heat is the heat of vaporisation, J/mol.
func (s *substance) heat(tC float64) float64 {
	i, f := row(tC)
	return s.hvap[i] + f*(s.hvap[i+1]-s.hvap[i])
}

// Liquor is what is in the pot: volatile parts and what stays in the bag.
type Liquor struct {
	parts   []*substance
	mol     [maxParts]float64
	residue float64 // kg that never boils
}

// residueHeat is the heat capacity of dry residue, J/(kg·K) (common practice for resins and pigments, no source).
const residueHeat = 1600

// heldShare is the solvent, in kg per kg of residue, at which the residue begins to hold it back: the
// activity of the solvent is 1 − exp(−w/heldShare). Chosen, no source: a gel with a tenth of its mass of
// solvent gives it up reluctantly.
const heldShare = 0.04

// volatileKg is the mass of what can boil.
func (l *Liquor) volatileKg() float64 {
	var m float64
	for i, s := range l.parts {
		m += l.mol[i] * s.molar
	}
	return m
}

// litres is the volume of liquid in the pot, residue counted at 1.3 kg/L.
func (l *Liquor) litres() float64 {
	v := l.residue / 1.3
	for i, s := range l.parts {
		v += l.mol[i] * s.litre
	}
	return v
}

// heatCapacity in J/K.
func (l *Liquor) heatCapacity() float64 {
	c := l.residue*residueHeat + 300
	for i, s := range l.parts {
		c += l.mol[i] * s.cp
	}
	return c
}

// pressures writes the partial pressure of each part over the liquid at tC (Pa) and returns their sum, the
// bubble pressure. Parts that mix are ideal (Raoult); water beside a solvent that does not take it up is a
// second liquid with its full vapour pressure; water in one that does has the one-constant Margules
// activity ln γ = (1 − x)² (constant 1: chosen, from memory of the order of size).
func (l *Liquor) pressures(tC float64, into *[maxParts]float64) float64 {
	var organic, water float64
	mixes := true
	for i, s := range l.parts {
		if s.water {
			water += l.mol[i]
			continue
		}
		organic += l.mol[i]
		mixes = mixes && s.mixes
	}
	if organic+water <= 0 {
		return 0
	}
	held := 1.0
	if l.residue > 0 {
		held = 1 - math.Exp(-l.volatileKg()/l.residue/heldShare)
	}
	var sum float64
	for i, s := range l.parts {
		x, g := 0.0, 1.0
		switch {
		case mixes && water > 0:
			x = l.mol[i] / (organic + water)
			g = math.Exp((1 - x) * (1 - x))
		case s.water:
			// The last film of water goes as its layer breaks up.
			x = min(1, water/(0.004*(organic+water)+1e-12))
		case organic > 0:
			x = l.mol[i] / organic
		}
		into[i] = x * g * held * s.psat(tC)
		sum += into[i]
	}
	return sum
}

// bubblePa is the pressure in Pa at which the liquor begins to boil at tC.
func (l *Liquor) bubblePa(tC float64) float64 {
	var p [maxParts]float64
	return l.pressures(tC, &p)
}

// boilC is the temperature in °C at which the liquor boils under p (Pa).
func (l *Liquor) boilC(pPa float64) float64 {
	low, high := tabLowC+1, tabLowC+tabRows-2
	for range 50 {
		mid := (low + high) / 2
		if l.bubblePa(mid) < pPa {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// vapour gives the mole fractions of the vapour at tC, its heat of vaporisation (J/mol) and its liquid
// volume at 20 °C (L/mol).
func (l *Liquor) vapour(tC float64, y *[maxParts]float64) (heat, litre float64) {
	sum := l.pressures(tC, y)
	if sum <= 0 {
		return 35000, 0.1
	}
	for i, s := range l.parts {
		y[i] /= sum
		heat += y[i] * s.heat(tC)
		litre += y[i] * s.litre
	}
	return heat, litre
}

// Drum is what somebody pours in: parts by volume at 20 °C, water and residue as shares of the whole.
type Drum struct {
	Parts   []solvent.Part
	Water   float64 // share of the volume
	Residue float64 // share of the volume
}

// fill makes the liquor of so many litres of a drum.
func (d Drum) fill(litres float64) (Liquor, error) {
	var l Liquor
	rest := 1 - d.Water - d.Residue
	add := func(name string, share float64) error {
		s, err := newSubstance(name)
		if err != nil {
			return err
		}
		l.mol[len(l.parts)] = share * litres / s.litre
		l.parts = append(l.parts, s)
		return nil
	}
	for _, p := range d.Parts {
		if err := add(p.Name, p.Fraction*rest); err != nil {
			return l, err
		}
	}
	if d.Water > 0 {
		if err := add("water", d.Water); err != nil {
			return l, err
		}
	}
	l.residue = d.Residue * litres * 1.3
	return l, nil
}
