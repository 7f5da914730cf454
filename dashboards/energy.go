package dashboards

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"luted/analysis"
	"luted/config"
)

// energySpan is how far the energy account looks back if nobody says.
const energySpan = 366 * 24 * time.Hour

// energyView is what was used and recovered over some time, against the baseline and the least there is.
type energyView struct {
	Now       time.Time          `json:"now"`
	From      time.Time          `json:"from"`
	To        time.Time          `json:"to"`
	Total     analysis.EnergySum `json:"total"`
	ByStill   []energyGroup      `json:"by_still"`
	BySolvent []energyGroup      `json:"by_solvent"`
	ByMonth   []energyGroup      `json:"by_month"` // of the site's calendar, oldest first
	Runs      []energyRun        `json:"runs,omitempty"`
	Baselines []stillBaseline    `json:"baselines"`
	Prices    *pricesView        `json:"prices,omitempty"` // absent: none is stated
	Assumes   []string           `json:"assumes"`
}

// energyGroup is the account of some of the runs.
type energyGroup struct {
	Key   string     `json:"key"`             // still, solvent, or month as 2026-03; empty: the solvent is not stated
	Start *time.Time `json:"start,omitempty"` // of the month
	analysis.EnergySum
}

// energyRun is one run of one still in the account, with the sum of actual less expected up to it.
type energyRun struct {
	Seq            int64            `json:"seq"`
	Run            int              `json:"run"`
	Start          time.Time        `json:"start"`
	Solvent        string           `json:"solvent,omitempty"`
	Verdict        analysis.Verdict `json:"verdict"`
	EnergyKWh      *float64         `json:"energy_kwh,omitempty"`
	EnergyKWhU     *float64         `json:"energy_kwh_u,omitempty"`
	EnergyBasis    string           `json:"energy_basis,omitempty"`
	RecoveredL     *float64         `json:"recovered_l,omitempty"`
	RecoveredLU    *float64         `json:"recovered_l_u,omitempty"`
	RecoveredBasis string           `json:"recovered_basis,omitempty"`
	PerGal         *float64         `json:"kwh_per_gal,omitempty"`
	PerGalU        *float64         `json:"kwh_per_gal_u,omitempty"`
	Minimum        *float64         `json:"minimum_kwh_per_gal,omitempty"`
	Expected       *float64         `json:"expected_kwh,omitempty"`
	ExpectedU      *float64         `json:"expected_kwh_u,omitempty"`
	Sum            *float64         `json:"cusum_kwh,omitempty"` // since the first run of this solvent in the time asked for
	SumU           *float64         `json:"cusum_kwh_u,omitempty"`
}

type stillBaseline struct {
	Still string `json:"still"`
	analysis.EnergyBaseline
}

// pricesView are the prices as the configuration states them.
type pricesView struct {
	Currency string         `json:"currency"`
	PerKWh   *float64       `json:"per_kwh,omitempty"`
	Fresh    *unitPrice     `json:"fresh,omitempty"`
	Solvents []solventPrice `json:"solvents,omitempty"` // that have a price of their own
	Waste    *unitPrice     `json:"waste,omitempty"`
	Liner    *float64       `json:"liner,omitempty"` // of one, used up by each run
}

type unitPrice struct {
	PerL  *float64 `json:"per_l,omitempty"`
	PerKg *float64 `json:"per_kg,omitempty"`
}

type solventPrice struct {
	Name string `json:"name"`
	unitPrice
}

func newPrices(p config.Prices) *pricesView {
	if p.Currency == "" {
		return nil
	}
	stated := func(v float64) *float64 {
		if v <= 0 {
			return nil
		}
		return &v
	}
	unit := func(u analysis.UnitPrice) *unitPrice {
		if !u.Stated() {
			return nil
		}
		return &unitPrice{stated(u.PerL), stated(u.PerKg)}
	}
	v := &pricesView{Currency: p.Currency, PerKWh: stated(p.PerKWh), Fresh: unit(p.Fresh), Waste: unit(p.Waste), Liner: stated(p.Liner)}
	for _, s := range p.Solvents {
		v.Solvents = append(v.Solvents, solventPrice{s.Name, *unit(s.Price)})
	}
	return v
}

func (s *server) energy(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	q := runQuery{still: p.text("still"), solvent: p.text("solvent"), to: p.moment("to", stamp(s.Now()))}
	q.from = p.moment("from", q.to.Add(-energySpan))
	if len(p.errs) == 0 && !q.from.Before(q.to) {
		p.wrong("from", "%s is not before to, %s", q.from.Format(time.RFC3339), q.to.Format(time.RFC3339))
	}
	if err := p.done(); err != nil {
		return err
	}
	if q.still != "" {
		if _, err := s.findStill(q.still); err != nil {
			return err
		}
	}
	journal, err := s.ledgerNow(r.Context())
	if err != nil {
		return err
	}
	rows := journal.runs
	a := newAccountant(s)
	var runs []analysis.AccountRun
	var chosen []*runRow
	for i := range rows {
		if row := &rows[i]; q.takes(row) && !row.Open {
			runs, chosen = append(runs, a.run(row)), append(chosen, row)
		}
	}
	out := energyView{
		Now: stamp(s.Now()), From: q.from, To: q.to, Total: analysis.SumRuns(runs), Prices: newPrices(s.Prices), Baselines: a.shown(q.still), Assumes: a.assumes,
		ByStill:   groupRuns(runs, func(r *analysis.AccountRun) string { return r.Still }),
		BySolvent: groupRuns(runs, func(r *analysis.AccountRun) string { return r.Solvent }),
		ByMonth:   s.byMonth(runs),
	}
	if q.still != "" {
		out.Runs = runByRun(runs, chosen)
	}
	return s.writeJSON(w, r, out)
}

// accountant puts runs into the account: with the scatter of the still's baseline, and in money at the
// prices as they are stated now, whatever they were when the run ended.
type accountant struct {
	prices    config.Prices
	display   analysis.Display
	stills    map[string]StillView
	sd        map[string]float64 // by still and solvent
	baselines []stillBaseline
	perKind   map[string]analysis.Prices
	assumes   []string
}

func newAccountant(s *server) *accountant {
	a := &accountant{prices: s.Prices, display: s.Site.Display, stills: map[string]StillView{}, sd: map[string]float64{}, perKind: map[string]analysis.Prices{}, assumes: []string{}}
	for _, v := range s.Shop.Stills() {
		a.stills[v.Config.Name] = v
		for _, b := range v.Memory.EnergyBaselines() {
			if b.SDKWh != nil {
				a.sd[v.Config.Name+"\n"+b.Solvent] = *b.SDKWh
			}
			if b.Runs > 0 || b.Solvent != "" {
				a.baselines = append(a.baselines, stillBaseline{v.Config.Name, b})
			}
		}
	}
	return a
}

func (a *accountant) shown(still string) []stillBaseline {
	out := []stillBaseline{}
	for _, b := range a.baselines {
		if still == "" || b.Still == still {
			out = append(out, b)
		}
	}
	return out
}

func (a *accountant) run(r *runRow) analysis.AccountRun {
	cost := a.pricesOf(r).CostOf(&r.Summary, a.display)
	if cost != nil {
		for _, w := range cost.Assumes {
			if !slices.Contains(a.assumes, w) {
				a.assumes = append(a.assumes, w)
			}
		}
	}
	return analysis.AccountRun{Still: r.still, Summary: &r.Summary, Cost: cost, SD: a.sd[r.still+"\n"+r.Solvent]}
}

// pricesOf are the prices for a run: looked up once for each still and solvent.
func (a *accountant) pricesOf(r *runRow) analysis.Prices {
	key := r.still + "\n" + r.Solvent
	if p, ok := a.perKind[key]; ok {
		return p
	}
	p := pricesFor(a.prices, a.stills[r.still].Config, r.Solvent)
	a.perKind[key] = p
	return p
}

// groupRuns sums up by a key, in the order of the keys.
func groupRuns(runs []analysis.AccountRun, key func(*analysis.AccountRun) string) []energyGroup {
	by := map[string][]analysis.AccountRun{}
	for i := range runs {
		k := key(&runs[i])
		by[k] = append(by[k], runs[i])
	}
	out := []energyGroup{}
	for k, some := range by {
		out = append(out, energyGroup{Key: k, EnergySum: analysis.SumRuns(some)})
	}
	slices.SortFunc(out, func(a, b energyGroup) int { return cmp.Compare(a.Key, b.Key) })
	return out
}

func (s *server) byMonth(runs []analysis.AccountRun) []energyGroup {
	out := groupRuns(runs, func(r *analysis.AccountRun) string { return r.Start.In(s.Site.TimeZone).Format("2006-01") })
	for i := range out {
		if t, err := time.ParseInLocation("2006-01", out[i].Key, s.Site.TimeZone); err == nil {
			out[i].Start = moment(t)
		}
	}
	return out
}

// runByRun lists the runs of one still, oldest first, each with the sum up to it: one sum a solvent, as each
// has its own baseline.
func runByRun(runs []analysis.AccountRun, rows []*runRow) []energyRun {
	sums := map[string]*analysis.Difference{}
	out := []energyRun{}
	for i := range runs {
		r, row := &runs[i], rows[i]
		e := energyRun{
			Seq: row.seq, Run: row.run, Start: r.Start, Solvent: r.Solvent, Verdict: r.Verdict, EnergyKWh: r.EnergyKWh, EnergyKWhU: r.EnergyKWhU, EnergyBasis: r.EnergyBasis,
			RecoveredL: r.RecoveredL, RecoveredLU: r.RecoveredLU, RecoveredBasis: r.RecoveredBasis, PerGal: r.KWhPerGal, PerGalU: r.KWhPerGalU,
			Minimum: r.MinimumKWhPerGal, Expected: r.ExpectedKWh, ExpectedU: r.ExpectedKWhU,
		}
		d := sums[r.Solvent]
		if d == nil {
			d = &analysis.Difference{}
			sums[r.Solvent] = d
		}
		if d.Add(r) {
			e.Sum = figure(d.KWh)
			if u := d.U(); u > 0 {
				e.SumU = figure(u)
			}
		}
		out = append(out, e)
	}
	return out
}
