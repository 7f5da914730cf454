package dashboards

import (
	"context"
	"maps"
	"slices"
	"strings"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/config"
)

// entering puts what people have entered about a run into its summary: the one way in which every table,
// chart, sum and record shows it. The journaled summary itself is never changed.
type entering struct {
	prices  config.Prices    // as they are stated now
	display analysis.Display // the site's, in which a cost says its basis
}

func (s *server) entering() entering { return entering{s.Prices, s.Site.Display} }

// summaryFields are the fields of a record that a summary knows too.
var summaryFields = []string{"solvent", "recovered"}

// said is the summary with the amendments of the run.
func (e entering) said(st *config.Still, s *analysis.Summary, amends map[string][]saidAmend) *analysis.Summary {
	return e.present(st, s, fieldsOf(st, e.display, &runJournal{summary: s, amends: amends}))
}

// present is the summary with what people have entered; s itself if they have entered nothing that it knows.
func (e entering) present(st *config.Still, s *analysis.Summary, fields []RecordField) *analysis.Summary {
	if s == nil {
		return nil
	}
	other, recovered := field(fields, "solvent"), field(fields, "recovered")
	otherSolvent := other.Basis == byPerson && !strings.EqualFold(other.Text, s.Solvent)
	entered := recovered.Basis == byPerson && recovered.Number != nil
	if !otherSolvent && !entered {
		return s
	}
	out := *s
	density, _ := st.Equipment.Solvent.DensityKgPerL()
	if st.Equipment.Solvent.String() != s.Solvent {
		density = 0 // the configuration has changed since
	}
	if s.RecoveredKg != nil && s.RecoveredL != nil && *s.RecoveredL > 0 {
		density = *s.RecoveredKg / *s.RecoveredL
	}
	if otherSolvent {
		// Another solvent than the analysis reckoned with: what rests on its properties, or on the good runs
		// with it, is not known.
		out.Solvent, out.MinimumKWhPerGal, out.RatioToMinimum = other.Text, nil, nil
		out.RecoveredKg, out.KWhPerKg, out.KWhPerKgU = nil, nil, nil
		out.ExpectedKWh, out.ExpectedKWhU, out.ExpectedPerL = nil, nil, nil
		density = 0
		if known, ok := solvent.Find(other.Text); ok {
			density, _ = known.DensityKgPerL(20)
		}
	}
	if entered {
		out = out.WithEntered(*recovered.Number, density)
	}
	out.Cost = pricesFor(e.prices, st, out.Solvent).CostOf(&out, e.display)
	return &out
}

// pricesFor are the prices for a run with a solvent: those of the still as it is configured, or of the
// solvent itself.
func pricesFor(prices config.Prices, st *config.Still, solventName string) analysis.Prices {
	if st != nil {
		mix := st.Equipment.Solvent
		if mix.String() == solventName || solventName == "" && len(mix.Parts) == 0 {
			return prices.For(mix)
		}
	}
	if known, ok := solvent.Find(solventName); ok {
		return prices.For(solvent.Mixture{Parts: []solvent.Part{{Name: known.Name(), Fraction: 1}}})
	}
	p := prices.Prices
	p.Fresh = analysis.UnitPrice{} // a blend of before, whose parts are not known any more
	return p
}

// runSaid is a run of the ledger that people have entered something about.
type runSaid struct {
	journaled analysis.Summary // as the row had it
	amends    map[string][]saidAmend
}

// amend keeps what a person has entered about a run, for enterAmends to put in. The maps that rows hold are
// never changed: somebody may be reading them.
func (l *ledger) amend(e archive.Entry, a archive.Amend) {
	if !slices.Contains(summaryFields, a.Field) {
		return
	}
	key := runName{l.word(e.Still), e.Run}
	if l.amends == nil {
		l.amends = map[runName]map[string][]saidAmend{}
	}
	said := maps.Clone(l.amends[key])
	if said == nil {
		said = map[string][]saidAmend{}
	}
	said[a.Field] = []saidAmend{{e.Seq, stamp(e.At), a}}
	l.amends[key] = said
	l.changed(key)
}

// changed notes that the rows of a run are to be looked at again, if anybody has entered anything about it.
func (l *ledger) changed(key runName) {
	if l.amends[key] == nil {
		return
	}
	if l.unsaid == nil {
		l.unsaid = map[runName]bool{}
	}
	l.unsaid[key] = true
}

// enterAmends puts what people have entered since the last time into the rows. It works on a copy, for the
// rows of before are being read by others.
func (l *ledger) enterAmends(e entering, stills []StillView) {
	if len(l.unsaid) == 0 {
		return
	}
	configured := map[string]*config.Still{}
	for _, v := range stills {
		configured[v.Config.Name] = v.Config
	}
	rows := slices.Clone(l.runs)
	for i := range rows {
		r := &rows[i]
		key := runName{r.still, r.run}
		if !l.unsaid[key] {
			continue
		}
		st := configured[r.still]
		if st == nil {
			st = &config.Still{Name: r.still} // of before: nothing is known of it but its runs
		}
		said := &runSaid{r.Summary, l.amends[key]}
		if r.said != nil {
			said.journaled = r.said.journaled
		}
		r.said, r.Summary = said, *e.said(st, &said.journaled, said.amends)
		r.Cost = nil // worked out again where it is shown
		r.Solvent, r.RecoveredBasis = l.word(r.Solvent), l.word(r.RecoveredBasis)
	}
	l.runs, l.unsaid = rows, nil
}

// withEntered reads what people have entered about a run that was read from the journal.
func (s *server) withEntered(ctx context.Context, st *config.Still, run *runView) error {
	entries, err := s.Archive.Entries(ctx, archive.EntryQuery{Still: run.Still, Run: run.Run, Kind: archive.AmendEntry})
	if err != nil || len(entries) == 0 {
		return err
	}
	j, err := readRun(entries)
	if err != nil {
		return err
	}
	run.Summary = *s.entering().said(st, &run.Summary, j.amends)
	return nil
}
