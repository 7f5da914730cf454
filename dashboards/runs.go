package dashboards

import (
	"cmp"
	"context"
	"math"
	"net/http"
	"slices"
	"sort"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

type runsView struct {
	Now   time.Time `json:"now"`
	Total int       `json:"total"` // that match, on this page or not
	Runs  []runView `json:"runs"`
	// Before is the value of the parameter that asks for the runs after these in the same order; absent at
	// the end.
	Before  int64       `json:"before,omitempty"`
	Choices *runChoices `json:"choices,omitempty"`
}

// runChoices is what there is to choose from: what occurs in any run, whatever was asked for.
type runChoices struct {
	Stills   []string           `json:"stills"`
	Solvents []string           `json:"solvents"`
	Verdicts []analysis.Verdict `json:"verdicts"`
	Faults   []analysis.Fault   `json:"faults"`
}

// runQuery chooses runs, their order and how many of them.
type runQuery struct {
	still, solvent string
	verdict        analysis.Verdict
	fault          analysis.Fault // anyFault: any, noFault: none
	from, to       time.Time      // of the start; zero: open
	sort           string
	up             bool
	before         int64 // only what comes after the run of this number in the order asked for; 0: from the first
	limit          int
	choices        bool
}

const (
	anyFault analysis.Fault = "any"
	noFault  analysis.Fault = "none"
)

// runColumns are what runs can be sorted by, each as a number or a word; NaN and "" are not known and come
// last either way.
var runColumns = map[string]func(r *runRow) (float64, string){
	"ended":     func(r *runRow) (float64, string) { return float64(r.seq), "" },
	"start":     func(r *runRow) (float64, string) { return float64(r.Start.UnixMilli()), "" },
	"still":     func(r *runRow) (float64, string) { return math.NaN(), r.still },
	"solvent":   func(r *runRow) (float64, string) { return math.NaN(), r.Solvent },
	"verdict":   func(r *runRow) (float64, string) { return float64(slices.Index(verdictOrder, r.Verdict)), "" },
	"recovered": func(r *runRow) (float64, string) { return known(r.RecoveredL), "" },
	"energy":    func(r *runRow) (float64, string) { return known(r.EnergyKWh), "" },
	"pergal":    func(r *runRow) (float64, string) { return known(r.KWhPerGal), "" },
	"leak": func(r *runRow) (float64, string) {
		return vacuumFigure(r, func(v *analysis.VacuumResult) *float64 { return v.LeakMbarLS }), ""
	},
	"target": func(r *runRow) (float64, string) {
		return vacuumFigure(r, func(v *analysis.VacuumResult) *float64 { return v.TimeToTargetS }), ""
	},
	"dry": func(r *runRow) (float64, string) {
		if r.DryAt == nil {
			return math.NaN(), ""
		}
		return r.DryAt.Sub(r.Start).Seconds(), ""
	},
	"duration": func(r *runRow) (float64, string) { return r.End.Sub(r.Start).Seconds(), "" },
	"faults":   func(r *runRow) (float64, string) { return float64(len(r.Faults)), "" },
}

var verdictOrder = []analysis.Verdict{analysis.GoodRun, analysis.SuspectRun, analysis.FailedRun}

// runSorts are the names of the columns, the first being what stands if nothing is asked for.
var runSorts = func() []string {
	var out []string
	for name := range runColumns {
		if name != "ended" {
			out = append(out, name)
		}
	}
	sort.Strings(out)
	return append([]string{"ended"}, out...)
}()

// known is a figure as a number: NaN if it is not known.
func known(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}

func vacuumFigure(r *runRow, of func(*analysis.VacuumResult) *float64) float64 {
	if r.Vacuum == nil {
		return math.NaN()
	}
	return known(of(r.Vacuum))
}

func (q *runQuery) takes(r *runRow) bool {
	switch {
	case q.still != "" && r.still != q.still,
		q.solvent != "" && r.Solvent != q.solvent,
		q.verdict != "" && r.Verdict != q.verdict,
		!q.from.IsZero() && r.Start.Before(q.from),
		!q.to.IsZero() && r.Start.After(q.to):
		return false
	}
	switch q.fault {
	case "":
		return true
	case anyFault:
		return len(r.Faults) > 0
	case noFault:
		return len(r.Faults) == 0
	}
	return slices.Contains(r.Faults, q.fault)
}

// order compares two runs as the query wants them; runs that are alike come newest first, so that the order
// is one and the same however often it is asked for.
func (q *runQuery) order() func(a, b *runRow) int {
	column := runColumns[q.sort]
	return func(a, b *runRow) int {
		x, xw := column(a)
		y, yw := column(b)
		noX, noY := math.IsNaN(x) && xw == "", math.IsNaN(y) && yw == ""
		c := 0
		switch {
		case noX != noY:
			if noX {
				return 1
			}
			return -1
		case xw != yw:
			c = cmp.Compare(xw, yw)
		default:
			c = cmp.Compare(x, y)
		}
		if !q.up {
			c = -c
		}
		return cmp.Or(c, cmp.Compare(b.seq, a.seq))
	}
}

// chooseRuns returns the runs that a query takes, in its order.
func chooseRuns(all []runRow, q *runQuery) []*runRow {
	var out []*runRow
	for i := range all {
		if q.takes(&all[i]) {
			out = append(out, &all[i])
		}
	}
	if q.sort == "ended" && !q.up {
		slices.Reverse(out) // the journal's own order: nothing to compare
		return out
	}
	slices.SortFunc(out, q.order())
	return out
}

// page returns the piece of the chosen runs that the query wants.
func (q *runQuery) page(chosen, all []*runRow) ([]*runRow, error) {
	if q.before == 0 {
		return chosen[:min(q.limit, len(chosen))], nil
	}
	after := &runRow{seq: q.before}
	if q.sort != "ended" { // a number alone says where in the journal, not where in another order
		i, found := slices.BinarySearchFunc(all, q.before, func(r *runRow, seq int64) int { return cmp.Compare(r.seq, seq) })
		if !found {
			return nil, badRequest([]paramProblem{{"before", "no run is journaled under this number; take it from the answer before"}})
		}
		after = all[i]
	}
	order := q.order()
	i, _ := slices.BinarySearchFunc(chosen, after, func(r, t *runRow) int {
		if order(r, t) <= 0 {
			return -1
		}
		return 1
	})
	return chosen[i:min(i+q.limit, len(chosen))], nil
}

// findRuns answers a query.
func (s *server) findRuns(ctx context.Context, q runQuery) (runsView, error) {
	journal, err := s.ledgerNow(ctx)
	if err != nil {
		return runsView{}, err
	}
	rows := journal.runs
	chosen := chooseRuns(rows, &q)
	all := make([]*runRow, 0)
	if q.before != 0 && q.sort != "ended" {
		for i := range rows {
			all = append(all, &rows[i])
		}
	}
	shown, err := q.page(chosen, all)
	if err != nil {
		return runsView{}, err
	}
	out := runsView{Now: stamp(s.Now()), Total: len(chosen), Runs: []runView{}}
	for _, r := range shown {
		full, err := s.fullRun(ctx, *r)
		if err != nil {
			return out, err
		}
		out.Runs = append(out.Runs, full)
	}
	if n := len(shown); n > 0 && shown[n-1] != chosen[len(chosen)-1] {
		out.Before = shown[n-1].seq
	}
	if q.choices {
		out.Choices = choicesOf(rows)
	}
	return out, nil
}

func choicesOf(rows []runRow) *runChoices {
	c := &runChoices{[]string{}, []string{}, []analysis.Verdict{}, []analysis.Fault{}}
	stills, solvents, verdicts, faults := map[string]bool{}, map[string]bool{}, map[analysis.Verdict]bool{}, map[analysis.Fault]bool{}
	for i := range rows {
		r := &rows[i]
		stills[r.still], verdicts[r.Verdict] = true, true
		if r.Solvent != "" {
			solvents[r.Solvent] = true
		}
		for _, f := range r.Faults {
			faults[f] = true
		}
	}
	for w := range stills {
		c.Stills = append(c.Stills, w)
	}
	for w := range solvents {
		c.Solvents = append(c.Solvents, w)
	}
	slices.Sort(c.Stills)
	slices.Sort(c.Solvents)
	for _, v := range verdictOrder {
		if verdicts[v] {
			c.Verdicts = append(c.Verdicts, v)
		}
	}
	for _, f := range alarm.Faults {
		if faults[f] {
			c.Faults = append(c.Faults, f)
		}
	}
	return c
}

func (s *server) runs(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	return s.answerRuns(w, r, p, p.text("still"))
}

func (s *server) stillRuns(w http.ResponseWriter, r *http.Request) error {
	return s.answerRuns(w, r, queryParams(r), r.PathValue("still"))
}

func (s *server) answerRuns(w http.ResponseWriter, r *http.Request, p *params, still string) error {
	q := runQuery{
		still: still, solvent: p.text("solvent"),
		verdict: analysis.Verdict(p.oneOf("verdict", "", string(analysis.GoodRun), string(analysis.SuspectRun), string(analysis.FailedRun))),
		fault:   faultParam(p), from: p.moment("from", time.Time{}), to: p.moment("to", time.Time{}),
		sort: p.oneOf("sort", runSorts...), up: p.oneOf("order", "descending", "ascending") == "ascending",
		before: p.integer("before", 0, 1, 1<<62), limit: int(p.integer("limit", 50, 1, 500)),
		choices: p.oneOf("choices", "no", "yes") == "yes",
	}
	if err := p.done(); err != nil {
		return err
	}
	if still != "" {
		if _, err := s.findStill(still); err != nil {
			return err
		}
	}
	out, err := s.findRuns(r.Context(), q)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, out)
}

// faultParam reads the name of a fault, any or none.
func faultParam(p *params) analysis.Fault {
	f := analysis.Fault(p.text("fault"))
	if f != "" && f != anyFault && f != noFault && !slices.Contains(alarm.Faults, f) {
		p.wrong("fault", "%q is not the name of a fault; write one of the catalogue, any or none", f)
	}
	return f
}
