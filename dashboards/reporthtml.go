package dashboards

import (
	"cmp"
	"embed"
	"fmt"
	"html/template"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/config"
)

//go:embed templates
var templateFiles embed.FS

// sheet is what a report shows: records of runs, or a month.
type sheet struct {
	Title, Kind string
	Page        bool         // a page of the daemon, with its frame and its buttons; otherwise a file that stands alone
	CSS         template.CSS // of a file that stands alone
	Simulated   bool
	Display     analysis.Display
	Still       string
	Run         int
	Records     []*Record
	Month       *Month

	zone *time.Location
}

// recordSheet is a sheet with the records of runs.
func recordSheet(recs []*Record) sheet {
	r := recs[0]
	s := sheet{Kind: "record", Simulated: r.Simulated, Display: r.Display, Records: recs, zone: r.zone, Title: fmt.Sprintf("Batch records of %d runs", len(recs))}
	if len(recs) == 1 {
		s.Title, s.Still, s.Run = fmt.Sprintf("Still %s, run %d", r.Still, r.Run), r.Still, r.Run
	}
	return s
}

func monthSheet(m *Month) sheet {
	return sheet{Kind: "month", Title: monthName(m), Simulated: m.Simulated, Display: m.Display, Still: m.Still, Month: m, zone: m.zone}
}

// WriteRecordsHTML writes batch records as one HTML file that stands alone: it asks for nothing, and prints
// on A4 and Letter, each record on a sheet of its own. recs must not be empty.
func WriteRecordsHTML(w io.Writer, recs []*Record) error {
	return recordSheet(recs).alone(w)
}

// WriteMonthHTML writes a month likewise.
func WriteMonthHTML(w io.Writer, m *Month) error { return monthSheet(m).alone(w) }

func (s sheet) alone(w io.Writer) error {
	var css strings.Builder
	for _, name := range []string{"web/style.css", "web/record.css"} {
		b, err := webFiles.ReadFile(name)
		if err != nil {
			return err
		}
		css.Write(b)
	}
	s.CSS = template.CSS(css.String()) // our own files
	return s.write(w)
}

// sheetTemplates are parsed once; the functions that need the zone of a sheet are put in for each.
var sheetTemplates = sync.OnceValues(func() (*template.Template, error) {
	return template.New("").Funcs(sheet{zone: time.UTC}.funcs()).ParseFS(templateFiles, "templates/*.html")
})

func (s sheet) write(w io.Writer) error {
	t, err := sheetTemplates()
	if err != nil {
		return err
	}
	if t, err = t.Clone(); err != nil {
		return err
	}
	return t.Funcs(s.funcs()).ExecuteTemplate(w, "sheet", s)
}

// inSheet is one part of a sheet together with the sheet.
type inSheet struct {
	Page   bool
	Record *Record
	Month  *Month
}

// clockLayout shows the zone's letters with every time: one hour a year there are two of each time of day.
const clockLayout = "2 Jan 2006 15:04:05 MST"

func (s sheet) funcs() template.FuncMap {
	at := func(v any) string {
		switch t := v.(type) {
		case time.Time:
			return t.In(s.zone).Format(clockLayout)
		case *time.Time:
			if t != nil {
				return t.In(s.zone).Format(clockLayout)
			}
		}
		return "not known"
	}
	lasting := func(from, to any) string {
		a, b := timeOf(from), timeOf(to)
		if a.IsZero() || b.IsZero() {
			return ""
		}
		return lastingText(b.Sub(a))
	}
	return template.FuncMap{
		"at": at, "shortly": func(t time.Time) string { return t.In(s.zone).Format("2 Jan 15:04 MST") }, "lasting": lasting, "simulated": func() string { return simulatedNotice },
		"in": func(s sheet, part any) inSheet {
			i := inSheet{Page: s.Page}
			switch p := part.(type) {
			case *Record:
				i.Record = p
			case *Month:
				i.Month = p
			}
			return i
		},
		"hash":  func(h string) string { return spaced(h, 8) },
		"short": func(h string) string { return h[:min(16, len(h))] },
		"verdict": func(v analysis.Verdict) string {
			return cmp.Or(map[analysis.Verdict]string{analysis.GoodRun: "Good", analysis.SuspectRun: "Suspect", analysis.FailedRun: "Failed"}[v], string(v))
		},
		"phase":      func(p analysis.Phase) string { return cmp.Or(phaseWords[p], string(p)) },
		"cause":      func(c analysis.Cause) string { return cmp.Or(causeWords[c], string(c)) },
		"action":     func(a alarm.Action) string { return cmp.Or(actionWords[a], string(a)) },
		"percent":    func(w float64) string { return fmt.Sprintf("%.0f %%", 100*w) },
		"basis":      func(f RecordField) string { return basisOf(f, at) },
		"missing":    missingWords,
		"fieldvalue": func(f RecordField) string { return fieldValue(f, s.Display) },
		"fieldu":     func(f RecordField) string { return fieldU(f, s.Display) },
		"fieldkind":  func(name string) string { f, _ := findField(name); return string(f.kind) },
		"changed": func(f RecordField) bool {
			return len(f.History) > 1 || len(f.History) == 1 && (f.History[0].Old != "" || f.History[0].New == "")
		},
		"basiswords": basisWords,
		"tick":       tickMark,
		"strip":      phaseStrip,
		"monthof":    func(r *Record) string { return monthOf(r, s.zone) },
		"monthname":  monthName,
		"bases":      basesWords,
		"energy": func(v *float64) string {
			if v == nil {
				return ""
			}
			return config.Format(*v, analysis.Energy, s.Display)
		},
		"step": func(m *Month, by int) string { return m.From.In(s.zone).AddDate(0, by, 0).Format("2006-01") },
		"stillquery": func(m *Month) template.URL {
			if m.Still == "" {
				return ""
			}
			return template.URL("?still=" + template.URLQueryEscaper(m.Still))
		},
	}
}

func timeOf(v any) time.Time {
	switch t := v.(type) {
	case time.Time:
		return t
	case *time.Time:
		if t != nil {
			return *t
		}
	}
	return time.Time{}
}

// spaced writes digits in groups, as people read them from paper.
func spaced(s string, n int) string {
	var b strings.Builder
	for i, c := range s {
		if i > 0 && i%n == 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(c)
	}
	return b.String()
}

var actionWords = map[alarm.Action]string{
	alarm.Raise: "raised", alarm.Clear: "condition gone", alarm.Acknowledge: "acknowledged", alarm.Shelve: "shelved", alarm.Unshelve: "taken back from the shelf",
	alarm.RemoveService: "taken out of service", alarm.ReturnService: "back in service", alarm.Reset: "reset",
}

// basisWords says in words what a figure comes from.
func basisWords(basis string) string {
	return cmp.Or(map[string]string{
		"volume": "measured (volume)", "mass": "measured (mass)", "flow": "measured (flow)", "heat": "worked out from the heat",
		byPerson: "entered by a person", byConfiguration: "the configuration", "counter": "measured (energy counter)", "power": "measured (power over time)",
		"rating": "heater rating and time on",
	}[basis], basis)
}

func basisOf(f RecordField, at func(any) string) string {
	switch f.Basis {
	case byPerson:
		return "entered by " + f.By + ", " + at(f.At)
	case byConfiguration:
		if f.Field == "charge" {
			return "a full charge, by the configuration"
		}
		return "the configuration"
	}
	return basisWords(f.Basis)
}

// missingWords says what it means that a field is empty.
func missingWords(field, state string) string {
	if field == "recovered" && state != runEnded {
		return "known when the run has ended"
	}
	return "not entered"
}

// fieldValue is a field as people read it; a volume that was measured or worked out has the digits that its
// uncertainty leaves, as among the figures. What a person entered stays as it was entered.
func fieldValue(f RecordField, disp analysis.Display) string {
	if f.U == nil || f.Number == nil || f.Basis == byPerson {
		return f.Text
	}
	return quantityText(*f.Number, f.U, analysis.Volume, disp)
}

// fieldU is the uncertainty of a volume that a person entered, in words.
func fieldU(f RecordField, disp analysis.Display) string {
	if f.U == nil || f.Number == nil || f.Basis != byPerson {
		return ""
	}
	unit := config.DisplayUnit(analysis.Volume, disp)
	u := *f.U / unit.Factor
	return "± " + significantText(u, 2) + " " + unit.Symbol
}

func basesWords(bases map[string]int) string {
	var out []string
	for _, b := range slices.Sorted(maps.Keys(bases)) {
		out = append(out, fmt.Sprintf("%d %s", bases[b], basisWords(b)))
	}
	return strings.Join(out, ", ")
}

func monthName(m *Month) string { return m.From.In(m.zone).Format("January 2006") }

// monthOf is the month in which a run ended, or else the present one.
func monthOf(r *Record, zone *time.Location) string {
	at := r.Made
	if r.End != nil {
		at = *r.End
	}
	return at.In(zone).Format("2006-01")
}
