package solvent

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// near fails unless got is within tol of want; tol is absolute. The source is printed with the failure.
func near(t *testing.T, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g ± %.2g (%s)", what, got, want, tol, source)
	}
}

// find is Find for a name that must be there.
func find(t testing.TB, name string) Solvent {
	t.Helper()
	s, ok := Find(name)
	if !ok {
		t.Fatalf("no solvent %q", name)
	}
	return s
}

// tsv reads a table of testdata: one map a row, and its line number.
func tsv(t *testing.T, path string) (rows []map[string]string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimRight(string(b), "\n"), "\n")
	header := strings.Split(lines[0], "\t")
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range strings.Split(line, "\t") {
			row[header[i]] = strings.TrimSpace(cell)
		}
		rows = append(rows, row)
	}
	return rows
}

// number reads a cell; ok is false for an empty one.
func number(t *testing.T, row map[string]string, column string) (v float64, ok bool) {
	t.Helper()
	s, known := row[column]
	if !known {
		t.Fatalf("no column %q", column)
	}
	if s == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%s: %q is not a number", column, s)
	}
	return v, true
}
