package analysis

import (
	"math"
	"strconv"
	"strings"

	"luted/analysis/physics"
)

// Cost is a run in money: only what the stated prices and the run's figures allow, each with its basis in
// plain words. Prices are taken as exact; an uncertainty is that of the figures (GUM).
type Cost struct {
	Currency     string      `json:"currency"`
	Energy       *CostFigure `json:"energy,omitempty"`         // paid for energy
	Liner        *CostFigure `json:"liner,omitempty"`          // paid for the liner bag
	Purchase     *CostFigure `json:"purchase,omitempty"`       // fresh solvent that need not be bought
	Disposal     *CostFigure `json:"disposal,omitempty"`       // waste that need not be taken away
	Saving       *CostFigure `json:"saving,omitempty"`         // what was avoided less what was paid
	SavingPerGal *CostFigure `json:"saving_per_gal,omitempty"` // the same for each US gallon recovered
	Assumes      []string    `json:"assumes,omitempty"`        // what is taken for granted or not counted, in plain words
}

// CostFigure is an amount of money.
type CostFigure struct {
	Value float64  `json:"value"`
	U     *float64 `json:"u,omitempty"` // standard uncertainty; absent: that of the price, which is not known
	Basis string   `json:"basis"`
}

// What every saving takes for granted.
const (
	assumeFresh  = "what was recovered is used in place of bought solvent, amount for amount"
	assumeWaste  = "what was recovered would have been taken away as waste; the residue goes as waste either way"
	assumeLeft   = "compressed air, cooling water, labor and upkeep of the still are not counted"
	assumeByHeat = "the amount recovered is itself an estimate from the heat"
)

// CostOf puts the figures of a run into money; nil if no price or no figure allows anything. An open run
// has no cost yet.
func (p Prices) CostOf(s *Summary, d Display) *Cost {
	if p.Currency == "" || s.Open {
		return nil
	}
	c := &Cost{Currency: p.Currency}
	w := words{us: d == US}
	var paid, saved bill
	if p.PerKWh > 0 && s.EnergyKWh != nil {
		c.Energy = paid.add(*s.EnergyKWh*p.PerKWh, p.PerKWh*value(s.EnergyKWhU),
			significantWords(*s.EnergyKWh)+" kWh ("+s.EnergyBasis+") at "+p.rate(p.PerKWh, "kWh"))
	}
	if p.Liner > 0 {
		c.Liner = &CostFigure{Value: round(p.Liner), Basis: "one liner bag a run"}
		paid.sum += p.Liner
	}
	c.Purchase = p.avoided(&saved, p.Fresh, s, w)
	c.Disposal = p.avoided(&saved, p.Waste, s, w)
	if c.Energy != nil && saved.sum > 0 {
		p.saving(c, s, paid, saved)
	} else {
		p.assume(c, s)
	}
	if c.Energy == nil && c.Purchase == nil && c.Disposal == nil {
		return nil
	}
	return c
}

// bill adds up amounts. The uncertainties of amounts from the same figure add up as they are, for they err
// together (GUM 5.2.2, note 1).
type bill struct{ sum, u float64 }

func (b *bill) add(v, u float64, basis string) *CostFigure {
	b.sum, b.u = b.sum+v, b.u+u
	return &CostFigure{Value: round(v), U: number(u, u > 0), Basis: basis}
}

// avoided is what the recovered solvent saves at a price by volume or weight; nil if that is not known.
func (p Prices) avoided(b *bill, at UnitPrice, s *Summary, w words) *CostFigure {
	if !at.Stated() || s.RecoveredL == nil || *s.RecoveredL <= 0 {
		return nil
	}
	liters, relative := *s.RecoveredL, value(s.RecoveredLU) / *s.RecoveredL
	how := " recovered (by " + s.RecoveredBasis + ") at "
	if at.PerKg > 0 {
		if s.RecoveredKg == nil {
			return nil // its density is not known
		}
		kg := *s.RecoveredKg
		text := num(kg, 1) + " kg" + how + p.rate(at.PerKg, "kg")
		if w.us {
			text = num(kg/kgPerLb, 1) + " lb" + how + p.rate(at.PerKg*kgPerLb, "lb")
		}
		return b.add(kg*at.PerKg, kg*at.PerKg*relative, text)
	}
	rate := p.rate(at.PerL, "L")
	if w.us {
		rate = p.rate(at.PerL*LPerGal, "gal")
	}
	return b.add(liters*at.PerL, liters*at.PerL*relative, w.volume(liters)+how+rate)
}

// saving is what was avoided less what was paid, of the run and of each gallon.
func (p Prices) saving(c *Cost, s *Summary, paid, saved bill) {
	basis := ""
	for _, part := range []struct {
		f    *CostFigure
		word string
	}{{c.Purchase, "purchase avoided"}, {c.Disposal, "+ disposal avoided"}, {c.Energy, "− energy"}, {c.Liner, "− liner"}} {
		switch {
		case part.f == nil:
		case basis == "":
			basis = strings.TrimPrefix(part.word, "+ ")
		default:
			basis += " " + part.word
		}
	}
	u, _ := physics.Combined(physics.Contribution{U: saved.u}, physics.Contribution{U: paid.u})
	c.Saving = &CostFigure{Value: round(saved.sum - paid.sum), U: number(u, u > 0), Basis: basis}
	// By the gallon, what was avoided is the price itself; what was paid is spread over the gallons:
	// f = a − c/V, so u² = (u(c)/V)² + (c·u(V)/V²)² (GUM, eq. 10).
	if gal := *s.RecoveredL / LPerGal; gal > 0.5/LPerGal {
		u, _ := physics.Combined(physics.Contribution{U: paid.u / gal},
			physics.Contribution{U: paid.sum / gal * value(s.RecoveredLU) / *s.RecoveredL})
		c.SavingPerGal = &CostFigure{Value: round((saved.sum - paid.sum) / gal), U: number(u, u > 0), Basis: "the saving over " + num(gal, 1) + " gal recovered"}
	}
	p.assume(c, s)
}

// assume says what the figures take for granted and what they leave out.
func (p Prices) assume(c *Cost, s *Summary) {
	say := func(when bool, text string) {
		if when {
			c.Assumes = append(c.Assumes, text)
		}
	}
	say(c.Purchase != nil, assumeFresh)
	say(c.Disposal != nil, assumeWaste)
	say((c.Purchase != nil || c.Disposal != nil) && s.RecoveredBasis == byHeat, assumeByHeat)
	if c.Saving == nil {
		return
	}
	say(!p.Fresh.Stated(), "fresh solvent is not counted: no price is stated")
	say(p.Fresh.Stated() && c.Purchase == nil || p.Waste.Stated() && c.Disposal == nil, "what is priced by weight is not counted: the density is not known")
	say(!p.Waste.Stated(), "disposal is not counted: no price is stated")
	say(p.Liner <= 0, "the liner bag is not counted: no price is stated")
	say(true, assumeLeft)
}

const kgPerLb = 0.45359237 // exact: NIST SP 811, appendix B

// rate writes a price: two decimals, and as many as it takes for three digits.
func (p Prices) rate(v float64, unit string) string {
	text := num(v, 2)
	if exact := strings.TrimRight(significantWords(v), "0"); v < 1 && len(exact) > len(text) {
		text = exact
	}
	return text + " " + p.Currency + "/" + unit
}

// significantWords writes a number with three significant digits and no exponent.
func significantWords(v float64) string {
	decimals := 2 - int(math.Floor(math.Log10(max(math.Abs(v), 1e-9))))
	return strconv.FormatFloat(v, 'f', max(decimals, 0), 64)
}

// value is a figure, or nothing where there is none.
func value(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}
