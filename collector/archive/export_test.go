package archive

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"luted/analysis"
)

func export(t testing.TB, a *Archive, still string, from, to time.Time) string {
	t.Helper()
	var b bytes.Buffer
	if _, err := a.Export(t.Context(), still, from, to, &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func importText(t testing.TB, a *Archive, still, text string) Imported {
	t.Helper()
	r, err := ReadRecording(strings.NewReader(text), "north.csv")
	if err != nil {
		t.Fatal(err)
	}
	done, err := a.Import(t.Context(), still, r, nil)
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// A recording goes in and comes out the same, byte for byte.
func TestImportExportUnchanged(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	if done := importText(t, a, "north", canonical); done.Scans != 3 || done.Skipped != 0 || !done.Upto.Equal(t0.Add(7*time.Second)) {
		t.Errorf("%+v", done)
	}
	if got := export(t, a, "north", time.Time{}, time.Time{}); got != canonical {
		t.Errorf("got\n%s\nwant\n%s", got, canonical)
	}
	if done := importText(t, a, "north", canonical); done.Scans != 0 || done.Skipped != 3 {
		t.Errorf("the second time: %+v", done)
	}
	more := canonical + "2026-03-02T08:00:08Z,300,24,1,0.4,12\n"
	if done := importText(t, a, "north", more); done.Scans != 1 || done.Skipped != 3 {
		t.Errorf("with a line more: %+v", done)
	}
	if got := export(t, a, "north", time.Time{}, time.Time{}); got != more {
		t.Errorf("got\n%s\nwant\n%s", got, more)
	}
	lines := strings.SplitAfter(more, "\n")
	if got, want := export(t, a, "north", t0.Add(5*time.Second), t0.Add(7*time.Second)), lines[0]+lines[2]+lines[3]; got != want {
		t.Errorf("a window:\n%s\nwant\n%s", got, want)
	}
	if got := export(t, a, "north", t0.Add(time.Hour), time.Time{}); got != lines[0] {
		t.Errorf("an empty window: %q, want the header", got)
	}
	if _, err := a.Export(t.Context(), "south", time.Time{}, time.Time{}, new(bytes.Buffer)); err == nil || !strings.Contains(err.Error(), `no still "south" in the archive; it has ["north"]`) {
		t.Errorf("unknown still: %v", err)
	}
	checkClean(t, a)
}

// Many scans, sealed and fresh, imported whole and again from one archive into another.
func TestImportLong(t *testing.T) {
	var rec bytes.Buffer
	w, err := NewRecordingWriter(&rec, plant)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range plantScans(t, 3, t0, 10_000) {
		if err := w.Write(s); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	text := rec.String()
	a := open(t, newFile(t), Options{noSync: true})
	r, err := ReadRecording(strings.NewReader(text), "north.csv")
	if err != nil {
		t.Fatal(err)
	}
	var steps []int
	done, err := a.Import(t.Context(), "north", r, func(i Imported) { steps = append(steps, i.Scans) })
	if err != nil || done.Scans != 10_000 || len(steps) != 3 || steps[0] != 4096 || steps[2] != 10_000 {
		t.Errorf("%+v, progress %v (%v)", done, steps, err)
	}
	if s := stats(t, a); s.Segments != 2 || s.Fresh != 10_000-8192 {
		t.Errorf("%d segments, %d fresh", s.Segments, s.Fresh)
	}
	checkClean(t, a)
	if export(t, a, "north", time.Time{}, time.Time{}) != text {
		t.Error("came out changed")
	}
	maintain(t, a)
	b := open(t, newFile(t), Options{noSync: true})
	importText(t, b, "north", export(t, a, "north", time.Time{}, time.Time{}))
	if export(t, b, "north", time.Time{}, time.Time{}) != text {
		t.Error("came out of the second archive changed")
	}
}

func TestImportMistake(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	r, err := ReadRecording(strings.NewReader(canonical+"2026-03-02T08:00:08Z,warm,24,1,0.4,12\n"), "north.csv")
	if err != nil {
		t.Fatal(err)
	}
	done, err := a.Import(t.Context(), "north", r, nil)
	if e, ok := errors.AsType[*RecordingError](err); !ok || e.Line != 5 || e.Column != 22 || done.Scans != 3 {
		t.Errorf("%v after %+v, want the mistake in line 5 and the 3 scans before it stored", err, done)
	}
	if n := len(readAll(t, a, "north", time.Time{}, time.Time{})); n != 3 {
		t.Errorf("%d scans, want 3", n)
	}
}

// The columns of several layouts are joined.
func TestExportJoins(t *testing.T) {
	temp := func(unit string) Column { return Column{"jacket_temperature", analysis.Temperature, unit} }
	pump := Column{"pump", analysis.Switch, ""}
	for _, tt := range []struct {
		name   string
		second []Column
		vs     []analysis.Value
		want   string
		reason string
	}{
		{"another order", []Column{pump, temp("°F")}, values(0, 100),
			"time,jacket_temperature [°F],pump\n2026-03-02T08:00:00Z,302,1\n2026-03-02T08:00:01Z,212,0\n", "columns are found by name"},
		{"one more, one less", []Column{temp("°F"), {"flow", analysis.Other, "m/s"}}, values(100, 3),
			"time,jacket_temperature [°F],pump,flow [m/s]\n2026-03-02T08:00:00Z,302,1,\n2026-03-02T08:00:01Z,212,,3\n", "what a scan does not have is empty"},
		{"another unit", []Column{temp("K"), pump}, values(100.5, 0),
			"time,jacket_temperature [°C],pump\n2026-03-02T08:00:00Z,150,1\n2026-03-02T08:00:01Z,100.5,0\n", "only the inside unit is exact for both"},
		{"a switch as a number", []Column{temp("°F"), {"pump", analysis.Other, ""}}, values(100, 0.5),
			"time,jacket_temperature [°F],pump\n2026-03-02T08:00:00Z,302,1\n2026-03-02T08:00:01Z,212,0.5\n", "both are plain numbers"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := open(t, newFile(t), Options{noSync: true, segmentScans: 1})
			setLayout(t, a, "north", Layout{Columns: []Column{temp("°F"), pump}})
			commit(t, a, Batch{Scans: []Scan{scanAt("north", t0, values(150, 1)...)}})
			setLayout(t, a, "north", Layout{Columns: tt.second})
			commit(t, a, Batch{Scans: []Scan{scanAt("north", t0.Add(time.Second), tt.vs...)}})
			if got := export(t, a, "north", time.Time{}, time.Time{}); got != tt.want {
				t.Errorf("%s: got\n%s\nwant\n%s", tt.reason, got, tt.want)
			}
		})
	}
	a := open(t, newFile(t), Options{noSync: true})
	setLayout(t, a, "north", Layout{Columns: []Column{{"flow", analysis.Other, "gal/h"}}})
	commit(t, a, Batch{Scans: []Scan{scanAt("north", t0, values(1)...)}})
	setLayout(t, a, "north", Layout{Columns: []Column{{"flow", analysis.Other, "m/s"}}})
	commit(t, a, Batch{Scans: []Scan{scanAt("north", t0.Add(time.Second), values(1)...)}})
	if _, err := a.Export(t.Context(), "north", time.Time{}, time.Time{}, new(bytes.Buffer)); err == nil || !strings.Contains(err.Error(), `"gal/h"`) {
		t.Errorf("two units that cannot be converted: %v", err)
	}
	if got, want := export(t, a, "north", t0, time.Time{}), "time,flow [m/s]\n2026-03-02T08:00:01Z,1\n"; got != want {
		t.Errorf("the time after the change alone: %q, want %q", got, want)
	}
}

// Whatever a still records in whatever units: through the archive and a file into another archive, to
// the bit and to the byte.
func TestArchiveRoundTrip(t *testing.T) {
	a, b := open(t, newFile(t), Options{noSync: true, segmentScans: 8}), open(t, newFile(t), Options{noSync: true})
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		still := fmt.Sprint("still ", n)
		l := anyLayout(rt)
		setLayout(t, a, still, l)
		var batch Batch
		for _, s := range anyScans(rt, l, t0, 30) {
			batch.Scans = append(batch.Scans, Scan{still, s})
		}
		commit(t, a, batch)
		maintain(t, a)
		text := export(t, a, still, time.Time{}, time.Time{})
		importText(t, b, still, text)
		got := readAll(t, b, still, time.Time{}, time.Time{})
		if len(got) != len(batch.Scans) {
			rt.Fatalf("%d scans came as %d", len(batch.Scans), len(got))
		}
		for i, s := range got {
			if d := differ(batch.Scans[i].Scan, s); d != "" {
				rt.Fatalf("scan %d: %s", i, d)
			}
		}
		if again := export(t, b, still, time.Time{}, time.Time{}); again != text {
			rt.Fatalf("got\n%s\nwant\n%s", again, text)
		}
	})
}
