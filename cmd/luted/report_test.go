package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestReportCommand(t *testing.T) {
	conf, _ := archived(t)
	_, whole, _ := luted(t, "", "verify", "-c", conf, "--chain-only")
	head := headLine.FindStringSubmatch(whole)[1]
	report := func(args ...string) (int, string, string) {
		return luted(t, "", append([]string{"report", "-c", conf}, args...)...)
	}
	code, page, err := report("--last")
	if code != exitDone || err != "" {
		t.Fatalf("--last: exit code %d, %s", code, err)
	}
	for _, want := range []string{"Batch record: still south, run 1", head[:8] + " " + head[8:16], "kWh/gal", "measured (energy counter)", "No list of start checks", "UTC"} {
		if !strings.Contains(page, want) {
			t.Errorf("the record does not say %q", want)
		}
	}
	var rec struct {
		Run     int
		State   string
		Head    struct{ Hash string }
		Summary struct {
			Verdict string
			Energy  float64 `json:"energy_kwh"`
		}
	}
	code, out, _ := report("--still", "south", "--run", "1", "--format", "json")
	if e := json.Unmarshal([]byte(out), &rec); e != nil || code != exitDone || rec.Run != 1 || rec.State != "ended" || rec.Head.Hash != head || rec.Summary.Energy <= 0 {
		t.Errorf("--format json: exit code %d, %v, %+v", code, e, rec)
	}
	file := filepath.Join(t.TempDir(), "month.csv")
	if code, _, err := report("--month", "2026-11", "--format", "csv", "-o", file); code != exitDone {
		t.Fatalf("--month: exit code %d, %s", code, err)
	}
	b, e := os.ReadFile(file)
	if e != nil {
		t.Fatal(e)
	}
	rows, e := csv.NewReader(strings.NewReader(string(b))).ReadAll()
	if e != nil || len(rows) != 4 || rows[1][0] != "run" || rows[2][0] != "sum" || rows[3][0] != "total" {
		t.Errorf("the month: %v, %v", rows, e)
	}
	if code, page, told := report("--month", "2026-03"); code != exitDone || told != "no run ended in 2026-03; the report says so\n" || !strings.Contains(page, "No run ended") {
		t.Errorf("a month without runs: exit code %d, told %q", code, told)
	}
	if code, page, _ := report("--month", "2026-11", "--still", "all"); code != exitDone || !strings.Contains(page, "November 2026") || !strings.Contains(page, "local rules") {
		t.Errorf("--still all: exit code %d", code)
	}
	for _, tt := range []struct {
		args []string
		code int
		says string
	}{
		{nil, exitUsage, "say which report"},
		{[]string{"--last", "--run", "1"}, exitUsage, "one of them"},
		{[]string{"--run", "7"}, exitFailed, "still south has no run 7; its last run is 1"},
		{[]string{"--run=-1"}, exitUsage, "counted from 1"},
		{[]string{"--month", "March"}, exitUsage, `"March" is no month; write 2026-03`},
		{[]string{"--last", "--still", "north"}, exitUsage, `no still "north"`},
		{[]string{"--last", "--format", "pdf"}, exitUsage, "html"},
		{[]string{"--last", "-o", file}, exitFailed, "overwrites nothing"},
	} {
		if code, _, err := report(tt.args...); code != tt.code || !strings.Contains(err, tt.says) {
			t.Errorf("%v: exit code %d, %s; want %d, %s", tt.args, code, err, tt.code, tt.says)
		}
	}
}
