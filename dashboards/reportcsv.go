package dashboards

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// WriteJSON writes a record, records or a month as one indented JSON document.
func WriteJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// plainText keeps what people wrote from being taken for a formula by a spreadsheet: a text that begins like
// one gets an apostrophe before it, which spreadsheets hide.
func plainText(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// localTime is a time as spreadsheets read it, by the site's clock, with its distance from UTC.
func localTime(t *time.Time, zone *time.Location) string {
	if t == nil {
		return ""
	}
	return t.In(zone).Format("2006-01-02 15:04:05 -07:00")
}

func plainNumber(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', -1, 64)
}

var recordColumns = []string{"still", "run", "part", "name", "text", "value", "unit", "standard_uncertainty", "basis", "time", "until", "by", "why", "journal_entry"}

// WriteRecordsCSV writes batch records as a table with one line for each thing in them. Values are in inside
// units, with the unit beside them; texts are as people read them.
func WriteRecordsCSV(w io.Writer, recs []*Record) error {
	c := csv.NewWriter(w)
	if err := c.Write(recordColumns); err != nil {
		return err
	}
	for _, r := range recs {
		for _, row := range r.rows() {
			if err := c.Write(row.cells(r)); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// csvRow is one line of a record.
type csvRow struct {
	part, name, text string
	value, u         *float64
	unit, basis      string
	at, until        *time.Time
	by, why          string
	seq              int64
}

func (l csvRow) cells(r *Record) []string {
	seq := ""
	if l.seq > 0 {
		seq = strconv.FormatInt(l.seq, 10)
	}
	return []string{
		r.Still, strconv.Itoa(r.Run), l.part, l.name, plainText(l.text), plainNumber(l.value), l.unit, plainNumber(l.u), l.basis,
		localTime(l.at, r.zone), localTime(l.until, r.zone), plainText(l.by), plainText(l.why), seq,
	}
}

func (r *Record) rows() []csvRow {
	rows := []csvRow{
		{part: "run", name: "state", text: r.State, at: r.Start, until: r.End},
		{part: "run", name: "verdict", text: string(r.Verdict), why: r.Why},
	}
	for _, f := range r.Fields {
		rows = append(rows, csvRow{part: "field", name: f.Field, text: f.Text, value: f.Number, unit: f.Unit, u: f.U, basis: f.Basis, at: f.At, by: f.By, seq: f.Seq})
		for _, h := range f.History {
			text := h.New
			if h.Old != "" {
				text = h.Old + " -> " + h.New
			}
			rows = append(rows, csvRow{part: "history", name: f.Field, text: text, at: &h.At, by: h.By, why: h.Why, seq: h.Seq})
		}
	}
	for _, k := range r.Checks.List {
		text := "not ticked"
		if k.Done {
			text = "ticked"
		}
		rows = append(rows, csvRow{part: "check", name: k.Check, text: text, at: k.At, by: k.By, why: k.Note})
	}
	for _, p := range r.Phases {
		rows = append(rows, csvRow{part: "phase", name: string(p.Name), at: &p.Start, until: p.End})
	}
	for _, f := range r.Faults {
		rows = append(rows, csvRow{part: "fault", name: string(f.Fault), text: f.Text, basis: f.Channel, at: &f.Raised, until: f.Cleared})
	}
	for _, a := range r.Alarms {
		rows = append(rows, csvRow{part: "alarm", name: string(a.Fault), text: string(a.Action), basis: a.Channel, at: &a.At, until: a.Until, by: a.By, why: a.Reason, seq: a.Seq})
	}
	for _, f := range r.Figures {
		rows = append(rows, csvRow{part: "figure", name: f.Name, text: f.Text, value: &f.Value, unit: f.Unit, u: f.U, basis: f.Basis})
	}
	for _, n := range r.Notes {
		rows = append(rows, csvRow{part: "note", name: "note", text: n.Text, at: &n.At, by: n.By, seq: n.Seq})
	}
	return append(rows, csvRow{part: "journal", name: "head", text: r.Head.Hash, at: &r.Head.At, seq: r.Head.Seq})
}

var monthColumns = []string{
	"row", "still", "solvent", "run", "lot", "start", "end", "runs", "good", "suspect", "failed", "recovered_l", "recovered_l_u", "recovered_basis", "recovered_runs",
	"residue_kg", "residue_l", "residue_runs", "energy_kwh", "energy_kwh_u", "energy_runs", "kwh_per_gal", "corrections",
}

// WriteMonthCSV writes a month as a table: a line for each run, then one for each sum by still and solvent,
// then one for all together; the first column says which. Volumes are in litres, masses in kilograms.
func WriteMonthCSV(w io.Writer, m *Month) error {
	c := csv.NewWriter(w)
	if err := c.Write(monthColumns); err != nil {
		return err
	}
	var lines []map[string]string
	for _, r := range m.Runs {
		lines = append(lines, r.line(m.zone))
	}
	for _, s := range m.Sums {
		lines = append(lines, s.line("sum"))
	}
	lines = append(lines, m.Total.line("total"))
	for _, l := range lines {
		cells := make([]string, len(monthColumns))
		for i, name := range monthColumns {
			cells[i] = l[name]
		}
		if err := c.Write(cells); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func (r MonthRun) line(zone *time.Location) map[string]string {
	l := map[string]string{
		"row": "run", "still": r.Still, "solvent": plainText(r.Solvent), "run": strconv.Itoa(r.Run), "lot": plainText(r.Lot),
		"start": localTime(&r.Start, zone), "end": localTime(&r.End, zone), "runs": "1", string(r.Verdict): "1",
		"recovered_l": plainNumber(r.Recovered.Number), "recovered_l_u": plainNumber(r.Recovered.U), "recovered_basis": r.Recovered.Basis,
		"energy_kwh": plainNumber(r.EnergyKWh), "energy_kwh_u": plainNumber(r.summary.EnergyKWhU), "kwh_per_gal": plainNumber(r.KWhPerGal), "corrections": strconv.Itoa(r.Corrected),
	}
	switch r.Residue.Unit {
	case "kg":
		l["residue_kg"] = plainNumber(r.Residue.Number)
	case "L":
		l["residue_l"] = plainNumber(r.Residue.Number)
	}
	return l
}

func (s MonthSum) line(row string) map[string]string {
	n := strconv.Itoa
	var bases []string
	for _, b := range slices.Sorted(maps.Keys(s.RecoveredBases)) {
		bases = append(bases, n(s.RecoveredBases[b])+" "+b)
	}
	return map[string]string{
		"row": row, "still": s.Still, "solvent": plainText(s.Solvent), "runs": n(s.Runs), "good": n(s.Good), "suspect": n(s.Suspect), "failed": n(s.Failed),
		"recovered_l": plainNumber(s.RecoveredL), "recovered_l_u": plainNumber(s.RecoveredLU), "recovered_basis": strings.Join(bases, ", "), "recovered_runs": n(s.RecoveredRuns),
		"residue_kg": plainNumber(s.ResidueKg), "residue_l": plainNumber(s.ResidueL), "residue_runs": n(s.ResidueRuns),
		"energy_kwh": plainNumber(s.EnergyKWh), "energy_kwh_u": plainNumber(s.EnergyKWhU), "energy_runs": n(s.EnergyRuns), "kwh_per_gal": plainNumber(s.KWhPerGal),
	}
}
