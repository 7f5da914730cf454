package archive

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
	"luted/analysis/alarm"
)

var t0 = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// shop is the layout that most tests use.
var shop = Layout{Columns: []Column{
	{"jacket_temperature", analysis.Temperature, "°C"},
	{"still_vacuum", analysis.Vacuum, "inHg"},
	{"lid_closed", analysis.Switch, ""},
	{"coolant_in", analysis.Other, "°F"},
}}

func values(vs ...float64) []analysis.Value {
	out := make([]analysis.Value, len(vs))
	for i, v := range vs {
		out[i].V = v
	}
	return out
}

func bad(q analysis.Quality) analysis.Value { return analysis.Value{Quality: q} }

func scanAt(still string, at time.Time, vs ...analysis.Value) Scan {
	return Scan{still, analysis.Scan{At: at, Values: vs}}
}

func open(t testing.TB, path string, o Options) *Archive {
	t.Helper()
	a, err := Open(t.Context(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

func newFile(t testing.TB) string { return filepath.Join(t.TempDir(), "luted.db") }

func setLayout(t testing.TB, a *Archive, still string, l Layout) {
	t.Helper()
	if err := a.SetLayout(t.Context(), still, l); err != nil {
		t.Fatal(err)
	}
}

func commit(t testing.TB, a *Archive, b Batch) int64 {
	t.Helper()
	seq, err := a.Commit(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	return seq
}

func readAll(t interface {
	Helper()
	Fatal(...any)
}, a *Archive, still string, from, to time.Time) []analysis.Scan {
	t.Helper()
	var out []analysis.Scan
	err := a.ReadScans(context.Background(), still, from, to, func(_ Layout, s analysis.Scan) error {
		out = append(out, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestCommitAndReadBack(t *testing.T) {
	path := newFile(t)
	a := open(t, path, Options{})
	setLayout(t, a, "north", shop)
	until := t0.Add(time.Hour)
	raised := alarm.Alarm{
		Key: alarm.Key{Still: "north", Fault: analysis.VacuumShort}, State: alarm.Unacknowledged, Active: true,
		Priority: alarm.High, Run: 1, Raised: t0, Changed: t0, Until: &until, Text: "the lid leaks",
		Likely: []analysis.Likely{{Cause: analysis.OpenToAir, Weight: 1, Because: "it levels off early"}},
	}
	b := Batch{
		Scans: []Scan{
			scanAt("north", t0, values(20.5, 81.2727, 1, 60)...),
			scanAt("north", t0.Add(1001*time.Millisecond), bad(analysis.BrokenWire), analysis.Value{V: -0.1}, bad(analysis.Missing), bad(analysis.Silent)),
		},
		Entries: []Entry{
			{At: t0, Still: "north", Run: 1, Kind: EventEntry, Body: json.RawMessage(`{"event": "phase"}`)},
			{At: t0, Still: "north", Run: 1, Kind: AlarmEntry, Body: json.RawMessage(`{"a":1}`)},
		},
		Alarms: []alarm.Alarm{raised},
		Rests:  map[string]Rest{"north": {At: t0, Memory: json.RawMessage(`{"version":1,"runs":0}`)}},
	}
	if seq := commit(t, a, b); seq != 2 {
		t.Errorf("the last entry of the first batch is %d, want 2", seq)
	}
	if seq := commit(t, a, Batch{}); seq != 2 {
		t.Errorf("an empty batch says that the last entry is %d, want 2", seq)
	}
	check := func(a *Archive) {
		t.Helper()
		want := []analysis.Scan{b.Scans[0].Scan, b.Scans[1].Scan}
		if d := cmp.Diff(want, readAll(t, a, "north", time.Time{}, time.Time{})); d != "" {
			t.Error("scans (-want +got)", d)
		}
		es, err := a.Entries(t.Context(), EntryQuery{})
		if err != nil {
			t.Fatal(err)
		}
		wantEntries := []Entry{b.Entries[0], b.Entries[1]}
		wantEntries[0].Seq, wantEntries[1].Seq = 1, 2
		if d := cmp.Diff(wantEntries, es); d != "" {
			t.Error("entries (-want +got)", d)
		}
		als, err := a.Alarms(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([]alarm.Alarm{raised}, als); d != "" {
			t.Error("alarms (-want +got)", d)
		}
		r, ok, err := a.Rest(t.Context(), "north")
		if d := cmp.Diff(b.Rests["north"], r); d != "" || !ok || err != nil {
			t.Error("rest (-want +got)", d, ok, err)
		}
		if _, ok, err := a.Rest(t.Context(), "south"); ok || err != nil {
			t.Error("a still never seen has a rest point", ok, err)
		}
		if last, err := a.LastScan(t.Context(), "north"); err != nil || !last.Equal(b.Scans[1].At) {
			t.Errorf("last scan %v (%v), want %v", last, err, b.Scans[1].At)
		}
		if l, ok, err := a.Layout(t.Context(), "north"); err != nil || !ok || !l.Equal(shop) {
			t.Error("layout", l, ok, err)
		}
	}
	check(a)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	again := open(t, path, Options{})
	check(again)
	if seq := commit(t, again, Batch{Entries: []Entry{{At: t0, Kind: NoteEntry, Body: json.RawMessage(`{}`)}}}); seq != 3 {
		t.Errorf("after reopening, the next entry is %d, want 3", seq)
	}
}

func TestScanWindow(t *testing.T) {
	a := open(t, newFile(t), Options{})
	setLayout(t, a, "north", shop)
	var b Batch
	for i := range 5 {
		b.Scans = append(b.Scans, scanAt("north", t0.Add(time.Duration(i)*time.Second), values(float64(i), 0, 0, 0)...))
	}
	commit(t, a, b)
	at := func(s int) time.Time { return t0.Add(time.Duration(s) * time.Second) }
	for _, tt := range []struct {
		name     string
		from, to time.Time
		want     []float64
		reason   string
	}{
		{"all", time.Time{}, time.Time{}, []float64{0, 1, 2, 3, 4}, "zero times do not bound"},
		{"from a cursor", at(1), time.Time{}, []float64{2, 3, 4}, "from is exclusive: a cursor's scan has been delivered"},
		{"to", time.Time{}, at(1), []float64{0, 1}, "to is inclusive, so that windows tile"},
		{"both", at(0), at(3), []float64{1, 2, 3}, "(from, to]"},
		{"empty", at(2), at(2), nil, "nothing is later than from and not later than to"},
		{"backwards", at(3), at(1), nil, "nothing lies in it"},
		{"before", time.Time{}, at(-5), nil, "nothing that early"},
		{"a year too late", time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC), time.Time{}, nil, "beyond what can be stored"},
		{"up to a year too late", at(3), time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC), []float64{4}, "beyond what can be stored"},
		{"up to before 1970", time.Time{}, time.Date(1960, 1, 1, 0, 0, 0, 0, time.UTC), nil, "before anything"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var got []float64
			for _, s := range readAll(t, a, "north", tt.from, tt.to) {
				got = append(got, s.Values[0].V)
			}
			if d := cmp.Diff(tt.want, got); d != "" {
				t.Errorf("%s (-want +got):\n%s", tt.reason, d)
			}
		})
	}
	if got := readAll(t, a, "south", time.Time{}, time.Time{}); len(got) != 0 {
		t.Error("a still never seen has scans", got)
	}
	stop := errors.New("enough")
	n := 0
	err := a.ReadScans(t.Context(), "north", time.Time{}, time.Time{}, func(Layout, analysis.Scan) error { n++; return stop })
	if err != stop || n != 1 {
		t.Errorf("the callback's error came back as %v after %d calls", err, n)
	}
}

func TestCommitRefuses(t *testing.T) {
	a := open(t, newFile(t), Options{})
	setLayout(t, a, "north", shop)
	commit(t, a, Batch{Scans: []Scan{scanAt("north", t0, values(1, 2, 0, 4)...)}})
	good := values(1, 2, 0, 4)
	entry := Entry{At: t0, Kind: NoteEntry, Body: json.RawMessage(`{}`)}
	inf := values(1, 2, 0, 4)
	inf[1].V /= 0.0 * inf[2].V
	for _, tt := range []struct {
		name  string
		b     Batch
		wants string
	}{
		{"same time", Batch{Scans: []Scan{scanAt("north", t0, good...)}}, "not later than the one before, 2026-03-02T08:00:00Z"},
		{"earlier", Batch{Scans: []Scan{scanAt("north", t0.Add(-time.Hour), good...)}}, "not later"},
		{"out of order within", Batch{Scans: []Scan{scanAt("north", t0.Add(2), good...), scanAt("north", t0.Add(1), good...)}}, "not later"},
		{"no layout", Batch{Scans: []Scan{scanAt("south", t0, good...)}}, `"south", whose columns nobody has named`},
		{"too few values", Batch{Scans: []Scan{scanAt("north", t0.Add(1), good[:3]...)}}, "3 values for 4 columns"},
		{"infinite", Batch{Scans: []Scan{scanAt("north", t0.Add(1), inf...)}}, "called good"},
		{"unknown quality", Batch{Scans: []Scan{scanAt("north", t0.Add(1), bad(99), good[0], good[0], good[0])}}, "quality(99)"},
		{"clock not set", Batch{Scans: []Scan{scanAt("north", time.Time{}, good...)}}, "clock"},
		{"entry's clock", Batch{Entries: []Entry{entry, {Kind: NoteEntry, Body: entry.Body}}}, "clock"},
		{"entry without kind", Batch{Entries: []Entry{{At: t0, Body: entry.Body}}}, "no kind"},
		{"entry's body", Batch{Entries: []Entry{{At: t0, Kind: NoteEntry, Body: json.RawMessage(`{`)}}}, "not JSON"},
		{"rest too late", Batch{Rests: map[string]Rest{"north": {At: t0.Add(time.Second), Memory: json.RawMessage(`{}`)}}}, "later than its last scan"},
		{"rest of nobody", Batch{Rests: map[string]Rest{"south": {At: t0, Memory: json.RawMessage(`{}`)}}}, "south"},
		{"rest without memory", Batch{Rests: map[string]Rest{"north": {At: t0}}}, "not JSON"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			// Good things in the same batch must not be stored either.
			tt.b.Entries = append([]Entry{entry}, tt.b.Entries...)
			_, err := a.Commit(t.Context(), tt.b)
			if !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), tt.wants) {
				t.Errorf("got %v, want ErrRefused with %q", err, tt.wants)
			}
			if es, err := a.Entries(t.Context(), EntryQuery{}); err != nil || len(es) != 0 {
				t.Errorf("the refused batch left %d entries (%v)", len(es), err)
			}
			if n := len(readAll(t, a, "north", time.Time{}, time.Time{})); n != 1 {
				t.Errorf("the refused batch left %d scans, want the 1 from before", n)
			}
		})
	}
	// After all that, the archive still works.
	if seq := commit(t, a, Batch{Entries: []Entry{entry}, Scans: []Scan{scanAt("north", t0.Add(1), good...)}}); seq != 1 {
		t.Errorf("the first stored entry is %d, want 1", seq)
	}
}

func TestCursors(t *testing.T) {
	path := newFile(t)
	a := open(t, path, Options{})
	setLayout(t, a, "north", shop)
	setLayout(t, a, "south", shop)
	commit(t, a, Batch{
		Scans:   []Scan{scanAt("north", t0.Add(1234567), values(1, 2, 0, 4)...), scanAt("south", t0, values(1, 2, 0, 4)...)},
		Entries: []Entry{{At: t0, Kind: NoteEntry, Body: json.RawMessage(`{}`)}},
	})
	if c, err := a.Cursor(t.Context(), "influx"); err != nil || c.Seq != 0 || len(c.Scans) != 0 || c.Scans == nil {
		t.Errorf("a new outlet is at %+v (%v)", c, err)
	}
	want := Cursor{Seq: 1, Scans: map[string]time.Time{"north": t0.Add(1234567)}}
	if err := a.SetCursor(t.Context(), "influx", want); err != nil {
		t.Fatal(err)
	}
	a.Close()
	a = open(t, path, Options{})
	got, err := a.Cursor(t.Context(), "influx")
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Error(err, d)
	}
	want.Scans["south"] = t0
	if err := a.SetCursor(t.Context(), "influx", Cursor{Seq: 1, Scans: map[string]time.Time{"south": t0, "north": {}}}); err != nil {
		t.Fatal(err)
	}
	got, _ = a.Cursor(t.Context(), "influx")
	if d := cmp.Diff(want, got); d != "" {
		t.Error("a still that is not named, or has a zero time, keeps its place", d)
	}
	for name, c := range map[string]Cursor{
		"past the last entry": {Seq: 2},
		"negative":            {Seq: -1},
		"past the last scan":  {Scans: map[string]time.Time{"south": t0.Add(1)}},
		"unknown still":       {Scans: map[string]time.Time{"west": t0}},
	} {
		if err := a.SetCursor(t.Context(), "influx", c); !errors.Is(err, ErrRefused) {
			t.Errorf("cursor %s: got %v, want ErrRefused", name, err)
		}
	}
}
