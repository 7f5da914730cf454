package config

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"

	"luted/analysis"
	"luted/analysis/solvent"
)

// Price is money for a quantity.
type Price struct {
	Currency string             // code of three capital letters (ISO 4217)
	Amount   float64            // for one inside unit of Per
	Per      analysis.Dimension // empty: for one run
}

// ParsePrice reads money for a quantity of one of the dimensions, such as "0.14 USD/kWh" or
// "9.50 USD/gal"; without a dimension money for each run, "6.50 USD". The error says what to write.
func ParsePrice(s string, per ...analysis.Dimension) (Price, error) {
	want := "write for instance " + examplePrice(per)
	v, rest, err := splitNumber(s)
	if err != nil {
		err.want = cmp.Or(err.want, want)
		return Price{}, err
	}
	money, unit, found := strings.Cut(rest, "/")
	money, unit = strings.TrimSpace(money), strings.TrimSpace(unit)
	switch {
	case rest == "":
		return Price{}, &quantityError{s, "no currency", want}
	case !currency(money):
		return Price{}, &quantityError{s, "no currency " + quote(money), "write its code of three capital letters: " + strings.TrimPrefix(want, "write ")}
	case v == 0:
		return Price{}, &quantityError{s, "a price of nothing", "leave it out if nothing is paid"}
	case v < 0:
		return Price{}, &quantityError{s, "a price cannot be negative", ""}
	}
	if len(per) == 0 {
		if found && unit != "run" {
			return Price{}, &quantityError{s, "this price is for each run", want}
		}
		return Price{Currency: money, Amount: v}, nil
	}
	if !found {
		return Price{}, &quantityError{s, "no unit of " + dimensionWords(per), want}
	}
	for _, d := range per {
		if u, ok := lookupUnit(unit, d); ok {
			amount := v / u.Factor
			if amount == 0 || math.IsInf(amount, 0) {
				return Price{}, &quantityError{s, "no such price", want}
			}
			return Price{money, amount, d}, nil
		}
	}
	var all, common []string
	for _, d := range per {
		all, common = append(all, spellings(unitTable[d])...), append(common, commonUnits(d)...)
	}
	return Price{}, &quantityError{s, "no unit of " + dimensionWords(per) + " " + quote(unit), oneOf(unit, all, common...)}
}

func examplePrice(per []analysis.Dimension) string {
	switch {
	case len(per) == 0:
		return "6.50 USD"
	case per[0] == analysis.Energy:
		return "0.14 USD/kWh"
	}
	return "9.50 USD/gal"
}

// dimensionWords lists dimensions: "volume or mass".
func dimensionWords(ds []analysis.Dimension) string {
	var words []string
	for _, d := range ds {
		words = append(words, string(d))
	}
	return strings.Join(words, " or ")
}

func currency(s string) bool {
	return len(s) == 3 && !strings.ContainsFunc(s, func(c rune) bool { return c < 'A' || c > 'Z' })
}

// priceShape is a price for a quantity of one of the dimensions; of none, for each run.
func priceShape(per ...analysis.Dimension) shape[*Price] {
	return shape[*Price]{
		func(r *reader, n node) (*Price, bool) {
			s, ok := measured(r, n, examplePrice(per))
			if !ok {
				return nil, false
			}
			p, err := ParsePrice(s, per...)
			if err != nil {
				r.failWith(n, err)
				return nil, false
			}
			return &p, true
		},
		func(defs) schema {
			unit := `(/\s*run\s*)?`
			if len(per) > 0 {
				var units []string
				for _, d := range per {
					units = append(units, allSpellings(d)...)
				}
				unit = `/\s*` + alternatives(units) + `\s*`
			}
			number := strings.Replace(numberPattern, "[+−-]?", `\+?`, 1)
			return schema{"type": "string", "pattern": `^\s*` + number + `\s*[A-Z]{3}\s*` + unit + `$`, "examples": []string{examplePrice(per)}}
		},
	}
}

// pricesFile are the prices as they are written, each with its own currency.
type pricesFile struct {
	electricity, solvent, waste, liner *Price
	solvents                           []*solventPriceFile
}

type solventPriceFile struct {
	written string // the name as written
	price   *Price
	at      Pos
}

// solventName is any name: the solvent table decides.
var solventName = nameRule{regexp.MustCompile(`\S`), "no name"}

var volumeOrMass = []analysis.Dimension{analysis.Volume, analysis.Mass}

var pricesShape = mapped(object("prices", []field[pricesFile]{
	key("electricity", priceShape(analysis.Energy), "price of electrical energy", func(p *pricesFile) **Price { return &p.electricity }),
	key("solvent", priceShape(volumeOrMass...), "price of fresh solvent, by volume or weight; solvents: {toluene: ...} for one by one", func(p *pricesFile) **Price { return &p.solvent }),
	key("solvents", named(solventName, always(mapped(priceShape(volumeOrMass...), func(_ *reader, _ node, p *Price) (solventPriceFile, bool) {
		return solventPriceFile{price: p}, true
	})), nil, func(s *solventPriceFile) *string { return &s.written }, func(s *solventPriceFile) *Pos { return &s.at }),
		"prices of fresh solvents one by one, by their names; they go before solvent", func(p *pricesFile) *[]*solventPriceFile { return &p.solvents }),
	key("waste", priceShape(volumeOrMass...), "price of having waste solvent taken away, by volume or weight", func(p *pricesFile) **Price { return &p.waste }),
	key("liner", priceShape(), "price of the liner bag that each run uses up", func(p *pricesFile) **Price { return &p.liner }),
}), func(r *reader, n node, p pricesFile) (Prices, bool) { return p.finish(r, n) })

// finish puts the prices together: all in one currency, the solvents under their names in the table.
func (p *pricesFile) finish(r *reader, n node) (Prices, bool) {
	var out Prices
	ok := true
	take := func(key string, price *Price) (perL, perKg float64) {
		switch {
		case price == nil:
			return 0, 0
		case out.Currency == "":
			out.Currency = price.Currency
		case out.Currency != price.Currency:
			r.failAt(key, price.Currency, "another currency than the prices before it, "+out.Currency, "write all prices in one currency")
			ok = false
		}
		if price.Per == analysis.Mass {
			return 0, price.Amount
		}
		return price.Amount, 0
	}
	unitPrice := func(key string, price *Price) (u analysis.UnitPrice) {
		u.PerL, u.PerKg = take(key, price)
		return u
	}
	out.PerKWh, _ = take(sub(n.key, "electricity"), p.electricity)
	out.Fresh = unitPrice(sub(n.key, "solvent"), p.solvent)
	for _, s := range p.solvents {
		part, known := r.findSolvent(node{&yaml.Node{Kind: yaml.ScalarNode, Value: s.written, Line: s.at.Line}, s.at.Key}, s.written)
		ok = ok && known
		if known && slices.ContainsFunc(out.Solvents, func(o SolventPrice) bool { return o.Name == part.Name }) {
			r.failAt(s.at.Key, s.written, "priced twice: this is "+part.Name, "write it once")
			ok = false
		}
		out.Solvents = append(out.Solvents, SolventPrice{part.Name, unitPrice(s.at.Key, s.price)})
	}
	out.Waste = unitPrice(sub(n.key, "waste"), p.waste)
	out.Liner, _ = take(sub(n.key, "liner"), p.liner)
	return out, ok
}

// For gives the prices as they are for one still: fresh solvent is the still's own. That of a blend is what
// its parts cost, as long as each of them has a price.
func (p Prices) For(m solvent.Mixture) analysis.Prices {
	out := p.Prices
	if len(m.Parts) == 1 {
		out.Fresh = p.fresh(m.Parts[0].Name)
		return out
	}
	perL := 0.0
	for _, part := range m.Parts {
		u := p.fresh(part.Name)
		density, ok := part.Solvent().DensityKgPerL(densityC)
		if !u.Stated() || u.PerKg > 0 && !ok {
			return out
		}
		perL += part.Fraction * (u.PerL + u.PerKg*density)
	}
	if perL > 0 {
		out.Fresh = analysis.UnitPrice{PerL: perL}
	}
	return out
}

// densityC is the temperature at which solvents are sold by volume, °C.
const densityC = 20

// fresh is the price of one solvent.
func (p Prices) fresh(name string) analysis.UnitPrice {
	for _, s := range p.Solvents {
		if s.Name == name {
			return s.Price
		}
	}
	return p.Fresh
}

// lines are the prices as people read them.
func (p Prices) lines(d analysis.Display) []string {
	var out []string
	say := func(what string, perInside float64, dim analysis.Dimension) {
		if perInside > 0 {
			u := DisplayUnit(dim, d)
			out = append(out, what+" "+Money(perInside*u.Factor, p.Currency)+"/"+u.Symbol)
		}
	}
	say("electricity", p.PerKWh, analysis.Energy)
	unit := func(what string, u analysis.UnitPrice) {
		say(what, u.PerL, analysis.Volume)
		say(what, u.PerKg, analysis.Mass)
	}
	for _, s := range p.Solvents {
		unit("fresh "+s.Name, s.Price)
	}
	if len(p.Solvents) > 0 {
		unit("any other fresh solvent", p.Fresh)
	} else {
		unit("fresh solvent", p.Fresh)
	}
	unit("waste", p.Waste)
	if p.Liner > 0 {
		out = append(out, "liner "+Money(p.Liner, p.Currency)+" a run")
	}
	return out
}

// Money writes an amount for people: two decimals, and as many as it takes for three significant digits.
func Money(v float64, currency string) string {
	text := strconv.FormatFloat(v, 'f', 2, 64)
	if exact := significant(v, 3); v != 0 && math.Abs(v) < 1 && strings.TrimRight(exact, "0") != strings.TrimRight(text, "0") {
		text = exact
	}
	return unsigned0(text) + " " + currency
}
