package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReplayFigure: the picture of a recorded run shows its channels, phases and faults; the same recording
// gives the same picture, and the account beside it is the same as without.
func TestReplayFigure(t *testing.T) {
	const dir = "testdata/replay/"
	draw := func(file string, more ...string) (string, string) {
		t.Helper()
		args := append([]string{"replay", "--config", dir + "luted.yaml", dir + "leak.csv", "--figure", file}, more...)
		code, out, errs := luted(t, "", args...)
		if code != exitDone || !strings.Contains(errs, "Run 1 is drawn in "+file) {
			t.Fatalf("exit code %d, %s", code, errs)
		}
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		return string(b), out
	}
	one, account := draw(filepath.Join(t.TempDir(), "run.svg"))
	two, _ := draw(filepath.Join(t.TempDir(), "again.svg"), "--run", "1")
	if one != two {
		t.Error("the same recording gives another picture")
	}
	for _, word := range []string{"temperature, °F", "vacuum, inHg", "power, kW", "target", "forecast of", "boiling point of the blend", "vacuum-short", "pump-down"} {
		if !strings.Contains(one, word) {
			t.Errorf("%q is not in the picture", word)
		}
	}
	want, err := os.ReadFile(dir + "leak.txt")
	if err != nil || account != string(want) {
		t.Errorf("the account differs at line %d (%v)", differs(account, string(want)), err)
	}
	metric, _ := draw(filepath.Join(t.TempDir(), "run.SVG"), "--display", "metric", "--zone", "America/Denver")
	if !strings.Contains(metric, "pressure, kPa absolute") || !strings.Contains(metric, "America/Denver") {
		t.Error("units and zone of the command line are not those of the picture")
	}
}

func TestReplayFigureMistakes(t *testing.T) {
	file := filepath.Join(t.TempDir(), "run.svg")
	for _, tt := range []struct {
		args string
		code int
		says string
	}{
		{"--figure run.gif", exitUsage, "no such kind of picture"},
		{"--run 1", exitUsage, "write --figure too"},
		{"--zone Denver", exitUsage, "no such time zone"},
		{"--run 7 --figure " + file, exitFailed, "has no run 7"},
	} {
		args := append([]string{"replay", "--config", "testdata/replay/luted.yaml", "testdata/replay/leak.csv"}, strings.Fields(tt.args)...)
		code, _, errs := luted(t, "", args...)
		if code != tt.code || !strings.Contains(errs, tt.says) {
			t.Errorf("%s: exit code %d, %s; want %q", tt.args, code, errs, tt.says)
		}
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("a picture of no run was written")
	}
}
