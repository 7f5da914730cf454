package alarm

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"testing"

	"luted/analysis"
)

// A fault that is added to the analysis must be added to the catalogue here, or nobody could shelve it.
func TestCatalogueIsComplete(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../event.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var declared []analysis.Fault
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if id, ok := v.Type.(*ast.Ident); ok && id.Name == "Fault" {
			name, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			declared = append(declared, analysis.Fault(name))
		}
		return true
	})
	if len(declared) < 20 || !slices.Equal(declared, Faults) {
		t.Errorf("the analysis declares %v\nthe catalogue has %v", declared, Faults)
	}
}

func TestEveryFaultHasAPriority(t *testing.T) {
	count := map[Priority]int{}
	for _, f := range Faults {
		count[DefaultPriority(f)]++
	}
	// ALM-8 (ISA-18.2-2016): about 80 % low, 15 % medium, 5 % high, of alarms as they occur. Of the
	// kinds of alarms no shares are published; but high must stay the rarest.
	if count[High] == 0 || count[High] > 2 || count[High]+count[Medium]+count[Low] != len(Faults) {
		t.Errorf("priorities of %d faults: %v", len(Faults), count)
	}
}
