package solvent

import (
	"strings"
	"testing"
)

// The table is whole: every substance has what the equations need, with a source for every property.
func TestTableWhole(t *testing.T) {
	for _, d := range published().rows {
		for what, e := range map[string]*equation{"psat": &d.psat, "hvap": &d.hvap, "cp": &d.cp, "rho": &d.rho} {
			if e.source == "" || e.form == none || !(e.tc > 0) || !(e.maxK >= e.minK) || !(e.minK > 0) {
				t.Errorf("%s, %s: %+v", d.name, what, *e)
			}
		}
		if d.psat.form == wagner25 && !(d.psat.pc > 1e6) {
			t.Errorf("%s: no critical pressure", d.name)
		}
		if d.cas == "" || d.formula == "" || !(d.molarMass > 10) || !(d.rho20 > 500 && d.rho20 < 2000) {
			t.Errorf("%s: %q, %q, %g g/mol, %g kg/m³", d.name, d.cas, d.formula, d.molarMass, d.rho20)
		}
		if len(d.name) >= maxName {
			t.Errorf("%s: too long a name", d.name)
		}
	}
}

// The molar mass follows from the formula (IUPAC atomic weights, conventional values).
func TestMolarMass(t *testing.T) {
	weights := map[string]float64{"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007, "Cl": 35.45}
	for _, d := range published().rows {
		var mass float64
		for f := d.formula; f != ""; {
			element := f[:1]
			if strings.HasPrefix(f, "Cl") {
				element = "Cl"
			}
			f = f[len(element):]
			count := 0
			for f != "" && f[0] >= '0' && f[0] <= '9' {
				count, f = count*10+int(f[0]-'0'), f[1:]
			}
			w, ok := weights[element]
			if !ok {
				t.Fatalf("%s: element %q of %s", d.name, element, d.formula)
			}
			mass += w * float64(max(count, 1))
		}
		near(t, d.name+" "+d.formula+" (g/mol)", d.molarMass, mass, 0.00051, "IUPAC atomic weights")
	}
}

func TestParseTableErrors(t *testing.T) {
	lines := strings.Split(tableTSV, "\n")
	for _, tt := range []struct{ name, text, want string }{
		{"not a number", lines[0] + "\n" + strings.Replace(lines[1], "58.080", "58,080", 1), `solvents.tsv:2: molar_mass_g_mol: "58,080" is not a number`},
		{"unknown form", lines[0] + "\n" + lines[1] + "\n" + strings.Replace(lines[2], "DIPPR101", "DIPPR999", 1), `solvents.tsv:3: psat_form: unknown form "DIPPR999"`},
		{"no such column", strings.Replace(lines[0], "tc_K", "tc", 1) + "\n" + lines[1], `solvents.tsv:2: no column "tc_K"`},
	} {
		if _, err := parseTable(tt.text); err == nil || err.Error() != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
}
