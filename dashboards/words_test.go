package dashboards

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"testing"

	"luted/analysis"
	"luted/analysis/alarm"
)

// TestEverythingHasWords reads the names that the analysis can say from its own source, so that a new
// fault, cause or phase without words for a shop fails here.
func TestEverythingHasWords(t *testing.T) {
	for typ, has := range map[string]func(string) bool{
		"Fault": func(s string) bool { _, ok := faultWords[analysis.Fault(s)]; return ok },
		"Cause": func(s string) bool { _, ok := causeWords[analysis.Cause(s)]; return ok },
		"Phase": func(s string) bool { _, ok := phaseWords[analysis.Phase(s)]; return ok },
	} {
		names := constantsOf(t, "../analysis", typ)
		if len(names) < 6 {
			t.Errorf("only %d constants of type %s found: %v", len(names), typ, names)
		}
		for _, n := range names {
			if !has(n) {
				t.Errorf("%s %q has no words", typ, n)
			}
		}
	}
	for _, n := range constantsOf(t, "../analysis/alarm", "State") {
		if stateWords[alarm.State(n)] == "" {
			t.Errorf("state %q has no words", n)
		}
	}
	for q := analysis.Good; q <= analysis.Implausible; q++ {
		if qualityNames[q] == "" {
			t.Errorf("quality %v has no words", q)
		}
	}
	if len(faultWords) != len(alarm.Faults) {
		t.Errorf("%d faults have words, the catalogue has %d", len(faultWords), len(alarm.Faults))
	}
}

// constantsOf returns the values of all constants of a string type in a package's source.
func constantsOf(t *testing.T, dir, typ string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, name := range files {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if id, ok := v.Type.(*ast.Ident); !ok || id.Name != typ {
				return true
			}
			for _, x := range v.Values {
				if lit, ok := x.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					s, err := strconv.Unquote(lit.Value)
					if err != nil {
						t.Fatal(err)
					}
					out = append(out, s)
				}
			}
			return true
		})
	}
	return out
}

// TestOpenapiNames: the names in openapi.json are those of the program.
func TestOpenapiNames(t *testing.T) {
	v := newValidator(t)
	for _, f := range constantsOf(t, "../analysis", "Fault") {
		v.check(t, "/components/schemas/Fault", []byte(strconv.Quote(f)))
	}
	for _, p := range constantsOf(t, "../analysis", "Phase") {
		v.check(t, "/components/schemas/Phase", []byte(strconv.Quote(p)))
	}
	for _, s := range constantsOf(t, "../analysis/alarm", "State") {
		v.check(t, "/components/schemas/AlarmState", []byte(strconv.Quote(s)))
	}
	for q := analysis.Good; q <= analysis.Implausible; q++ {
		v.check(t, "/components/schemas/Quality", []byte(strconv.Quote(q.String())))
	}
	for _, s := range analysis.Signals {
		v.check(t, "/components/schemas/Dimension", []byte(strconv.Quote(string(s.Dimension))))
	}
}
