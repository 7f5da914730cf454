package thirdplant

import (
	"fmt"
	"math"

	"luted/analysis/solvent"
)

// substance is a solvent with its properties made quick to look up.
type substance struct {
	name    string
	molKg   float64 // kg/mol
	densKgL float64
	cp      float64 // kJ/(kg·K)
	heat    float64 // of vaporisation where it is distilled, kJ/mol
	apart   bool    // water that makes a layer of its own
	ln      []float64
}

// The table of vapour pressures: from tableLow °C in steps of tableStep K.
const (
	tableLow  = -12.0
	tableStep = 0.5
	tableSize = 560
)

func newSubstance(s solvent.Solvent, boilsAtC float64) (*substance, error) {
	if !s.Known() {
		return nil, fmt.Errorf("an unknown substance")
	}
	out := &substance{name: s.Name(), molKg: s.MolarMassGMol() / 1000, ln: make([]float64, tableSize)}
	out.densKgL, _ = s.DensityKgPerL(20)
	out.cp, _ = s.HeatCapacityKJPerKgK((20 + boilsAtC) / 2)
	h, _ := s.HeatOfVaporizationKJPerKg(boilsAtC)
	out.heat = h * out.molKg
	for i := range out.ln {
		p, _ := s.VaporPressureKPa(tableLow + tableStep*float64(i))
		out.ln[i] = math.Log(p)
	}
	return out, nil
}

// kPa is the vapour pressure of the pure liquid.
func (s *substance) kPa(tC float64) float64 {
	x := clamp((tC-tableLow)/tableStep, 0, tableSize-1.001)
	i := int(x)
	return math.Exp(s.ln[i] + (x-float64(i))*(s.ln[i+1]-s.ln[i]))
}

// ladle is what is poured: volatile parts by litres, and the residue that never boils.
type ladle struct {
	parts    []*substance
	litres   []float64
	residueL float64
}

// liquor is what lies in the pot.
type liquor struct {
	parts    []*substance
	mol      []float64
	residueL float64
	share    []float64 // of each part in the vapour that comes off now
}

const residueKgL = 1.15 // paint solids and resin

func pour(l ladle) liquor {
	q := liquor{parts: l.parts, mol: make([]float64, len(l.parts)), residueL: l.residueL, share: make([]float64, len(l.parts))}
	for i, p := range l.parts {
		q.mol[i] = l.litres[i] * p.densKgL / p.molKg
	}
	return q
}

// litres is the volume of the volatile part, at 20 °C.
func (q *liquor) litres() float64 {
	v := 0.0
	for i, p := range q.parts {
		v += q.mol[i] * p.molKg / p.densKgL
	}
	return v
}

// heatCapacity is in kJ/K, with the residue.
func (q *liquor) heatCapacity() float64 {
	c := q.residueL * residueKgL * 1.5
	for i, p := range q.parts {
		c += q.mol[i] * p.molKg * p.cp
	}
	return c
}

// chi is the interaction parameter of resin and solvent; 0.4 is a good solvent (common practice, no source).
const chi = 0.4

// activity is that of the solvent at a volume fraction in the sludge: Flory and Huggins for an endless chain,
// ln a = ln φ + (1 − φ) + χ(1 − φ)².
func activity(phi float64) float64 {
	r := 1 - phi
	return phi * math.Exp(r+chi*r*r)
}

// pressure is that at which the liquor boils at tC, kPa; it leaves the make-up of the vapour in share.
func (q *liquor) pressure(tC float64) float64 {
	n, v := 0.0, 0.0
	for i, p := range q.parts {
		if !p.apart {
			n += q.mol[i]
			v += q.mol[i] * p.molKg / p.densKgL
		}
	}
	sum := 0.0
	for i, p := range q.parts {
		var x float64
		switch {
		case p.apart: // its own layer, until a cupful is left
			x = clamp(q.mol[i]*p.molKg/0.3, 0, 1)
		case n > 0:
			x = q.mol[i] / n * activity(v/(v+q.residueL+1e-9))
		}
		q.share[i] = x * p.kPa(tC)
		sum += q.share[i]
	}
	for i := range q.share {
		if sum > 0 {
			q.share[i] /= sum
		}
	}
	return sum
}

// heat is that of the vapour that comes off now, kJ/mol.
func (q *liquor) heat() float64 {
	h := 0.0
	for i, p := range q.parts {
		h += q.share[i] * p.heat
	}
	return h
}

// vapourKPa is the pressure over a film of the condensed vapour at tC: the parts that mix share it, and water that
// does not mix adds its own.
func (q *liquor) vapourKPa(tC float64) float64 {
	mixed, mixes, apart := 0.0, 0.0, 0.0
	for i, s := range q.parts {
		switch {
		case s.apart && q.share[i] > 0.01:
			apart = s.kPa(tC)
		case !s.apart:
			mixed += q.share[i] * s.kPa(tC)
			mixes += q.share[i]
		}
	}
	if mixes > 0.01 {
		return mixed/mixes + apart
	}
	return apart
}

// litresPerMol is of the vapour that comes off now, as liquid at 20 °C.
func (q *liquor) litresPerMol() float64 {
	v := 0.0
	for i, p := range q.parts {
		v += q.share[i] * p.molKg / p.densKgL
	}
	return v
}

// boil takes mol of vapour off, or gives it back if negative.
func (q *liquor) boil(mol float64) {
	for i := range q.mol {
		q.mol[i] = math.Max(0, q.mol[i]-mol*q.share[i])
	}
}

// held is what the residue keeps for good at a temperature and pressure, L.
func (q *liquor) held(tC, kPa float64) float64 {
	last := 0.0 // the least volatile part decides
	for _, p := range q.parts {
		if x := p.kPa(tC); !p.apart && (last == 0 || x < last) {
			last = x
		}
	}
	if last == 0 {
		return 0
	}
	low, high := 0.0, 1.0
	for range 30 {
		mid := (low + high) / 2
		if activity(mid)*last < kPa {
			low = mid
		} else {
			high = mid
		}
	}
	return q.residueL * low / math.Max(1e-6, 1-low)
}
