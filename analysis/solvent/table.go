package solvent

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// tableTSV is the property table as published in data/README.md, which names the source and the
// licence notice of every column.
//
//go:embed data/solvents.tsv
var tableTSV string

// data is one substance. It is never changed once made.
type data struct {
	name, cas, formula string
	abbreviations      []string
	molarMass          float64 // g/mol
	psat, hvap, cp     equation
	rho                equation
	hazards            Hazards
	note               string

	rho20  float64 // kg/m³ at 20 °C
	lnLow  float64 // ln of the vapour pressure in Pa at the ends of the fit
	lnHigh float64
}

// table holds every substance and finds it by any of its names, folded by fold.
type table struct {
	rows   []*data
	byName map[string]*data
	water  *data
}

// published parses the embedded table once. A mistake in it is a mistake in the program, which a test
// finds, so it panics.
var published = sync.OnceValue(func() *table {
	rows, err := parseTable(tableTSV)
	if err != nil {
		panic("solvent: " + err.Error())
	}
	t := &table{rows: rows, byName: make(map[string]*data, 8*len(rows))}
	for _, d := range rows {
		t.add(d.name, d)
		t.add(d.cas, d)
		for _, a := range d.abbreviations {
			t.add(a, d)
		}
	}
	for name, meant := range otherNames {
		d := t.byName[meant]
		if d == nil {
			panic(fmt.Sprintf("solvent: synonym %q means %q, which is not in the table", name, meant))
		}
		t.add(name, d)
	}
	t.water = t.byName["water"]
	return t
})

// water is what wet drums are wet with.
func water() *data { return published().water }

func (t *table) add(name string, d *data) {
	var buf [maxName]byte
	key, ok := fold(buf[:0], name)
	if !ok {
		panic(fmt.Sprintf("solvent: name %q cannot be a key", name))
	}
	if old := t.byName[string(key)]; old != nil && old != d {
		panic(fmt.Sprintf("solvent: name %q means both %s and %s", name, old.name, d.name))
	}
	t.byName[string(key)] = d
}

func (t *table) find(name string) *data {
	var buf [maxName]byte
	key, ok := fold(buf[:0], name)
	if !ok {
		return nil
	}
	return t.byName[string(key)] // no allocation: the conversion is only for the lookup
}

// maxName is longer than any name in the table.
const maxName = 48

// fold brings a name to the form used as a key: lower case, with spaces, hyphens, underscores, commas,
// full stops and quotes dropped, so that "Iso-Propyl Alcohol" and "isopropylalcohol" are one.
func fold(into []byte, name string) ([]byte, bool) {
	for i := 0; i < len(name); i++ {
		c := name[i]
		switch {
		case c >= 'A' && c <= 'Z':
			c += 'a' - 'A'
		case c == ' ' || c == '-' || c == '_' || c == ',' || c == '.' || c == '\'' || c == '\t':
			continue
		}
		if len(into) == maxName {
			return nil, false
		}
		into = append(into, c)
	}
	return into, len(into) > 0
}

// parseTable reads the table; columns are found by their names.
func parseTable(text string) ([]*data, error) {
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	column := map[string]int{}
	for i, name := range strings.Split(lines[0], "\t") {
		column[name] = i
	}
	var rows []*data
	for n, line := range lines[1:] {
		r := row{cells: strings.Split(line, "\t"), column: column}
		d := r.substance()
		if r.err != nil {
			return nil, fmt.Errorf("solvents.tsv:%d: %w", n+2, r.err)
		}
		rows = append(rows, d)
	}
	return rows, nil
}

// row reads the cells of one line and keeps the first error.
type row struct {
	cells  []string
	column map[string]int
	err    error
}

func (r *row) text(name string) string {
	i, ok := r.column[name]
	if !ok {
		if r.err == nil {
			r.err = fmt.Errorf("no column %q", name)
		}
		return ""
	}
	if i >= len(r.cells) {
		return "" // trailing empty cells may be cut
	}
	return strings.TrimSpace(r.cells[i])
}

// maybe is a number or nil for an empty cell, which means "not in the sources used".
func (r *row) maybe(name string) *float64 {
	s := r.text(name)
	if s == "" || s == "-" {
		return nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		if r.err == nil {
			r.err = fmt.Errorf("%s: %q is not a number", name, s)
		}
		return nil
	}
	return &v
}

// number is for coefficients, where an empty cell is an unused coefficient.
func (r *row) number(name string) float64 {
	if v := r.maybe(name); v != nil {
		return *v
	}
	return 0
}

func (r *row) equation(prefix string, first int) equation {
	e := equation{
		form:   formNames[r.text(prefix+"_form")],
		tc:     r.number("tc_K"),
		minK:   r.number(prefix + "_tmin_K"),
		maxK:   r.number(prefix + "_tmax_K"),
		source: r.text(prefix + "_source"),
	}
	if e.form == none && r.err == nil {
		r.err = fmt.Errorf("%s_form: unknown form %q", prefix, r.text(prefix+"_form"))
	}
	for i := range e.c {
		e.c[i] = r.number(fmt.Sprintf("%s_c%d", prefix, first+i))
	}
	return e
}

func (r *row) substance() *data {
	d := &data{
		name: r.text("name"), cas: r.text("cas"), formula: r.text("formula"),
		molarMass: r.number("molar_mass_g_mol"),
		psat:      r.equation("psat", 1),
		hvap:      r.equation("hvap", 1),
		cp:        r.equation("cp", 1),
		rho:       r.equation("rho", 0),
		note:      r.text("note"),
	}
	for a := range strings.SplitSeq(r.text("abbrev"), ";") {
		if a = strings.TrimSpace(a); a != "" {
			d.abbreviations = append(d.abbreviations, a)
		}
	}
	d.psat.pc = r.number("psat_pc_Pa")
	d.hazards = Hazards{
		FlashPointC:    r.maybe("flash_lowest_C"),
		AutoignitionC:  r.maybe("ait_lowest_C"),
		LowerLimitPct:  r.maybe("lfl_lowest_pct"),
		UpperLimitPct:  r.maybe("ufl_highest_pct"),
		PeroxideFormer: r.number("peroxide_former") == 1,
		Halogenated:    r.number("halogenated") == 1,
		Water:          Miscibility(r.text("water_miscible")),
	}
	d.finish()
	return d
}

// finish computes what is asked often.
func (d *data) finish() {
	k, _ := d.rho.within(20 + zeroCelsiusK)
	d.rho20 = d.rho.density(k, d.molarMass)
	d.lnLow, _ = d.psat.lnPsat(d.psat.minK)
	d.lnHigh, _ = d.psat.lnPsat(d.psat.maxK)
}
