package main

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"luted/collector/archive"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// transferYAML is the still of the recordings, with the channels that they have.
func transferYAML(t *testing.T) string {
	t.Helper()
	return read(t, "testdata/replay/luted.yaml") + `    line: plc
    device: 1
    every: 15 s
    channels:
      jacket_temperature: {holding: 1000, as: int16, scale: 0.1, unit: °F}
      charge_temperature: {holding: 1001, as: int16, scale: 0.1, unit: °F}
      vapor_temperature: {holding: 1002, as: int16, scale: 0.1, unit: °F}
      still_vacuum: {input: 0, as: int16, raw: [5530, 27648], range: [0 inHg, 30 inHg], loop: true}
      air_supply_pressure: {input: 1, as: int16, raw: [5530, 27648], range: [0 psi, 145 psi], loop: true}
      heater_power: {holding: 1010, as: uint16, scale: 10, unit: W}
      energy_counter: {holding: 1012, as: uint64, unit: Wh}
      lid_closed: {coil: 16}
      heater_on: {coil: 17}
      air_on: {coil: 18}
lines:
  plc: {tcp: 192.0.2.1:502}
`
}

// TestInAndOutUnchanged: a recording that is imported and exported again is the same file, and what the
// journal says of it is what replay says.
func TestInAndOutUnchanged(t *testing.T) {
	dir := t.TempDir()
	conf := filepath.Join(dir, "luted.yaml")
	write(t, conf, transferYAML(t))
	clean := read(t, "testdata/replay/clean.csv")
	if code, _, err := luted(t, clean, "import", "-c", conf, "--log-level", "error", "-"); code != exitDone || err != "945 scans of still south\n" {
		t.Fatalf("import: exit code %d, %s", code, err)
	}
	back := filepath.Join(dir, "back.csv")
	if code, _, err := luted(t, "", "export", "-c", conf, back); code != exitDone {
		t.Fatalf("export: exit code %d, %s", code, err)
	}
	if got := read(t, back); got != clean {
		t.Errorf("the recording came back changed at line %d", differs(got, clean))
	}
	_, events, _ := luted(t, "", "export", "-c", conf, "--events", "-")
	_, replayed, _ := luted(t, "", "replay", "-c", conf, "--json", back)
	if events == "" || events != replayed {
		t.Errorf("journal and replay differ at line %d:\n%s", differs(events, replayed), events)
	}
	if code, _, err := luted(t, "", "export", "-c", conf, back); code != exitFailed || !strings.Contains(err, "overwrites nothing") {
		t.Errorf("onto an existing file: exit code %d, %s", code, err)
	}
	if code, _, err := luted(t, clean, "import", "-c", conf, "--log-level", "error", "-"); code != exitFailed || !strings.Contains(err, "not later than its last one") {
		t.Errorf("the same recording again: exit code %d, %s", code, err)
	}
}

func TestExportWindow(t *testing.T) {
	dir := t.TempDir()
	conf := filepath.Join(dir, "luted.yaml")
	write(t, conf, transferYAML(t))
	if code, _, err := luted(t, read(t, "testdata/replay/clean.csv"), "import", "-c", conf, "--log-level", "error", "-"); code != exitDone {
		t.Fatal(err)
	}
	_, out, told := luted(t, "", "export", "-c", conf, "--from", "2026-11-04 08:00", "--to", "2026-11-04T08:01:00Z", "-")
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if len(lines) != 5 || !strings.HasPrefix(lines[1], "2026-11-04T08:00:05Z") || !strings.HasPrefix(lines[4], "2026-11-04T08:00:50Z") {
		t.Errorf("a minute at 15 s:\n%s", out)
	}
	if told != "4 scans of still south\n" {
		t.Errorf("a minute at 15 s: told %q", told)
	}
	_, out, told = luted(t, "", "export", "-c", conf, "--from", "2027-01-01", "-")
	if want := "0 scans of still south\nnothing lies between --from and --to; the last scan of still south is of 2026-11-04 "; !strings.HasPrefix(told, want) || strings.Count(out, "\n") != 1 {
		t.Errorf("nothing there: told %q, written %q", told, out)
	}
	_, out, _ = luted(t, "", "export", "-c", conf, "--events", "--from", "2026-11-04 11:01", "--to", "2026-11-04 11:30", "-")
	if strings.Count(out, "\n") != 1 || !strings.Contains(out, "cool-down") {
		t.Errorf("events of half an hour:\n%s", out)
	}
}

func TestImportRefusesUnknownColumns(t *testing.T) {
	conf := filepath.Join(t.TempDir(), "luted.yaml")
	write(t, conf, transferYAML(t))
	code, _, err := luted(t, "time,jacket_temperature [°C],spare [V]\n2026-11-04T08:00:00Z,20,1\n", "import", "-c", conf, "-")
	if code != exitFailed || !strings.Contains(err, `no channel "spare"`) {
		t.Errorf("exit code %d: %s", code, err)
	}
}

func TestParseTime(t *testing.T) {
	denver, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]string{
		"2026-03-02":                "2026-03-02T07:00:00Z",
		"2026-03-02 08:00":          "2026-03-02T15:00:00Z",
		"2026-07-02T08:00:30":       "2026-07-02T14:00:30Z", // summer time
		"2026-03-02T08:00:00Z":      "2026-03-02T08:00:00Z",
		"2026-03-02T08:00:00+01:00": "2026-03-02T07:00:00Z",
	} {
		got, err := parseTime(text, denver)
		if err != nil || got.Format(time.RFC3339) != want {
			t.Errorf("%s is %v (%v), want %s", text, got, err, want)
		}
	}
	if at, err := parseTime("", denver); err != nil || !at.IsZero() {
		t.Errorf("nothing is %v, %v", at, err)
	}
}

// TestExportOfDamagedArchive: what is damaged is named with its time and with what can be done, and the rest
// can be had.
func TestExportOfDamagedArchive(t *testing.T) {
	dir := t.TempDir()
	conf, path := filepath.Join(dir, "luted.yaml"), filepath.Join(dir, "luted.db")
	write(t, conf, transferYAML(t)+"archive: {path: "+path+"}\n")
	start := time.Date(2026, 11, 4, 8, 0, 0, 0, time.UTC)
	var rec strings.Builder
	rec.WriteString("time,jacket_temperature [°F]\n")
	for i := range 4200 { // more than one segment holds
		rec.WriteString(start.Add(time.Duration(i)*15*time.Second).Format(time.RFC3339) + ",70.5\n")
	}
	if code, _, err := luted(t, rec.String(), "import", "-c", conf, "--log-level", "error", "-"); code != exitDone {
		t.Fatal(err)
	}
	damageSegment(t, path)
	back := filepath.Join(dir, "back.csv")
	code, _, err := luted(t, "", "export", "-c", conf, back)
	for _, part := range []string{"segment 1, 4096 scans from 2026-11-04T08:00:00Z to 2026-11-05T01:03:45Z, cannot be read: damaged", "no file was written", "--skip-damaged", "a copy of the archive"} {
		if code != exitFailed || !strings.Contains(err, part) || strings.Contains(err, "0001-01-01") {
			t.Errorf("exit code %d, want %q in: %s", code, part, err)
		}
	}
	if _, err := os.Stat(back); err == nil {
		t.Error("a part of a recording was left behind")
	}
	code, _, err = luted(t, "", "export", "-c", conf, "--skip-damaged", back)
	if code != exitFindings || !strings.Contains(err, "left out: segment 1, 4096 scans from 2026-11-04T08:00:00Z") || !strings.Contains(err, "4096 scans left out") {
		t.Errorf("exit code %d: %s", code, err)
	}
	lines := strings.Split(strings.TrimSpace(read(t, back)), "\n")
	if len(lines) != 1+4200-4096 || !strings.HasPrefix(lines[1], "2026-11-05T01:04:00Z") {
		t.Errorf("%d lines, the first scan %q", len(lines), lines[1])
	}
	if code, _, err := luted(t, "", "export", "-c", conf, "--skip-damaged", "--events", "-"); code != exitUsage || !strings.Contains(err, "about scans") {
		t.Errorf("with --events: exit code %d: %s", code, err)
	}
}

// damageSegment seals the scans of an archive and puts zeros into the first segment, as a bad sector would.
func damageSegment(t *testing.T, path string) {
	t.Helper()
	a, err := archive.Open(t.Context(), path, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(a.Maintain(t.Context()), a.Close()); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("UPDATE segment SET data = zeroblob(length(data)) WHERE id = 1"); err != nil {
		t.Fatal(err)
	}
}
