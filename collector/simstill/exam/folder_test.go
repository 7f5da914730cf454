package exam

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const folderYAML = `site: {name: Quay Lane finishing shop, altitude: 0 m}
stills:
  still:
    charge: 60 L
    vacuum: {target: 24 inHg, within: 8 min}
    channels:
      jacket_temperature: {holding: 0, as: int16, unit: °C}
      still_vacuum: {holding: 1, as: int16, unit: inHg}
`

const folderTruth = `{"case":"nothing shows","set":"two","seed":1,"poll_s":1,
 "phases":[{"at":"2026-03-02T08:00:00Z","phase":"idle"}],
 "runs":[{"start":"2026-03-02T08:00:01Z","end":"2026-03-02T08:00:02Z","complete":true}]}`

// A folder is marked by what its truths say, and whatever is wrong with a file names the file.
func TestFolder(t *testing.T) {
	const csv = "time,jacket_temperature [°C],still_vacuum [inHg]\n2026-03-02T08:00:00Z,20,0\n2026-03-02T08:00:01Z,20,0\n2026-03-02T08:00:02Z,20,0\n"
	tests := []struct {
		name, yaml, csv, truth string
		wrong                  string // part of the error; empty: none
	}{
		{"good", strings.Replace(folderYAML, "    charge", "    line: plc\n    device: 1\n    charge", 1) + "lines: {plc: {tcp: \"127.0.0.1:502\"}}\n", csv, folderTruth, ""},
		{"truth cut off", folderYAML, csv, "{", "r.truth.json"},
		{"fault without a name", folderYAML, csv, strings.Replace(folderTruth, `"complete":true`, `"faults":[{"due":true}]`, 1), "has no names"},
		{"broken recording", strings.Replace(folderYAML, "    charge", "    line: plc\n    device: 1\n    charge", 1) + "lines: {plc: {tcp: \"127.0.0.1:502\"}}\n", csv + "2026-03-02T08:00:03Z,warm,0\n", folderTruth, "r.csv:5:"},
		{"broken configuration", "stills: 3\n", csv, folderTruth, "r.yaml"},
	}
	for _, tt := range tests {
		dir := t.TempDir()
		for name, text := range map[string]string{"r.yaml": tt.yaml, "r.csv": tt.csv, "r.truth.json": tt.truth} {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		items, err := Items(Choice{Folder: dir})
		var m Marks
		if err == nil {
			m, err = Sit(items)
		}
		switch {
		case tt.wrong != "":
			if err == nil || !strings.Contains(err.Error(), tt.wrong) {
				t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.wrong)
			}
		case err != nil:
			t.Errorf("%s: %v", tt.name, err)
		case m.BySet["two"] == nil || m.BySet["two"].Runs != 1 || m.BySet["two"].Found != 0:
			t.Errorf("%s: marks %+v, want one run that was not found", tt.name, m.BySet["two"])
		}
	}
}

// What is written into a folder is marked like what it was made from: configuration, recording and truth come back.
func TestWrittenFolder(t *testing.T) {
	cases := regexp.MustCompile(`^(open lid|oil above its channel.s own limit|upkeep due|.*leak of 3 to 8 mm)$`)
	items, err := Items(Choice{Cases: cases, Sets: []string{"typical"}, Seeds: 1})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if n, err := Write(dir, items); err != nil || n != len(items) || n < 2 {
		t.Fatalf("%d of %d recordings written, error %v; want all, and two at least", n, len(items), err)
	}
	read, err := Items(Choice{Folder: dir})
	if err != nil {
		t.Fatal(err)
	}
	table := func(items []Item) string {
		m, err := Sit(items)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := WriteTable(&b, m); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if diff := cmp.Diff(table(items), table(read)); diff != "" {
		t.Errorf("marks of the recordings (-) and of what was written (+):\n%s", diff)
	}
}

// Whatever a truth file holds, it is refused with its name or can be marked by.
func FuzzTruth(f *testing.F) {
	f.Add([]byte(folderTruth))
	f.Add([]byte("{"))
	f.Add([]byte(`{"runs":[{"faults":[{"names":["vacuum-short"],"due":true}],"tau_s":1e999}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		read, err := parseTruth("r.truth.json", data)
		if err != nil {
			if !strings.Contains(err.Error(), "r.truth.json") {
				t.Fatalf("error %q does not name the file", err)
			}
			return
		}
		truth := read.truth()
		if len(truth.Runs) != len(read.Runs) || len(truth.Phases) != len(read.Phases) {
			t.Fatalf("%d runs and %d phases of %d and %d", len(truth.Runs), len(truth.Phases), len(read.Runs), len(read.Phases))
		}
		for _, r := range truth.Runs {
			for _, x := range r.Faults {
				if len(x.Names) == 0 {
					t.Fatal("a fault without a name came through")
				}
			}
		}
	})
}
