package dashboards

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// fieldKind says how the value of a field is written.
type fieldKind string

const (
	wordsField  fieldKind = "words"
	volumeField fieldKind = "volume"
	amountField fieldKind = "amount" // a mass or a volume
)

// recordField is what people may enter into a record, in the order of the page.
type recordField struct {
	name, words string
	kind        fieldKind
}

var recordFields = []recordField{
	{"solvent", "Solvent", wordsField},
	{"lot", "Lot or drum", wordsField},
	{"charge", "Charge", volumeField},
	{"recovered", "Recovered", volumeField},
	{"residue", "Residue", amountField},
	{"liner", "Liner", wordsField},
	{"operator", "Operator", wordsField},
}

func findField(name string) (recordField, bool) {
	i := slices.IndexFunc(recordFields, func(f recordField) bool { return f.name == name })
	if i < 0 {
		return recordField{}, false
	}
	return recordFields[i], true
}

// The bases of values that were not measured.
const (
	byConfiguration = "configuration"
	byPerson        = analysis.Entered
)

// measuredBases are the bases of a recovered volume that an instrument has shown.
var measuredBases = []string{"volume", "mass", "flow"}

// fieldsOf lists the present value of each field with its history.
func fieldsOf(st *config.Still, disp analysis.Display, j *runJournal) []RecordField {
	var out []RecordField
	for _, def := range recordFields {
		f := RecordField{Field: def.name, Words: def.words}
		suppose(&f, st, disp, j.summary)
		for _, a := range j.amends[def.name] {
			f.History = append(f.History, RecordChange{a.seq, a.at, a.By, a.Old, a.New, a.Why})
			f.Seq = a.seq
		}
		if n := len(j.amends[def.name]); n > 0 && j.amends[def.name][n-1].New != "" {
			enter(&f, j.amends[def.name][n-1], disp)
		}
		f.NeedsWhy = f.Basis == byPerson || slices.Contains(measuredBases, f.Basis)
		out = append(out, f)
	}
	return out
}

// suppose fills in what is known without anybody entering it.
func suppose(f *RecordField, st *config.Still, disp analysis.Display, s *analysis.Summary) {
	volume := func(l float64) { f.Number, f.Unit, f.Text = &l, "L", config.Format(l, analysis.Volume, disp) }
	switch f.Field {
	case "solvent":
		f.Text = solventWords(st)
		if s != nil {
			f.Text = s.Solvent
		}
		if f.Text != "" {
			f.Basis = byConfiguration
		}
	case "charge":
		if st.Equipment.ChargeL > 0 {
			volume(st.Equipment.ChargeL)
			f.Basis = byConfiguration
		}
	case "recovered":
		if s != nil && s.RecoveredL != nil {
			volume(*s.RecoveredL)
			f.U, f.Basis = s.RecoveredLU, s.RecoveredBasis
		}
	}
}

// enter puts in what a person has entered.
func enter(f *RecordField, a saidAmend, disp analysis.Display) {
	f.Text, f.Number, f.Unit, f.U, f.Basis = a.New, a.Number, a.Unit, nil, byPerson
	f.By, f.At = a.By, moment(a.at)
	if a.Number == nil {
		return
	}
	d := analysis.Volume
	if a.Unit == analysis.Mass.InsideUnit() {
		d = analysis.Mass
	}
	if unit := config.DisplayUnit(d, disp); !strings.HasSuffix(a.New, " "+unit.Symbol) {
		f.Text = config.Format(*a.Number, d, disp) + " (entered as " + a.New + ")"
	}
	if f.Field == "recovered" {
		u := analysis.EnteredLU(*a.Number)
		f.U = &u
	}
}

// parseField reads what a person wrote for a field: the text as it will stand, and for a quantity the number
// in the inside unit. wrong says what to write instead.
func parseField(def recordField, text string) (a archive.Amend, wrong string) {
	a = archive.Amend{Field: def.name, New: strings.TrimSpace(text)}
	if a.New == "" || def.kind == wordsField {
		return a, ""
	}
	dims := []analysis.Dimension{analysis.Volume}
	if def.kind == amountField {
		dims = []analysis.Dimension{analysis.Mass, analysis.Volume}
	}
	for _, d := range dims {
		q, err := config.ParseQuantity(a.New, d)
		if err != nil {
			continue
		}
		v := q.Inside()
		if v < 0 || math.IsInf(v, 0) || math.IsNaN(v) || v > 1e6 {
			return a, "must be 0 or more, and an amount that a still can hold"
		}
		v = math.Round(v*1e6) / 1e6 // a drop: what is beyond is noise of the conversion
		a.New, a.Number, a.Unit = q.String(), &v, d.InsideUnit()
		return a, ""
	}
	if def.kind == amountField {
		return a, fmt.Sprintf("%q is no amount; write a mass or a volume with its unit, such as 6.5 kg, 14 lb or 2 gal", text)
	}
	return a, fmt.Sprintf("%q is no volume; write it with its unit, such as 13.8 gal or 52 L", text)
}

// field finds a field; the zero value if it is not there.
func field(fields []RecordField, name string) RecordField {
	for _, f := range fields {
		if f.Field == name {
			return f
		}
	}
	return RecordField{}
}
