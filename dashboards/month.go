package dashboards

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// Month sums up the runs that ended in one month, by the site's clock. A run that reaches over midnight of
// the last day belongs to the month in which it ended.
type Month struct {
	placeView
	Month string    `json:"month"` // 2026-03
	From  time.Time `json:"from"`
	To    time.Time `json:"to"` // exclusive
	Still string    `json:"still,omitempty"`
	// Sums are by still and solvent; Total is all of them together.
	Sums     []MonthSum `json:"sums"`
	Total    MonthSum   `json:"total"`
	Runs     []MonthRun `json:"runs"`
	Cautions []string   `json:"cautions"`
}

// MonthSum is what some runs of a month came to. A sum over runs of which only some know the figure says how
// many do; a figure that none knows is absent.
type MonthSum struct {
	Still   string `json:"still,omitempty"`
	Solvent string `json:"solvent,omitempty"` // absent: not stated
	Runs    int    `json:"runs"`
	Good    int    `json:"good"`
	Suspect int    `json:"suspect"`
	Failed  int    `json:"failed"`

	RecoveredL     *float64       `json:"recovered_l,omitempty"`
	RecoveredLU    *float64       `json:"recovered_l_u,omitempty"`
	RecoveredRuns  int            `json:"recovered_runs"`
	RecoveredBases map[string]int `json:"recovered_bases,omitempty"` // runs by basis
	ResidueKg      *float64       `json:"residue_kg,omitempty"`      // of the runs whose residue was weighed
	ResidueL       *float64       `json:"residue_l,omitempty"`       // of the runs whose residue was measured by volume
	ResidueRuns    int            `json:"residue_runs"`
	EnergyKWh      *float64       `json:"energy_kwh,omitempty"`
	EnergyKWhU     *float64       `json:"energy_kwh_u,omitempty"`
	EnergyRuns     int            `json:"energy_runs"`
	KWhPerGal      *float64       `json:"kwh_per_gal,omitempty"` // over the runs that know both
	KWhPerGalRuns  int            `json:"kwh_per_gal_runs"`

	Texts MonthTexts `json:"texts"`

	bothKWh, bothL float64
}

// MonthTexts are the figures of a sum in the units of the display.
type MonthTexts struct {
	Recovered string `json:"recovered"`
	Residue   string `json:"residue"`
	Energy    string `json:"energy"`
	PerVolume string `json:"per_volume"`
}

// MonthRun is one run of the month.
type MonthRun struct {
	Still     string           `json:"still"`
	Run       int              `json:"run"`
	Start     time.Time        `json:"start"`
	End       time.Time        `json:"end"`
	Verdict   analysis.Verdict `json:"verdict"`
	Solvent   string           `json:"solvent,omitempty"`
	Lot       string           `json:"lot,omitempty"`
	Recovered RecordField      `json:"recovered"`
	Residue   RecordField      `json:"residue"`
	EnergyKWh *float64         `json:"energy_kwh,omitempty"`
	KWhPerGal *float64         `json:"kwh_per_gal,omitempty"`
	Corrected int              `json:"corrected"` // entries that changed a value that stood there

	summary *analysis.Summary
}

// lateSummary is how long after its end a run may be summed up: until the still has rested.
const lateSummary = 48 * time.Hour

// monthCautions stand on every monthly page.
var monthCautions = []string{
	"What counts as recovered, as waste or as generated, in which unit and from when, is for local rules and the authority to decide; these are measurements and what people entered, not a declaration.",
	"Residue is hazardous waste until the local authority says otherwise. Runs whose residue nobody entered are not in its sum.",
}

// ParseMonth reads 2026-03. The zone decides when it begins.
func ParseMonth(text string, zone *time.Location) (from, to time.Time, err error) {
	t, err := time.ParseInLocation("2006-01", text, zone)
	if err != nil || t.Year() < 1970 || t.Year() > 2200 {
		return from, to, fmt.Errorf("%q is no month; write 2026-03", text)
	}
	return t, time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, zone), nil
}

// Month sums up a month, written 2026-03, of one still, or of all if still is empty.
func (r Reports) Month(ctx context.Context, month, still string) (*Month, error) {
	place, err := r.place(ctx)
	if err != nil {
		return nil, err
	}
	from, to, err := ParseMonth(month, place.zone)
	if err != nil {
		return nil, err
	}
	m := &Month{placeView: place, Month: month, From: from.UTC(), To: to.UTC(), Still: still, Sums: []MonthSum{}, Runs: []MonthRun{}, Cautions: append(slices.Clone(monthCautions), recordCautions()[1])}
	for _, st := range r.Stills {
		if still != "" && st.Name != still {
			continue
		}
		runs, err := r.monthRuns(ctx, st, place.Display, from, to)
		if err != nil {
			return nil, err
		}
		m.Runs = append(m.Runs, runs...)
	}
	if _, err := r.still(still); still != "" && err != nil {
		return nil, err
	}
	slices.SortStableFunc(m.Runs, func(a, b MonthRun) int { return a.End.Compare(b.End) })
	m.sum()
	return m, nil
}

// monthRuns are the runs of a still that ended in the span, with what people entered about them.
func (r Reports) monthRuns(ctx context.Context, st *config.Still, disp analysis.Display, from, to time.Time) ([]MonthRun, error) {
	events, err := r.Archive.Entries(ctx, archive.EntryQuery{Still: st.Name, Kind: archive.EventEntry, From: from.Add(-1), To: to.Add(lateSummary)})
	if err != nil {
		return nil, err
	}
	var out []MonthRun
	for _, e := range events {
		ev, err := eventOf(e)
		if err != nil {
			return nil, err
		}
		if ev.Kind != analysis.RunEvent || ev.Summary == nil || ev.End.Before(from) || !ev.End.Before(to) {
			continue
		}
		out = append(out, MonthRun{Still: st.Name, Run: e.Run, Start: stamp(ev.Start), End: stamp(ev.End), Verdict: ev.Verdict, summary: ev.Summary})
	}
	if len(out) == 0 {
		return nil, nil
	}
	amends, err := r.Archive.Entries(ctx, archive.EntryQuery{Still: st.Name, Kind: archive.AmendEntry})
	if err != nil {
		return nil, err
	}
	byRun := map[int][]archive.Entry{}
	for _, e := range amends {
		byRun[e.Run] = append(byRun[e.Run], e)
	}
	for i := range out {
		if err := out[i].fill(r.entering(), st, disp, byRun[out[i].Run]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// fill puts in what people entered about the run.
func (m *MonthRun) fill(e entering, st *config.Still, disp analysis.Display, entries []archive.Entry) error {
	j, err := readRun(entries)
	if err != nil {
		return err
	}
	j.summary = m.summary
	fields := fieldsOf(st, disp, j)
	s := e.present(st, m.summary, fields)
	m.Solvent, m.Lot = field(fields, "solvent").Text, field(fields, "lot").Text
	m.Recovered, m.Residue = field(fields, "recovered"), field(fields, "residue")
	m.EnergyKWh, m.KWhPerGal, m.summary = s.EnergyKWh, s.KWhPerGal, s
	for _, f := range fields {
		for _, c := range f.History {
			if c.Old != "" && c.Why != "" {
				m.Corrected++
			}
		}
	}
	return nil
}

// sum sums the runs up.
func (m *Month) sum() {
	by := map[[2]string]int{}
	for _, run := range m.Runs {
		key := [2]string{run.Still, strings.ToLower(run.Solvent)}
		i, ok := by[key]
		if !ok {
			i = len(m.Sums)
			by[key] = i
			m.Sums = append(m.Sums, MonthSum{Still: run.Still, Solvent: run.Solvent})
		}
		m.Sums[i].add(run)
		m.Total.add(run)
	}
	slices.SortFunc(m.Sums, func(a, b MonthSum) int {
		return cmp.Or(strings.Compare(a.Still, b.Still), strings.Compare(strings.ToLower(a.Solvent), strings.ToLower(b.Solvent)))
	})
	for i := range m.Sums {
		m.Sums[i].say(m.Display)
	}
	m.Total.say(m.Display)
}

// add takes a run into the sum. Uncertainties are added as they are: the runs of a still share its meters,
// so their errors point the same way (JCGM 100:2008, 5.2.2, note 1). For different stills that is cautious.
func (s *MonthSum) add(run MonthRun) {
	s.Runs++
	switch run.Verdict {
	case analysis.GoodRun:
		s.Good++
	case analysis.SuspectRun:
		s.Suspect++
	case analysis.FailedRun:
		s.Failed++
	}
	plus := func(sum **float64, v *float64) {
		if v == nil {
			return
		}
		if *sum == nil {
			*sum = new(float64)
		}
		**sum = math.Round((**sum+*v)*1e9) / 1e9
	}
	if f := run.Recovered; f.Number != nil {
		plus(&s.RecoveredL, f.Number)
		plus(&s.RecoveredLU, f.U)
		s.RecoveredRuns++
		if s.RecoveredBases == nil {
			s.RecoveredBases = map[string]int{}
		}
		s.RecoveredBases[f.Basis]++
	}
	if f := run.Residue; f.Number != nil {
		if f.Unit == analysis.Mass.InsideUnit() {
			plus(&s.ResidueKg, f.Number)
		} else {
			plus(&s.ResidueL, f.Number)
		}
		s.ResidueRuns++
	}
	if run.EnergyKWh != nil {
		plus(&s.EnergyKWh, run.EnergyKWh)
		plus(&s.EnergyKWhU, run.summary.EnergyKWhU)
		s.EnergyRuns++
		if run.KWhPerGal != nil && run.Recovered.Number != nil {
			s.KWhPerGalRuns++
			s.bothKWh += *run.EnergyKWh
			s.bothL += *run.Recovered.Number
			v := math.Round(s.bothKWh/s.bothL*analysis.LPerGal*1e6) / 1e6
			s.KWhPerGal = &v
		}
	}
}

// say writes the sums for people.
func (s *MonthSum) say(disp analysis.Display) {
	of := func(n int) string {
		if n == s.Runs {
			return ""
		}
		return fmt.Sprintf(" (%d of %d runs)", n, s.Runs)
	}
	t := MonthTexts{Recovered: "not known", Residue: "not entered", Energy: "not known", PerVolume: "not known"}
	if s.RecoveredL != nil {
		t.Recovered = quantityText(*s.RecoveredL, s.RecoveredLU, analysis.Volume, disp) + of(s.RecoveredRuns)
	}
	var residue []string
	if s.ResidueKg != nil {
		residue = append(residue, config.Format(*s.ResidueKg, analysis.Mass, disp))
	}
	if s.ResidueL != nil {
		residue = append(residue, config.Format(*s.ResidueL, analysis.Volume, disp))
	}
	if len(residue) > 0 {
		t.Residue = strings.Join(residue, " and ") + of(s.ResidueRuns)
	}
	if s.EnergyKWh != nil {
		t.Energy = quantityText(*s.EnergyKWh, s.EnergyKWhU, analysis.Energy, disp) + of(s.EnergyRuns)
	}
	if s.KWhPerGal != nil {
		t.PerVolume = perVolumeText(*s.KWhPerGal, nil, disp) + of(s.KWhPerGalRuns)
	}
	s.Texts = t
}
