package dashboards

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// book is an archive with the runs of one still in a zone, for reports.
type book struct {
	fakeArchive
	st   *config.Still
	zone *time.Location
	now  time.Time
}

func newBook(t *testing.T, zone string) *book {
	t.Helper()
	z, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	return &book{st: sceneStill("north", "toluene", 60, 1), zone: z, now: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}
}

func (b *book) reports(disp analysis.Display) Reports {
	return Reports{Site: config.Site{Name: "Quay Lane", Display: disp, TimeZone: b.zone}, Stills: []*config.Still{b.st}, Archive: &b.fakeArchive, Now: func() time.Time { return b.now }}
}

// run journals a run with its summary.
func (b *book) run(n int, start, end time.Time, change func(*analysis.Summary)) {
	event := func(e analysis.Event) {
		e.Still, e.Run = "north", n
		b.add(archive.EventEntry, e.At, "north", n, e)
	}
	event(analysis.Event{At: start, Kind: analysis.PhaseEvent, Phase: analysis.PumpDown})
	s := &analysis.Summary{Start: start, End: end, Verdict: analysis.GoodRun, Faults: []analysis.Fault{}, Solvent: "toluene",
		Phases:    []analysis.PhaseSpan{{Name: analysis.PumpDown, Start: start, End: end}},
		EnergyKWh: new(16.0), EnergyKWhU: new(0.2), EnergyBasis: "counter", MinimumKWhPerGal: new(0.4)}
	if change != nil {
		change(s)
	}
	event(analysis.Event{At: end, Kind: analysis.RunEvent, Summary: s})
}

func (b *book) amend(run int, a archive.Amend) { b.add(archive.AmendEntry, b.now, "north", run, a) }

func (b *book) record(t *testing.T, run int, disp analysis.Display) *Record {
	t.Helper()
	r, err := b.reports(disp).Record(t.Context(), "north", run)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func heat(s *analysis.Summary) {
	s.RecoveredL, s.RecoveredLU, s.RecoveredBasis, s.KWhPerGal, s.KWhPerGalU = new(40.0), new(8.0), "heat", new(1.514), new(0.3)
}

func meter(s *analysis.Summary) {
	s.RecoveredL, s.RecoveredLU, s.RecoveredBasis, s.KWhPerGal, s.KWhPerGalU = new(52.0), new(0.5), "volume", new(1.165), new(0.02)
}

// TestRecoveredBasis: measured, else entered by a person, else worked out from the heat; and a person who
// corrects a meter says why.
func TestRecoveredBasis(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	entered := archive.Amend{Field: "recovered", New: "50 L", Number: new(50.0), Unit: "L", By: "Kim"}
	for _, tt := range []struct {
		name     string
		measured func(*analysis.Summary)
		amends   []archive.Amend
		basis    string
		litres   float64
		perGal   float64
		needsWhy bool
	}{
		{"from heat", heat, nil, "heat", 40, 1.514, false},
		{"measured", meter, nil, "volume", 52, 1.165, true},
		{"entered instead of heat", heat, []archive.Amend{entered}, "entered", 50, 16.0 / 50 * 3.785411784, true},
		{"entered where nothing was known", nil, []archive.Amend{entered}, "entered", 50, 16.0 / 50 * 3.785411784, true},
		{"corrected meter", meter, []archive.Amend{entered}, "entered", 50, 16.0 / 50 * 3.785411784, true},
		{"taken back", heat, []archive.Amend{entered, {Field: "recovered", Old: "50 L", By: "Kim", Why: "other drum"}}, "heat", 40, 1.514, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := newBook(t, "UTC")
			b.run(1, at, at.Add(5*time.Hour), tt.measured)
			for _, a := range tt.amends {
				b.amend(1, a)
			}
			r := b.record(t, 1, analysis.Metric)
			f, s := field(r.Fields, "recovered"), r.Summary
			if f.Basis != tt.basis || *f.Number != tt.litres || f.U == nil || f.NeedsWhy != tt.needsWhy || len(f.History) != len(tt.amends) {
				t.Errorf("field %+v", f)
			}
			if s.RecoveredBasis != tt.basis || math.Abs(*s.KWhPerGal-tt.perGal) > 1e-5 {
				t.Errorf("summary: %g kWh/gal from %s, want %g from %s", *s.KWhPerGal, s.RecoveredBasis, tt.perGal, tt.basis)
			}
			if !strings.Contains(figureOf(r, "kwh_per_gal").Text, " ± ") || figureOf(r, "kwh_per_gal").Basis != tt.basis {
				t.Errorf("figure %+v", figureOf(r, "kwh_per_gal"))
			}
		})
	}
}

func figureOf(r *Record, name string) RecordFigure {
	for _, f := range r.Figures {
		if f.Name == name {
			return f
		}
	}
	return RecordFigure{}
}

// TestAnotherSolvent: figures that rest on the configured solvent are not kept for another one.
func TestAnotherSolvent(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	b := newBook(t, "UTC")
	b.run(1, at, at.Add(5*time.Hour), func(s *analysis.Summary) { meter(s); s.RecoveredKg = new(45.0) })
	b.amend(1, archive.Amend{Field: "solvent", New: "house thinner", By: "Kim"})
	if s := b.record(t, 1, analysis.Metric).Summary; s.Solvent != "house thinner" || s.MinimumKWhPerGal != nil || s.RecoveredKg != nil || s.KWhPerGal == nil {
		t.Errorf("%+v", s)
	}
}

// TestChecksOfRun: the record shows the list of the day, what was not ticked, and ticks too old to count.
func TestChecksOfRun(t *testing.T) {
	start := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	b := newBook(t, "UTC")
	b.st.Checks = config.Checks{List: []string{"today's"}, AfterStart: 15 * time.Minute, GoodFor: 12 * time.Hour}
	b.add(archive.CheckListEntry, start.Add(-48*time.Hour), "north", 0, archive.CheckList{Checks: []string{"a", "b", "c"}})
	tick := func(at time.Time, check string, done bool) {
		b.add(archive.CheckEntry, at, "north", 1, archive.Check{Check: check, Done: done, By: "Kim"})
	}
	tick(start.Add(-13*time.Hour), "a", true)
	tick(start.Add(-time.Hour), "b", true)
	b.run(1, start, start.Add(time.Hour), nil)
	tick(start.Add(5*time.Minute), "c", true)
	tick(start.Add(6*time.Minute), "c", false)
	b.add(archive.CheckListEntry, start.Add(2*time.Hour), "north", 0, archive.CheckList{Checks: []string{"today's"}})
	got := b.record(t, 1, analysis.Metric).Checks
	if len(got.List) != 3 || got.Ticked != 1 || got.List[0].Done || !got.List[1].Done || got.List[2].Done {
		t.Fatalf("%+v", got)
	}
	if !strings.Contains(got.List[0].Note, "13 h before the start; ticks count for 12 h") || got.List[2].Note != "tick taken back" || got.List[0].By != "Kim" {
		t.Errorf("notes %q, %q", got.List[0].Note, got.List[2].Note)
	}
	old := newBook(t, "UTC")
	old.run(1, start, start.Add(time.Hour), nil)
	if got := old.record(t, 1, analysis.Metric).Checks; len(got.List) != 0 || !strings.Contains(got.Note, "No list") {
		t.Errorf("before there were lists: %+v", got)
	}
}

// TestSummerTime: on the nights when the clocks change in America/Denver, the hour that comes twice is told
// apart, the hour that is not there is not shown, and lengths of time are true. The changes of 2026 are on
// 8 March, 02:00 MST, and 1 November, 02:00 MDT (second Sunday of March, first Sunday of November: US Energy
// Policy Act of 2005, section 110).
func TestSummerTime(t *testing.T) {
	for _, tt := range []struct {
		name       string
		start, end time.Time // UTC
		first      string
		last       string
		took       string
	}{
		{"spring forward", time.Date(2026, 3, 8, 8, 30, 0, 0, time.UTC), time.Date(2026, 3, 8, 9, 30, 0, 0, time.UTC), "8 Mar 2026 01:30:00 MST", "8 Mar 2026 03:30:00 MDT", "1 h 0 min"},
		{"fall back", time.Date(2026, 11, 1, 7, 30, 0, 0, time.UTC), time.Date(2026, 11, 1, 8, 30, 0, 0, time.UTC), "1 Nov 2026 01:30:00 MDT", "1 Nov 2026 01:30:00 MST", "1 h 0 min"},
		{"over the whole night", time.Date(2026, 11, 1, 4, 0, 0, 0, time.UTC), time.Date(2026, 11, 1, 12, 0, 0, 0, time.UTC), "31 Oct 2026 22:00:00 MDT", "1 Nov 2026 05:00:00 MST", "8 h 0 min"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := newBook(t, "America/Denver")
			b.run(1, tt.start, tt.end, nil)
			r := b.record(t, 1, analysis.US)
			var html, table bytes.Buffer
			if err := errors.Join(WriteRecordsHTML(&html, []*Record{r}), WriteRecordsCSV(&table, []*Record{r})); err != nil {
				t.Fatal(err)
			}
			if want := tt.first + " to " + tt.last + ", " + tt.took; !strings.Contains(html.String(), want) {
				t.Errorf("the sheet does not say %q", want)
			}
			offset := tt.end.In(b.zone).Format("2006-01-02 15:04:05 -07:00")
			if !strings.Contains(table.String(), offset) {
				t.Errorf("the table does not say %q", offset)
			}
		})
	}
}

// TestMonthBelongsToTheSite: a run belongs to the month in which it ended by the site's clock, also in the
// months that are an hour shorter or longer.
func TestMonthBelongsToTheSite(t *testing.T) {
	b := newBook(t, "America/Denver")
	ends := []time.Time{
		time.Date(2026, 3, 1, 6, 59, 59, 0, time.UTC),  // 28 Feb, 23:59:59 MST
		time.Date(2026, 3, 1, 7, 0, 0, 0, time.UTC),    // 1 Mar, 00:00 MST
		time.Date(2026, 4, 1, 5, 59, 59, 0, time.UTC),  // 31 Mar, 23:59:59 MDT
		time.Date(2026, 4, 1, 6, 0, 0, 0, time.UTC),    // 1 Apr, 00:00 MDT
		time.Date(2026, 12, 1, 6, 59, 59, 0, time.UTC), // 30 Nov, 23:59:59 MST
	}
	for i, end := range ends {
		b.run(i+1, end.Add(-3*time.Hour), end, meter)
	}
	for month, want := range map[string][]int{"2026-02": {1}, "2026-03": {2, 3}, "2026-04": {4}, "2026-11": {5}, "2026-12": nil} {
		m, err := b.reports(analysis.US).Month(t.Context(), month, "")
		if err != nil {
			t.Fatal(err)
		}
		var got []int
		for _, r := range m.Runs {
			got = append(got, r.Run)
		}
		if len(got) != len(want) || (len(want) > 0 && got[0] != want[0]) || m.Total.Runs != len(want) {
			t.Errorf("%s has runs %v, want %v", month, got, want)
		}
	}
	m, _ := b.reports(analysis.US).Month(t.Context(), "2026-03", "north")
	if h := m.To.Sub(m.From).Hours(); h != 31*24-1 {
		t.Errorf("March has %g h, want 743: an hour is not there", h)
	}
}

// TestMonthSums adds up by hand.
func TestMonthSums(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	b := newBook(t, "UTC")
	b.run(1, at, at.Add(time.Hour), meter)
	b.run(2, at.Add(24*time.Hour), at.Add(25*time.Hour), func(s *analysis.Summary) { heat(s); s.Verdict = analysis.SuspectRun })
	b.run(3, at.Add(48*time.Hour), at.Add(49*time.Hour), func(s *analysis.Summary) { s.Verdict, s.EnergyKWh = analysis.FailedRun, nil })
	b.run(4, at.Add(72*time.Hour), at.Add(73*time.Hour), func(s *analysis.Summary) { s.Solvent = "acetone" })
	b.amend(1, archive.Amend{Field: "residue", New: "6.5 kg", Number: new(6.5), Unit: "kg", By: "Kim"})
	b.amend(2, archive.Amend{Field: "residue", New: "5 L", Number: new(5.0), Unit: "L", By: "Kim"})
	b.amend(2, archive.Amend{Field: "residue", Old: "5 L", New: "4 L", Number: new(4.0), Unit: "L", By: "Kim", Why: "misread"})
	m, err := b.reports(analysis.Metric).Month(t.Context(), "2026-03", "")
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Sums) != 2 || m.Sums[0].Solvent != "acetone" || m.Sums[1].Solvent != "toluene" {
		t.Fatalf("sums %+v", m.Sums)
	}
	s := m.Sums[1]
	if s.Runs != 3 || s.Good != 1 || s.Suspect != 1 || s.Failed != 1 || s.RecoveredRuns != 2 || *s.RecoveredL != 92 || *s.RecoveredLU != 8.5 ||
		s.RecoveredBases["volume"] != 1 || s.RecoveredBases["heat"] != 1 || *s.ResidueKg != 6.5 || *s.ResidueL != 4 || s.ResidueRuns != 2 || *s.EnergyKWh != 32 || s.EnergyRuns != 2 {
		t.Errorf("toluene: %+v", s)
	}
	if want := 32.0 / 92 * 3.785411784; math.Abs(*s.KWhPerGal-want) > 1e-6 {
		t.Errorf("%g kWh/gal, want %g", *s.KWhPerGal, want)
	}
	if s.Texts.Recovered != "92.0 ± 8.5 L (2 of 3 runs)" || !strings.Contains(s.Texts.Residue, "6.50 kg and 4.00 L (2 of 3 runs)") || m.Runs[1].Corrected != 1 {
		t.Errorf("in words: %+v, corrected %d", s.Texts, m.Runs[1].Corrected)
	}
	if m.Sums[0].RecoveredL != nil || m.Sums[0].Texts.Recovered != "not known" {
		t.Errorf("what is not known is not zero: %+v", m.Sums[0])
	}
	var table bytes.Buffer
	if err := WriteMonthCSV(&table, m); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&table).ReadAll()
	if err != nil || len(rows) != 1+4+2+1 || rows[7][0] != "total" || rows[7][7] != "4" {
		t.Errorf("table: %v, %v", rows, err)
	}
	if !strings.Contains(strings.Join(m.Cautions, " "), "local rules") {
		t.Error("no word about local rules")
	}
}

// TestSheetsStandAlone: a report asks for nothing, what people wrote stays text, and the record says what it
// must whatever is missing.
func TestSheetsStandAlone(t *testing.T) {
	shop, arch := newScene()
	o := sceneOptions(shop, arch)
	s := &server{Options: o}
	arch.add(archive.NoteEntry, sceneNow, "north", 40, archive.Note{By: `<img src=x>`, Text: `"><script>alert(1)</script>`})
	arch.add(archive.AmendEntry, sceneNow, "north", 40, archive.Amend{Field: "operator", Old: "R. Okafor", New: "=HYPERLINK(1)", By: "+x", Why: "@y"})
	rec, err := s.reports("").Record(t.Context(), "north", 40)
	if err != nil {
		t.Fatal(err)
	}
	var html, table bytes.Buffer
	if err := errors.Join(WriteRecordsHTML(&html, []*Record{rec}), WriteRecordsCSV(&table, []*Record{rec})); err != nil {
		t.Fatal(err)
	}
	page := html.String()
	if m := regexp.MustCompile(`(?i)<[^>]*\s(src|href|action)\s*=|@import|url\(|<script|<img`).FindString(page); m != "" {
		t.Errorf("the file asks for something: %s", m)
	}
	for _, want := range []string{"Simulated stills", rec.Head.Hash[:8], "luted verify", "locks nothing", "tick taken back", "scale read with the bag’s pallet", "one standard uncertainty", "America/Chicago", "hazardous waste"} {
		if !strings.Contains(page, want) {
			t.Errorf("the sheet does not say %q", want)
		}
	}
	rows, err := csv.NewReader(&table).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for i, cell := range row {
			if cell != "" && strings.ContainsRune("=+@", rune(cell[0])) {
				t.Errorf("column %s: %q is a formula to a spreadsheet", rows[0][i], cell)
			}
		}
	}
	var back Record
	var js bytes.Buffer
	if err := WriteJSON(&js, rec); err != nil || json.Unmarshal(js.Bytes(), &back) != nil || len(back.Fields) != 7 {
		t.Errorf("JSON: %v", err)
	}
}

func TestScaledText(t *testing.T) {
	for _, tt := range []struct {
		v, u float64
		want string
	}{{0.78227, 0.00842, "0.7823 ± 0.0084 x"}, {354.2, 3.21, "354.2 ± 3.2 x"}, {357.4, 60.2, "357 ± 60 x"}, {12, 0.099, "12.000 ± 0.099 x"}, {51, 0, "51.0 x"}, {5000, 1200, "5000 ± 1200 x"}} {
		if got := scaledText(tt.v, &tt.u, 1, "x"); got != tt.want {
			t.Errorf("%g, %g: %q, want %q", tt.v, tt.u, got, tt.want)
		}
	}
}

// TestEntering: what people send is taken or refused in words, and a refusal keeps nothing.
func TestEntering(t *testing.T) {
	v := newValidator(t)
	const rec, checks, notes = "/api/stills/north/runs/40/record", "/api/stills/yard/checks", "/api/stills/north/runs/40/notes"
	for _, tt := range []struct {
		name, target, body string
		status             int
		says               string
	}{
		{"a lot", "/api/stills/east/runs/63/record", `{"field":"lot","value":"E-1","after":0,"by":"Kim"}`, 200, ""},
		{"a volume", "/api/stills/east/runs/63/record", `{"field":"charge","value":"55 L","after":0,"by":"Kim"}`, 200, ""},
		{"a mass", "/api/stills/east/runs/63/record", `{"field":"residue","value":"14 lb","after":0,"by":"Kim"}`, 200, ""},
		{"a correction", rec, `{"field":"recovered","value":"13.9 gal","after":0,"by":"Kim","why":"meter off"}`, 200, ""},
		{"for the next run", "/api/stills/east/runs/64/record", `{"field":"lot","value":"E-2","after":0,"by":"Kim"}`, 200, ""},
		{"no name", rec, `{"field":"charge","value":"55 L","after":0}`, 400, "by: missing"},
		{"no unit", rec, `{"field":"charge","value":"55","after":0,"by":"Kim"}`, 400, `"55" is no volume; write it with its unit`},
		{"a mass for a volume", rec, `{"field":"charge","value":"55 kg","after":0,"by":"Kim"}`, 400, "no volume"},
		{"less than nothing", rec, `{"field":"charge","value":"-5 L","after":0,"by":"Kim"}`, 400, "must be 0 or more"},
		{"a slip of the decimal point", rec, `{"field":"recovered","value":"139 gal","after":0,"by":"Kim","why":"?"}`, 400, "more than the charge of 15.9 gal"},
		{"too much charged", rec, `{"field":"charge","value":"159 gal","after":0,"by":"Kim"}`, 400, "more than the still can hold"},
		{"a correction without why", rec, `{"field":"recovered","value":"13.9 gal","after":0,"by":"Kim"}`, 400, "a correction needs its reason"},
		{"what somebody has changed", rec, `{"field":"residue","value":"11 lb","after":1,"by":"Kim","why":"?"}`, 409, "changed meanwhile"},
		{"nothing to take back", rec, `{"field":"charge","value":"","after":0,"by":"Kim"}`, 409, "nothing to take back"},
		{"no such field", rec, `{"field":"colour","value":"red","after":0,"by":"Kim"}`, 400, "there are solvent, lot, charge"},
		{"recovered before the end", "/api/stills/west/runs/7/record", `{"field":"recovered","value":"10 gal","after":0,"by":"Kim"}`, 409, "has not ended"},
		{"no such run", "/api/stills/east/runs/65/record", `{"field":"lot","value":"x","after":0,"by":"Kim"}`, 404, "has no run"},
		{"two lines", rec, `{"field":"lot","value":"a\nb","after":0,"by":"Kim","why":"x"}`, 400, "one line"},
		{"a tick", checks, `{"run":4,"check":"Drain valve closed","done":true,"by":"Kim"}`, 200, ""},
		{"a tick not on the list", checks, `{"run":4,"check":"Lid painted","done":true,"by":"Kim"}`, 400, "is not on the list"},
		{"a tick without a name", checks, `{"run":4,"check":"Drain valve closed","done":true}`, 400, "by: missing"},
		{"neither ticked nor not", checks, `{"run":4,"check":"Drain valve closed","by":"Kim"}`, 400, "done: missing"},
		{"a note", notes, `{"by":"Kim","text":"Soft.\nHold longer."}`, 200, ""},
		{"an empty note", notes, `{"by":"Kim","text":" "}`, 400, "text: missing"},
		{"a note on a run to come", "/api/stills/east/runs/64/notes", `{"by":"Kim","text":"x"}`, 409, "has not begun"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			shop, arch := newScene()
			before := len(arch.entries)
			res := post(newHandler(t, sceneOptions(shop, arch)), tt.target, tt.body)
			if res.Code != tt.status {
				t.Fatalf("status %d, want %d: %s", res.Code, tt.status, res.Body)
			}
			kept := 0
			if tt.status == http.StatusOK {
				kept = 1
				schema := "Record"
				if tt.target == checks {
					schema = "Checks"
				}
				v.check(t, "/components/schemas/"+schema, res.Body.Bytes())
			} else {
				checkProblem(t, v, res.Header(), res.Body.Bytes(), tt.status, tt.says)
			}
			if len(arch.entries) != before+kept {
				t.Errorf("%d entries more, want %d", len(arch.entries)-before, kept)
			}
		})
	}
}
