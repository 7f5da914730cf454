package archive

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

var update = flag.Bool("update", false, "write testdata/archive-1.* again; only for a new version of the format, under a new name")

// goldenScans are scans that use every way of writing a column.
func goldenScans(t *testing.T) (Layout, []analysis.Scan) {
	l := plant
	l.Columns = append(append([]Column{}, plant.Columns...), Column{"anything", analysis.Other, "m/s"}, Column{"nothing", analysis.Other, ""})
	scans := plantScans(t, 11, t0, 600)
	for i := range scans {
		x := float64(i*i%7919) / 7919 // no short decimal, no float32
		scans[i].Values = append(scans[i].Values, analysis.Value{V: x}, bad(analysis.Silent))
	}
	return l, scans
}

func TestGoldenUsesEveryWay(t *testing.T) {
	l, scans := goldenScans(t)
	used := map[byte]bool{}
	for c, u := range unitsOf(t, l) {
		var good []float64
		for _, s := range scans[:500] {
			if v, ok := s.Values[c].OK(); ok {
				good = append(good, v)
			}
		}
		used[appendValues(nil, good, u)[0]] = true
	}
	for how := byte(noValues); how <= singleValues; how++ {
		if !used[how] {
			t.Errorf("no column is written in way %d", how)
		}
	}
}

// What this version writes, every later one must read: a file that was written once, against the
// recording that it held. The file is packed to keep the repository small.
func TestReadsVersion1(t *testing.T) {
	const packedFile, textFile = "testdata/archive-1.zst", "testdata/archive-1.csv"
	path := newFile(t)
	if *update {
		a := open(t, path, Options{segmentScans: 500})
		l, scans := goldenScans(t)
		setLayout(t, a, "north", l)
		var b Batch
		for _, s := range scans {
			b.Scans = append(b.Scans, Scan{"north", s})
		}
		b.Entries = []Entry{note(t0, "written by version 1")}
		commit(t, a, b)
		text := export(t, a, "north", time.Time{}, time.Time{})
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(packedFile, zstdWriter().EncodeAll(whole, nil), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(textFile, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	packed, err := os.ReadFile(packedFile)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile(textFile)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := zstdReader().DecodeAll(packed, make([]byte, 0, 1<<20))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	a := open(t, path, Options{})
	checkClean(t, a)
	if got := export(t, a, "north", time.Time{}, time.Time{}); got != string(want) {
		t.Error("the recording has changed")
	}
	s := stats(t, a)
	if s.Segments != 1 || s.Fresh != 100 {
		t.Errorf("%d segments and %d fresh scans, want 1 and 100", s.Segments, s.Fresh)
	}
	if es, err := a.Entries(t.Context(), EntryQuery{}); err != nil || len(es) != 1 || !strings.Contains(string(es[0].Body), "version 1") {
		t.Errorf("entries %v (%v)", es, err)
	}
}

// needs finds a program that a test wants, or skips the test; on the build server it must be there.
func needs(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err == nil {
		return path
	}
	if os.Getenv("LUTED_CI") == "1" {
		t.Fatalf("%s is not installed, and LUTED_CI=1 says that it should be", program)
	}
	t.Skipf("%s is not installed", program)
	return ""
}

// The file is an ordinary SQLite database, also to SQLite's own command-line program: it finds it
// whole, can count in it, and is refused when it tries to change the journal.
func TestOrdinaryDatabase(t *testing.T) {
	sqlite3 := needs(t, "sqlite3")
	path := newFile(t)
	full(t, path)
	run := func(query string) string {
		out, err := exec.Command(sqlite3, path, query).CombinedOutput()
		if err != nil {
			return strings.TrimSpace(string(out)) + " " + err.Error()
		}
		return strings.TrimSpace(string(out))
	}
	for query, want := range map[string]string{
		"PRAGMA integrity_check":                         "ok",
		"PRAGMA foreign_key_check":                       "",
		"SELECT count(*), max(seq) FROM entry":           "3|3",
		"SELECT sum(scans) FROM segment":                 "8192",
		"SELECT count(*) FROM fresh":                     "808",
		"SELECT json_extract(body, '$.text') FROM entry": "one\n\nthree",
	} {
		if got := run(query); got != want {
			t.Errorf("%s: %q, want %q", query, got, want)
		}
	}
	for _, query := range []string{"DELETE FROM entry", "UPDATE entry SET still = 'x'"} {
		if got := run(query); !strings.Contains(got, "the journal cannot be changed") {
			t.Errorf("%s: %q", query, got)
		}
	}
	checkClean(t, open(t, path, Options{}))
}

// A recording is ordinary CSV, also to another program's reader of it.
func TestOrdinaryCSV(t *testing.T) {
	python := needs(t, "python3")
	path := filepath.Join(t.TempDir(), "north.csv")
	if err := os.WriteFile(path, []byte(canonical), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", "import csv, sys\nfor r in csv.reader(open(sys.argv[1], newline='', encoding='utf-8')): print('|'.join(r))", path)
	cmd.Env = append(os.Environ(), "PYTHONIOENCODING=utf-8")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	want := "time|jacket_temperature [°F]|still_vacuum [inHg]|lid_closed|gas_level [%LEL]|coolant, in [gal/h]\n" +
		"2026-03-02T08:00:05Z|302|25|1|0.5|12.25\n2026-03-02T08:00:06.001Z|302.18||0|broken-wire|silent\n2026-03-02T08:00:07Z|stuck|-0.1|out-of-range|exception|implausible\n"
	if !bytes.Equal(out, []byte(want)) {
		t.Errorf("got\n%s\nwant\n%s", out, want)
	}
}
