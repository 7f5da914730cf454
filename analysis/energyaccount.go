package analysis

import (
	"maps"
	"math"
	"slices"

	"luted/analysis/physics"
)

// AccountRun is a finished run in an account over many of them.
type AccountRun struct {
	Still string
	*Summary
	Cost *Cost   // in money; nil: no price or no figure allows any
	SD   float64 // of a single run about the still's baseline, kWh; 0: not known
}

// EnergySum sums up runs. A figure that cannot be known is nil; the counts say how many runs stand behind
// each.
type EnergySum struct {
	Runs       int      `json:"runs"`
	EnergyRuns int      `json:"energy_runs"` // whose energy is known
	KWh        *float64 `json:"kwh,omitempty"`
	KWhU       *float64 `json:"kwh_u,omitempty"`
	VolumeRuns int      `json:"volume_runs"` // whose recovered volume is known
	L          *float64 `json:"l,omitempty"`
	LU         *float64 `json:"l_u,omitempty"`

	PerGalRuns       int            `json:"per_gal_runs"` // of which both are known
	PerGal           *float64       `json:"kwh_per_gal,omitempty"`
	PerGalU          *float64       `json:"kwh_per_gal_u,omitempty"`
	MinimumKWhPerGal *float64       `json:"minimum_kwh_per_gal,omitempty"` // of those runs for which it is known, by volume
	Bases            map[string]int `json:"bases,omitempty"`               // how the volume of those runs was known

	ComparedRuns  int      `json:"compared_runs"` // with a baseline
	ExpectedKWh   *float64 `json:"expected_kwh,omitempty"`
	DifferenceKWh *float64 `json:"difference_kwh,omitempty"` // actual less expected: energy wasted is positive
	DifferenceU   *float64 `json:"difference_kwh_u,omitempty"`

	Money *MoneySum `json:"money,omitempty"`
}

// MoneySum sums up runs in money.
type MoneySum struct {
	Currency string       `json:"currency"`
	Energy   *MoneyFigure `json:"energy,omitempty"`
	Liner    *MoneyFigure `json:"liner,omitempty"`
	Purchase *MoneyFigure `json:"purchase,omitempty"` // avoided
	Disposal *MoneyFigure `json:"disposal,omitempty"` // avoided
	Saving   *MoneyFigure `json:"saving,omitempty"`
}

// MoneyFigure is an amount of money over some runs.
type MoneyFigure struct {
	Value float64  `json:"value"`
	U     *float64 `json:"u,omitempty"` // standard uncertainty
	Runs  int      `json:"runs"`
}

// metered adds up figures of which those of one still come from one meter. What that meter reads wrong it
// reads wrong in every run, so within a still uncertainties add up as they are, the most that they can; the
// meters of different stills err by themselves and add up by their squares (GUM 5.2.2, note 1, and 5.1.2).
type metered struct {
	sum float64
	u   map[string]float64
	n   int
}

func (t *metered) add(still string, v, u float64) {
	if t.u == nil {
		t.u = map[string]float64{}
	}
	t.sum += v
	t.u[still] += u
	t.n++
}

func (t *metered) unsure() float64 {
	var parts []physics.Contribution
	for _, still := range slices.Sorted(maps.Keys(t.u)) {
		parts = append(parts, physics.Contribution{U: t.u[still]})
	}
	u, _ := physics.Combined(parts...)
	return u
}

func (t *metered) figure() (v, u *float64) {
	if t.n == 0 {
		return nil, nil
	}
	s := t.unsure()
	return number(t.sum, true), number(s, s > 0)
}

// SumRuns sums up runs.
func SumRuns(runs []AccountRun) EnergySum {
	s := EnergySum{Runs: len(runs)}
	var kWh, litres, bothKWh, bothL metered
	var least, leastL float64
	var d Difference
	for i := range runs {
		r := &runs[i]
		if r.EnergyKWh != nil {
			kWh.add(r.Still, *r.EnergyKWh, value(r.EnergyKWhU))
		}
		if r.RecoveredL != nil {
			litres.add(r.Still, *r.RecoveredL, value(r.RecoveredLU))
		}
		if r.EnergyKWh != nil && r.RecoveredL != nil && *r.RecoveredL > 0 {
			bothKWh.add(r.Still, *r.EnergyKWh, value(r.EnergyKWhU))
			bothL.add(r.Still, *r.RecoveredL, value(r.RecoveredLU))
			if s.Bases == nil {
				s.Bases = map[string]int{}
			}
			s.Bases[r.RecoveredBasis]++
			if r.MinimumKWhPerGal != nil {
				least += *r.MinimumKWhPerGal * *r.RecoveredL
				leastL += *r.RecoveredL
			}
		}
		d.Add(r)
	}
	s.EnergyRuns, s.VolumeRuns, s.PerGalRuns = kWh.n, litres.n, bothL.n
	s.KWh, s.KWhU = kWh.figure()
	s.L, s.LU = litres.figure()
	if bothL.n > 0 && bothL.sum > 0 {
		per := bothKWh.sum / bothL.sum * LPerGal
		relative, _ := physics.Combined(physics.Contribution{U: bothKWh.unsure() / bothKWh.sum}, physics.Contribution{U: bothL.unsure() / bothL.sum}) // GUM 5.1.6
		s.PerGal, s.PerGalU = number(per, true), number(per*relative, relative > 0)
		s.MinimumKWhPerGal = number(least/leastL, leastL > 0)
	}
	if d.Runs > 0 {
		s.ComparedRuns, s.ExpectedKWh, s.DifferenceKWh = d.Runs, number(d.expected, true), number(d.KWh, true)
		s.DifferenceU = number(d.U(), d.U() > 0)
	}
	s.Money = sumMoney(runs)
	return s
}

// Difference is the running sum of actual less expected energy, the CUSUM of ISO 50006 practice. The meter
// stands on both sides, in the baseline and in the run, so what it always reads wrong is not counted again.
// What is counted: the scatter of single runs, which add up by their squares, and the doubt about the line
// itself, which is the same in each run and adds up as it is (GUM 5.2.2, note 1).
type Difference struct {
	Runs     int
	KWh      float64
	expected float64
	scatter  float64 // sum of squares, kWh²
	line     float64 // kWh
}

// Add takes a run into the sum; one without a baseline changes nothing and gives false.
func (d *Difference) Add(r *AccountRun) bool {
	if r.EnergyKWh == nil || r.ExpectedKWh == nil {
		return false
	}
	d.Runs++
	d.KWh += *r.EnergyKWh - *r.ExpectedKWh
	d.expected += *r.ExpectedKWh
	u := value(r.ExpectedKWhU)
	s := min(max(r.SD, leastScatter**r.ExpectedKWh), u)
	d.scatter += s * s
	d.line += math.Sqrt(max(0, u*u-s*s))
	return true
}

// U is the standard uncertainty of the sum, kWh; 0: it is not known.
func (d *Difference) U() float64 { return math.Hypot(math.Sqrt(d.scatter), d.line) }

func sumMoney(runs []AccountRun) *MoneySum {
	var m MoneySum
	var energy, liner, purchase, disposal, saving metered
	for i := range runs {
		c := runs[i].Cost
		if c == nil || m.Currency != "" && c.Currency != m.Currency {
			continue
		}
		m.Currency = c.Currency
		for _, p := range []struct {
			to   *metered
			from *CostFigure
		}{{&energy, c.Energy}, {&liner, c.Liner}, {&purchase, c.Purchase}, {&disposal, c.Disposal}, {&saving, c.Saving}} {
			if p.from != nil {
				p.to.add(runs[i].Still, p.from.Value, value(p.from.U))
			}
		}
	}
	if m.Currency == "" {
		return nil
	}
	for _, p := range []struct {
		to   **MoneyFigure
		from *metered
	}{{&m.Energy, &energy}, {&m.Liner, &liner}, {&m.Purchase, &purchase}, {&m.Disposal, &disposal}, {&m.Saving, &saving}} {
		if v, u := p.from.figure(); v != nil {
			*p.to = &MoneyFigure{*v, u, p.from.n}
		}
	}
	return &m
}
