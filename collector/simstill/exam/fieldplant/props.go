package main

import (
	"math"

	"luted/analysis/solvent"
)

const (
	gasR  = 8.314462618 // kPa·L/(mol·K) and J/(mol·K)
	gridT = -40.0       // °C, first node of the property tables
	gridN = 361         // nodes, 1 K apart
)

// substance holds the properties of one pure substance, tabulated over 1 K.
type substance struct {
	name     string
	molar    float64 // g/mol
	rho20    float64 // kg/L
	miscible bool    // with water
	lnp      [gridN]float64
	hv       [gridN]float64 // J/mol
	cp       [gridN]float64 // J/(mol·K)
}

var substances = loadSubstances()

// loadSubstances tabulates the published properties. Beyond the range of a fit the figure at its end holds on; a
// vapour pressure goes on along its last slope, for a table must rise all the way.
func loadSubstances() map[string]*substance {
	out := map[string]*substance{}
	for _, name := range solvent.Names() {
		f, ok := solvent.Find(name)
		if !ok {
			continue
		}
		s := &substance{name: f.Name(), molar: f.MolarMassGMol(), miscible: f.Hazards().Water == solvent.Miscible}
		s.rho20, _ = f.DensityKgPerL(20)
		first, last := gridN, -1
		for i := range gridN {
			t := gridT + float64(i)
			p, ok := f.VaporPressureKPa(t)
			s.lnp[i] = math.Log(p)
			if ok {
				first, last = min(first, i), i
			}
			hv, _ := f.HeatOfVaporizationKJPerKg(t)
			cp, _ := f.HeatCapacityKJPerKgK(t)
			s.hv[i], s.cp[i] = hv*s.molar, cp*s.molar
		}
		for i := first - 1; i >= 0; i-- {
			s.lnp[i] = s.lnp[i+1] - (s.lnp[first+1] - s.lnp[first])
		}
		for i := last + 1; i < gridN; i++ {
			s.lnp[i] = s.lnp[i-1] + (s.lnp[last] - s.lnp[last-1])
		}
		out[s.name] = s
	}
	return out
}

// cell finds the table cell of a temperature and the place in it.
func cell(t float64) (int, float64) {
	x := t - gridT
	if !(x > 0) {
		return 0, 0
	}
	if x >= gridN-1.001 {
		return gridN - 2, 0.999
	}
	i := int(x)
	return i, x - float64(i)
}

// psat returns the vapour pressure in kPa at t in °C.
func (s *substance) psat(t float64) float64 {
	i, f := cell(t)
	return math.Exp(s.lnp[i] + f*(s.lnp[i+1]-s.lnp[i]))
}

// tsat returns the boiling temperature in °C at p in kPa.
func (s *substance) tsat(p float64) float64 {
	lo, hi, l := 0, gridN-1, math.Log(p)
	for hi-lo > 1 {
		if m := (lo + hi) / 2; s.lnp[m] < l {
			lo = m
		} else {
			hi = m
		}
	}
	return gridT + float64(lo) + (l-s.lnp[lo])/(s.lnp[lo+1]-s.lnp[lo])
}

// baroStandard is the standard atmosphere's pressure in kPa at a height in m.
func baroStandard(h float64) float64 {
	return 101.325 * math.Pow(1-0.0065*h/288.15, 5.255876)
}
