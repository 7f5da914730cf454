package config

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite golden files under testdata")

// golden compares got with a file, or rewrites the file.
func golden(t *testing.T, name, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got; -update rewrites it):\n%s", name, diff)
	}
}

// testEnv is the environment the files under testdata are read in.
func testEnv(name string) (string, bool) {
	s, ok := map[string]string{"TOKEN": "s3cr3t-t0ken", "EMPTY": " "}[name]
	return s, ok
}

// parseFile parses a file under testdata as if it lay in the working directory.
func parseFile(t *testing.T, name string) (*Config, []Warning, error) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return Parse(filepath.Base(name), data, testEnv)
}

func testFiles(t *testing.T, dir string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("testdata", dir, "*.yaml"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files in testdata/%s: %v", dir, err)
	}
	return files
}

// TestBadFiles holds the exact message of each mistake: one file for each, beside what is said about it.
func TestBadFiles(t *testing.T) {
	for _, name := range testFiles(t, "bad") {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			c, _, err := parseFile(t, name)
			if err == nil || c != nil {
				t.Fatal("no mistake found")
			}
			if strings.Contains(err.Error(), "s3cr3t") {
				t.Errorf("the message tells a secret: %v", err)
			}
			golden(t, strings.TrimSuffix(name, ".yaml")+".want", err.Error()+"\n")
		})
	}
}

// TestWarnings holds the exact warnings: one file for each, beside what is said about it.
func TestWarnings(t *testing.T) {
	for _, name := range testFiles(t, "warn") {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			_, warns, err := parseFile(t, name)
			if err != nil {
				t.Fatal(err)
			}
			if len(warns) == 0 {
				t.Error("no warning")
			}
			var b strings.Builder
			for _, w := range warns {
				b.WriteString(w.String() + "\n")
			}
			golden(t, strings.TrimSuffix(name, ".yaml")+".want", b.String())
		})
	}
}

// TestGoodFiles: nothing is wrong with a good file, and nothing to warn of but what its name says.
func TestGoodFiles(t *testing.T) {
	for _, name := range testFiles(t, "good") {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".yaml"), func(t *testing.T) {
			c, warns, err := parseFile(t, name)
			if err != nil {
				t.Fatal(err)
			}
			checkPromises(t, c)
			for _, w := range warns {
				if filepath.Base(name) != "design.yaml" { // it has an unused line, by design
					t.Errorf("warning: %s", w)
				}
			}
		})
	}
}
