package simstill

import (
	"fmt"
	"math"

	"luted/analysis/solvent"
)

// maxKinds is how many volatile substances one charge may hold: three and water.
const maxKinds = 4

// moles are amounts by kind, in the order of charge.kinds.
type moles [maxKinds]float64

func (m *moles) sum() float64 { return m[0] + m[1] + m[2] + m[3] }

// liquid is an amount of solvent.
type liquid struct {
	kinds []*pure
	mol   moles
}

func (l *liquid) kg() (kg float64) {
	for i, k := range l.kinds {
		kg += l.mol[i] * k.kgMol
	}
	return kg
}

func (l *liquid) litres(tempC float64) (v float64) {
	for i, k := range l.kinds {
		v += l.mol[i] * k.at(tempC).litreMo
	}
	return v
}

// charge is what lies in the pot: solvent, what never evaporates, and the bag around it.
type charge struct {
	liquid
	residueKg float64
	loadedMol moles   // at loading
	loadedKg  float64 // solvent, at loading
	boundKg   float64 // solvent that the residue holds back for good
}

const (
	residueKgL  = 1.15 // paint solids in a bag; common practice, no source
	residueKJKK = 1.5  // kJ/(kg·K)

	// interaction is the Flory–Huggins parameter of solvent and dissolved solids; 0.3 to 0.5 is usual
	// for good solvents (P. J. Flory, Principles of Polymer Chemistry, 1953; values from memory).
	interaction = 0.4
	boundShare  = 0.02 // kg solvent a kg of residue keeps even when called dry; common practice, no source
	pasteRatio  = 0.8  // kg solvent a kg of residue below which drying is limited by diffusion
)

// load mixes a charge of litres at 20 °C, of which a share by volume never evaporates.
func load(mix solvent.Mixture, litres, dirt float64) (charge, error) {
	var c charge
	if len(mix.Parts) == 0 || len(mix.Parts) > maxKinds {
		return c, fmt.Errorf("a charge has 1 to %d volatile parts, not %d", maxKinds, len(mix.Parts))
	}
	total := 0.0
	for _, p := range mix.Parts {
		total += p.Fraction
	}
	if !(litres > 0) || !(dirt >= 0 && dirt < 0.9) || !(total > 0) {
		return c, fmt.Errorf("a charge of %g L with a dirt share of %g and parts summing to %g cannot be loaded", litres, dirt, total)
	}
	for i, p := range mix.Parts {
		k, err := substance(p.Name)
		if err != nil {
			return c, err
		}
		c.kinds = append(c.kinds, k)
		c.mol[i] = litres * (1 - dirt) * p.Fraction / total / k.at(20).litreMo
	}
	c.residueKg = litres * dirt * residueKgL
	c.loadedMol, c.loadedKg = c.mol, c.kg()
	c.boundKg = min(boundShare*c.residueKg, 0.5*c.loadedKg)
	return c, nil
}

// boiling is what a charge holds up at one temperature.
type boiling struct {
	kPa      float64 // bubble-point pressure
	partKPa  moles   // of it, by kind
	heatKJ   float64 // heat of vaporisation of the vapour that boils off, kJ/mol
	slopeKPa float64 // dp/dT along the boiling curve, kPa/K
}

// boilingAt gives the bubble point by Raoult's law. Dissolved solids lower it after Flory and Huggins.
// Water does not mix with most solvents: then both liquids boil together, each at its own vapour pressure.
func (c *charge) boilingAt(tempC float64) boiling {
	var b boiling
	var mixed, litres float64
	separate := c.waterApart()
	var rows [maxKinds]row
	for i, k := range c.kinds {
		rows[i] = k.at(tempC)
		litres += c.mol[i] * rows[i].litreMo
		if i != separate {
			mixed += c.mol[i]
		}
	}
	if litres <= 0 {
		return b
	}
	solids := c.residueKg / residueKgL
	phi := litres / (litres + solids)
	activity := phi * math.Exp((1-phi)+interaction*(1-phi)*(1-phi))
	for i := range c.kinds {
		switch {
		case i == separate:
			// The last drops are spread thin: half a mole of water no longer covers the boiling surface.
			b.partKPa[i] = -math.Expm1(-c.mol[i]/0.5) * math.Exp(rows[i].lnKPa)
		case mixed > 0:
			b.partKPa[i] = activity * c.mol[i] / mixed * math.Exp(rows[i].lnKPa)
		}
		b.kPa += b.partKPa[i]
		b.heatKJ += b.partKPa[i] * rows[i].hvapKJ
	}
	if b.kPa > 0 {
		b.heatKJ /= b.kPa
		kelvin := tempC + zeroC
		b.slopeKPa = b.kPa * b.heatKJ * 1000 / (gasConstant * kelvin * kelvin) // Clausius–Clapeyron
	}
	return b
}

// waterApart is the index of water if it forms a liquid of its own, else -1.
func (c *charge) waterApart() int {
	if len(c.kinds) < 2 {
		return -1
	}
	water, apart := -1, false
	for i, k := range c.kinds {
		if k.name == "water" {
			water = i
		} else if !k.mixes {
			apart = true
		}
	}
	if apart {
		return water
	}
	return -1
}

// heatCapacity is that of everything in the bag, kJ/K.
func (c *charge) heatCapacity(tempC, bagKJK float64) float64 {
	sum := bagKJK + c.residueKg*residueKJKK
	for i, k := range c.kinds {
		sum += c.mol[i] * k.at(tempC).cpKJ
	}
	return sum
}

// enthalpy is the heat content over that at 0 °C, kJ.
func (c *charge) enthalpy(tempC, bagKJK float64) float64 {
	sum := (bagKJK + c.residueKg*residueKJKK) * tempC
	for i, k := range c.kinds {
		sum += c.mol[i] * k.at(tempC).enthKJ
	}
	return sum
}

// volume in the bag at the temperature, L.
func (c *charge) volume(tempC float64) float64 {
	return c.litres(tempC) + c.residueKg/residueKgL
}

// recoverableLeftKg is the solvent in the pot that could still come over.
func (c *charge) recoverableLeftKg() float64 { return max(0, c.kg()-c.boundKg) }

// diffusion is how fast solvent can reach the surface of a drying residue, mol/s: without limit while
// there is more than a paste, then in proportion to what is left above the bound solvent. It doubles
// every 25 K. Rate from common experience with bag drying, no source.
func (c *charge) diffusion(tempC float64) float64 {
	if c.residueKg <= 0 {
		return math.Inf(1)
	}
	kg := c.kg()
	ratio := kg / c.residueKg
	if ratio >= pasteRatio {
		return math.Inf(1)
	}
	perS := 1.0 / 700 * math.Exp2((tempC-100)/25)
	mean := kg / max(c.mol.sum(), 1e-9)
	free := 1 - ratio/pasteRatio
	return perS * max(0, kg-c.boundKg) / mean / free
}
