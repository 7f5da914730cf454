package simstill

import (
	"fmt"
	"math"
	"sync"

	"luted/analysis/solvent"
)

// pure is one substance, tabulated in steps of 1 K so that a second of simulated time costs a few
// table reads. Linear interpolation of ln p is then within 0.01 % of the equations behind it.
type pure struct {
	name  string
	kgMol float64
	rows  [tableRows]row
	mixes bool // with water, in all proportions
}

// row is the saturated liquid at one temperature.
type row struct {
	lnKPa   float64 // vapour pressure
	hvapKJ  float64 // heat of vaporisation, kJ/mol
	cpKJ    float64 // liquid, kJ/(mol·K)
	enthKJ  float64 // liquid enthalpy over that at 0 °C, kJ/mol
	litreMo float64 // liquid volume, L/mol
}

const (
	tableLowC = -60
	tableRows = 391 // up to 330 °C
)

// at interpolates the table; temperatures outside are taken as its edge.
func (p *pure) at(tempC float64) row {
	x := tempC - tableLowC
	x = min(max(x, 0), tableRows-1.0001)
	i := int(x)
	f := x - float64(i)
	a, b := &p.rows[i], &p.rows[i+1]
	return row{
		lnKPa:   a.lnKPa + f*(b.lnKPa-a.lnKPa),
		hvapKJ:  a.hvapKJ + f*(b.hvapKJ-a.hvapKJ),
		cpKJ:    a.cpKJ + f*(b.cpKJ-a.cpKJ),
		enthKJ:  a.enthKJ + f*(a.cpKJ+f/2*(b.cpKJ-a.cpKJ)),
		litreMo: a.litreMo + f*(b.litreMo-a.litreMo),
	}
}

func (p *pure) vaporKPa(tempC float64) float64 { return math.Exp(p.at(tempC).lnKPa) }

var (
	puresMu sync.Mutex
	pures   = map[string]*pure{}
)

// substance returns the tabulated substance; the table is made once a process.
func substance(name string) (*pure, error) {
	puresMu.Lock()
	defer puresMu.Unlock()
	if p, ok := pures[name]; ok {
		return p, nil
	}
	s, ok := solvent.Find(name)
	if !ok {
		return nil, fmt.Errorf("no solvent %q in the property table", name)
	}
	p := tabulate(s)
	pures[name] = p
	return p, nil
}

// tabulate asks the property table once for every degree.
func tabulate(s solvent.Solvent) *pure {
	p := &pure{name: s.Name(), kgMol: s.MolarMassGMol() / 1000}
	switch s.Hazards().Water {
	case solvent.Miscible, solvent.ItIsWater:
		p.mixes = true
	}
	_, top := s.RangeC()
	enthalpy0 := 0.0
	for i := range p.rows {
		t := float64(tableLowC + i)
		r := &p.rows[i]
		kPa, _ := s.VaporPressureKPa(t)
		r.lnKPa = math.Log(kPa)
		hvap, _ := s.HeatOfVaporizationKJPerKg(min(t, top-10)) // it vanishes at the critical point
		r.hvapKJ = hvap * p.kgMol
		cp, _ := s.HeatCapacityKJPerKgK(t)
		r.cpKJ = cp * p.kgMol
		rho, _ := s.DensityKgPerL(t)
		r.litreMo = p.kgMol / rho
		if i > 0 {
			r.enthKJ = p.rows[i-1].enthKJ + (p.rows[i-1].cpKJ+r.cpKJ)/2
		}
		if t == 0 {
			enthalpy0 = r.enthKJ
		}
	}
	for i := range p.rows {
		p.rows[i].enthKJ -= enthalpy0
	}
	return p
}
