package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden files under testdata")

// golden compares what was printed with a file under testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs at line %d:\n got: %s\nwant: %s\n(rewrite with -update, then read the difference)",
			path, differs(got, string(want)), line(got, differs(got, string(want))), line(string(want), differs(got, string(want))))
	}
}

// differs is the number, from 1, of the first line that differs.
func differs(a, b string) int {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return i + 1
		}
	}
	return min(len(x), len(y)) + 1
}

func line(s string, n int) string {
	if lines := strings.Split(s, "\n"); n <= len(lines) {
		return lines[n-1]
	}
	return "(end)"
}

// luted runs one command line in this process.
func luted(t *testing.T, in string, args ...string) (code int, out, err string) {
	t.Helper()
	return lutedIn(t.Context(), in, args...)
}

func lutedIn(ctx context.Context, in string, args ...string) (code int, out, err string) {
	var o, e bytes.Buffer
	code = execute(ctx, args, streams{in: strings.NewReader(in), out: &o, err: &e})
	return code, o.String(), e.String()
}

func TestHelpGolden(t *testing.T) {
	t.Setenv("COLUMNS", "80")
	for _, command := range []string{"", "run", "demo", "check", "boil", "replay", "export", "import", "learned", "report", "verify", "notify-test", "version"} {
		name, args := command, []string{command, "--help"}
		if command == "" {
			name, args = "luted", []string{"--help"}
		}
		t.Run(name, func(t *testing.T) {
			code, out, err := luted(t, "", args...)
			if code != exitDone || err != "" {
				t.Errorf("exit code %d, %s", code, err)
			}
			golden(t, "help/"+name+".txt", out)
		})
	}
}

func TestNoCommandIsHelp(t *testing.T) {
	_, want, _ := luted(t, "", "--help")
	if code, got, _ := luted(t, ""); code != exitDone || got != want {
		t.Errorf("exit code %d:\n%s", code, got)
	}
}

func TestReplayGolden(t *testing.T) {
	const dir = "testdata/replay/"
	for _, name := range []string{"clean", "leak"} {
		for suffix, flags := range map[string][]string{".jsonl": {"--json"}, ".txt": nil} {
			t.Run(name+suffix, func(t *testing.T) {
				args := append([]string{"replay", "--config", dir + "luted.yaml", "--still", "south", dir + name + ".csv"}, flags...)
				code, out, err := luted(t, "", args...)
				if code != exitDone || err != "" {
					t.Errorf("exit code %d, %s", code, err)
				}
				golden(t, "replay/"+name+suffix, out)
			})
		}
	}
}

// TestReplayFromStandardInput: a recording says the same from a file and from a pipe.
func TestReplayFromStandardInput(t *testing.T) {
	csv, err := os.ReadFile("testdata/replay/leak.csv")
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("testdata/replay/leak.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	code, out, _ := luted(t, string(csv), "replay", "--config", "testdata/replay/luted.yaml", "--json", "-")
	if code != exitDone || out != string(want) {
		t.Errorf("exit code %d; differs at line %d", code, differs(out, string(want)))
	}
}

// TestReplayRefusesSlip: a channel whose name is a slip would go unused, and nobody would know.
func TestReplayRefusesSlip(t *testing.T) {
	csv, err := os.ReadFile("testdata/replay/leak.csv")
	if err != nil {
		t.Fatal(err)
	}
	slip := strings.Replace(string(csv), "jacket_temperature", "jacket_temprature", 1)
	code, _, errs := luted(t, slip, "replay", "--config", "testdata/replay/luted.yaml", "-")
	if code != exitUsage || !strings.Contains(errs, ":1: ") || !strings.Contains(errs, "did you mean jacket_temperature?") {
		t.Errorf("exit code %d, %q", code, errs)
	}
}

func TestCheckGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/check/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no files to check", err)
	}
	here, err := filepath.Abs("testdata/check")
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]int{"bad": exitUsage, "shop": exitDone, "slow": exitFindings}
	strict := map[string]bool{"slow": true}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".yaml")
		t.Run(name, func(t *testing.T) {
			args := []string{"check", f}
			if strict[name] {
				args = append(args, "--strict")
			}
			code, out, err := luted(t, "", args...)
			if code != codes[name] {
				t.Errorf("exit code %d, want %d", code, codes[name])
			}
			golden(t, "check/"+name+".txt", strings.ReplaceAll(out+err, here, "/srv/luted"))
		})
	}
}
