package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Rooms from the top of the house down: a package may import its own room and those below it.
var rooms = []string{"luted/cmd", "luted/dashboards", "luted/collector", "luted/config", "luted/analysis"}

// TestImportsRunDownward keeps the arrows of the house: cmd → dashboards → collector → config →
// analysis. The packages below collector never import collector itself, and analysis uses nothing but
// the standard library and gonum.
func TestImportsRunDownward(t *testing.T) {
	files := goFiles(t, "../..")
	if len(files) == 0 {
		t.Fatal("found no Go files: the test looks in the wrong place")
	}
	for _, f := range files {
		for _, path := range f.imports {
			if why := forbidden(f.pkg, path); why != "" {
				t.Errorf("%s imports %q: %s", f.path, path, why)
			}
		}
	}
}

func TestForbidden(t *testing.T) {
	tests := []struct {
		name, from, path string
		allowed          bool
	}{
		{"down", "luted/cmd/luted", "luted/dashboards", true},
		{"down two", "luted/dashboards", "luted/analysis/alarm", true},
		{"same room", "luted/collector/export", "luted/collector/archive", true},
		{"parent", "luted/collector/export", "luted/collector", false},
		{"up", "luted/config", "luted/collector/archive", false},
		{"to the top", "luted/dashboards", "luted/cmd/luted", false},
		{"unknown room", "luted/helpers", "luted/config", false},
		{"analysis, library", "luted/analysis", "math", true},
		{"analysis, gonum", "luted/analysis", "gonum.org/v1/gonum/mat", true},
		{"analysis, other module", "luted/analysis/solvent", "gopkg.in/yaml.v3", false},
		{"collector, other module", "luted/collector", "golang.org/x/sync/errgroup", true},
		{"prefix of a room's name", "luted/configuration", "luted/analysis", false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if why := forbidden(tt.from, tt.path); (why == "") != tt.allowed {
				t.Errorf("%s → %s: %q, allowed should be %v", tt.from, tt.path, why, tt.allowed)
			}
		})
	}
}

// forbidden says why the package from may not import path; empty if it may.
func forbidden(from, path string) string {
	if !strings.HasPrefix(path, "luted/") {
		library := !strings.Contains(strings.SplitN(path, "/", 2)[0], ".")
		if room(from) == "luted/analysis" && !library && !strings.HasPrefix(path, "gonum.org/v1/gonum") {
			return "analysis may use only the standard library and gonum"
		}
		return ""
	}
	at, to := slices.Index(rooms, room(from)), slices.Index(rooms, room(path))
	switch {
	case at < 0 || to < 0:
		return "not a room of the house: " + strings.Join(rooms, ", ")
	case to < at:
		return "arrows run only downward: " + strings.Join(rooms, " → ")
	case path == "luted/collector" && at == to && from != path:
		return "the pipeline knows its neighbours, they do not know it"
	}
	return ""
}

func room(pkg string) string {
	for _, r := range rooms {
		if pkg == r || strings.HasPrefix(pkg, r+"/") {
			return r
		}
	}
	return ""
}

type goFile struct {
	path, pkg string
	imports   []string
}

// goFiles parses the imports of every Go file of the module but its tests: a test may use more (the
// simulated still, another database's client).
func goFiles(t *testing.T, root string) []goFile {
	t.Helper()
	var files []goFile
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && path != root && (strings.HasPrefix(name, ".") || name == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, filepath.Dir(path))
		if err != nil {
			return err
		}
		f := goFile{path: path, pkg: "luted/" + filepath.ToSlash(rel)}
		for _, spec := range parsed.Imports {
			p, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			f.imports = append(f.imports, p)
		}
		files = append(files, f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
