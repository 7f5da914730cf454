package archive

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
	"luted/analysis/alarm"
)

// The archive against slices and maps: whatever is done to it, in whatever order, it holds what they
// hold. To see a failure again: -rapid.seed with the number that is printed.

type modelScan struct {
	layout Layout
	scan   analysis.Scan
}

type modelStill struct {
	layout  Layout
	all     []modelScan // ever committed
	dropped int         // how many of them retention has taken
}

func (s *modelStill) there() []modelScan { return s.all[s.dropped:] }

func (s *modelStill) last() time.Time {
	if len(s.all) == 0 {
		return time.Time{}
	}
	return s.all[len(s.all)-1].scan.At
}

type model struct {
	t       *testing.T
	path    string
	o       Options
	a       *Archive
	fail    int // writing steps until one fails; 0: none does
	stills  map[string]*modelStill
	entries []Entry
	alarms  map[alarm.Key]alarm.Alarm
	rests   map[string]Rest
	cursors map[string]Cursor
	lost    map[string]int64
	asides  []Aside // newest first
}

var modelStills = []string{"north", "south", "west"}

var errInjected = errors.New("the test's disk fails")

func newModel(t *testing.T, path string, keep time.Duration, maxSize int64) *model {
	m := &model{
		t: t, path: path, stills: map[string]*modelStill{}, alarms: map[alarm.Key]alarm.Alarm{},
		rests: map[string]Rest{}, cursors: map[string]Cursor{}, lost: map[string]int64{},
	}
	m.o = Options{Keep: keep, MaxSize: maxSize, segmentScans: 16, noSync: true, checkpointPages: 20,
		Now: func() time.Time { return t0.AddDate(1, 0, 0) }, // ages count from the newest scan
		BeforeWrite: func(string) error {
			if m.fail--; m.fail == 0 {
				return errInjected
			}
			return nil
		}}
	m.open()
	return m
}

func (m *model) open() {
	a, err := Open(m.t.Context(), m.path, m.o)
	if err != nil {
		m.t.Fatal(err)
	}
	m.a = a
}

func (m *model) reopen(rt *rapid.T) {
	if err := m.a.Close(); err != nil {
		rt.Fatal(err)
	}
	m.open()
}

func (m *model) still(rt *rapid.T) (string, *modelStill) {
	name := rapid.SampledFrom(modelStills).Draw(rt, "still")
	return name, m.stills[name]
}

func (m *model) setLayout(rt *rapid.T) {
	name, s := m.still(rt)
	l := rapid.SampledFrom([]Layout{shop, small, {Columns: shop.Columns[:2]}}).Draw(rt, "layout")
	if err := m.a.SetLayout(rt.Context(), name, l); err != nil {
		rt.Fatal(err)
	}
	if s == nil {
		s = &modelStill{}
		m.stills[name] = s
	}
	s.layout = l
}

// batch draws a batch that the archive must accept.
func (m *model) batch(rt *rapid.T) Batch {
	var b Batch
	for _, name := range modelStills {
		s := m.stills[name]
		if s == nil || rapid.IntRange(0, 2).Draw(rt, "skip") == 0 {
			continue
		}
		after := s.last()
		if after.IsZero() {
			after = t0
		}
		if rapid.IntRange(0, 9).Draw(rt, "pause") == 0 {
			after = after.Add(rapid.SampledFrom([]time.Duration{time.Minute, time.Hour, 30 * time.Hour, 10 * 24 * time.Hour}).Draw(rt, "gap"))
		}
		for _, sc := range anyScans(rt, s.layout, after, rapid.SampledFrom([]int{3, 3, 3, 40}).Draw(rt, "most")) {
			b.Scans = append(b.Scans, Scan{name, sc})
		}
		if at := s.last(); !at.IsZero() && rapid.IntRange(0, 3).Draw(rt, "rest") == 0 {
			b.Rests = map[string]Rest{name: {At: at, Memory: json.RawMessage(fmt.Sprintf(`{"runs":%d}`, len(s.all)))}}
		}
	}
	for range rapid.IntRange(0, 2).Draw(rt, "entries") {
		name := rapid.SampledFrom(append(modelStills, "")).Draw(rt, "of")
		e := Entry{At: t0.Add(time.Duration(rapid.IntRange(0, 1000).Draw(rt, "at")) * time.Second), Still: name, Run: rapid.IntRange(0, 3).Draw(rt, "run"), Kind: NoteEntry, Body: json.RawMessage(`{"by":"", "text":"ä"}`)}
		if rapid.Bool().Draw(rt, "alarm") {
			al := alarm.Alarm{
				Key:   alarm.Key{Still: name, Fault: rapid.SampledFrom([]analysis.Fault{analysis.VacuumLost, analysis.LimitHigh}).Draw(rt, "fault"), Channel: rapid.SampledFrom([]string{"", "pump"}).Draw(rt, "channel")},
				State: rapid.SampledFrom([]alarm.State{alarm.Normal, alarm.Unacknowledged, alarm.Shelved}).Draw(rt, "state"), Raised: e.At, Changed: e.At, Run: e.Run,
			}
			body, err := json.Marshal(alarm.Transition{At: e.At, Alarm: al})
			if err != nil {
				rt.Fatal(err)
			}
			e.Kind, e.Body = AlarmEntry, body
			b.Alarms = append(b.Alarms, al)
		}
		b.Entries = append(b.Entries, e)
	}
	return b
}

func (m *model) commit(rt *rapid.T) {
	b := m.batch(rt)
	seq, err := m.a.Commit(rt.Context(), b)
	if err != nil {
		rt.Fatal(err)
	}
	m.took(b)
	if seq != int64(len(m.entries)) {
		rt.Fatalf("Commit says that the last entry is %d, want %d", seq, len(m.entries))
	}
}

// took notes an accepted batch.
func (m *model) took(b Batch) {
	for _, s := range b.Scans {
		st := m.stills[s.Still]
		st.all = append(st.all, modelScan{st.layout, s.Scan})
	}
	for _, e := range b.Entries {
		e.Seq = int64(len(m.entries)) + 1
		m.entries = append(m.entries, e)
	}
	for _, al := range b.Alarms {
		m.alarms[al.Key] = al
	}
	maps.Copy(m.rests, b.Rests)
}

// failing commits a batch, with a disk that fails at any of its steps.
func (m *model) failing(rt *rapid.T) {
	b := m.batch(rt)
	m.fail = rapid.IntRange(1, 12).Draw(rt, "fails at step")
	_, err := m.a.Commit(rt.Context(), b)
	m.fail = 0
	switch {
	case err == nil:
		m.took(b) // it had fewer steps
	case !errors.Is(err, errInjected):
		rt.Fatal(err)
	case rapid.Bool().Draw(rt, "again"):
		if _, err := m.a.Commit(rt.Context(), b); err != nil {
			rt.Fatalf("the same batch again: %v", err)
		}
		m.took(b)
	}
}

func (m *model) refused(rt *rapid.T) {
	name, s := m.still(rt)
	b := m.batch(rt)
	if s == nil || len(s.all) == 0 {
		b.Scans = append(b.Scans, scanAt("nobody", t0))
	} else {
		old := rapid.SampledFrom(s.all).Draw(rt, "old").scan.At
		b.Scans = append(b.Scans, scanAt(name, old, make([]analysis.Value, len(s.layout.Columns))...))
	}
	if _, err := m.a.Commit(rt.Context(), b); !errors.Is(err, ErrRefused) {
		rt.Fatalf("got %v, want ErrRefused", err)
	}
}

func (m *model) setCursor(rt *rapid.T) {
	outlet := rapid.SampledFrom([]string{"influx", "mail"}).Draw(rt, "outlet")
	c, ok := m.cursors[outlet]
	if !ok {
		c.Scans = map[string]time.Time{}
	}
	c.Seq = int64(rapid.IntRange(0, len(m.entries)).Draw(rt, "seq"))
	if outlet == "influx" {
		if name, s := m.still(rt); s != nil && len(s.all) > 0 {
			c.Scans[name] = rapid.SampledFrom(s.all).Draw(rt, "place").scan.At
		}
	}
	if err := m.a.SetCursor(rt.Context(), outlet, c); err != nil {
		rt.Fatal(err)
	}
	m.cursors[outlet] = c
}

func (m *model) setAside(rt *rapid.T) {
	x := Aside{At: t0, Still: "north", Seq: int64(rapid.IntRange(1, 5).Draw(rt, "seq")), Item: "x=1", Reason: "no such field"}
	for range rapid.IntRange(1, 2).Draw(rt, "times") { // the second time is a repetition after a crash
		if err := m.a.SetAside(rt.Context(), "influx", x); err != nil {
			rt.Fatal(err)
		}
	}
	if !slices.ContainsFunc(m.asides, func(y Aside) bool { return y.Seq == x.Seq }) {
		m.asides = slices.Insert(m.asides, 0, x)
	}
	if _, ok := m.cursors["influx"]; !ok {
		m.cursors["influx"] = Cursor{Scans: map[string]time.Time{}}
	}
}

// maintain lets retention work; afterwards only whole beginnings of the scans may be gone, and only
// those that are old enough and not needed for recovery.
func (m *model) maintain(rt *rapid.T) {
	if err := m.a.Maintain(rt.Context()); err != nil {
		rt.Fatal(err)
	}
	var newest time.Time
	for _, s := range m.stills {
		if s.last().After(newest) {
			newest = s.last()
		}
	}
	for name, s := range m.stills {
		got := readAll(rt, m.a, name, time.Time{}, time.Time{})
		gone := len(s.there()) - len(got)
		if gone < 0 {
			rt.Fatalf("%s: %d scans more than were committed", name, -gone)
		}
		for _, ms := range s.there()[:gone] {
			at := ms.scan.At
			if m.o.MaxSize == 0 && (m.o.Keep == 0 || newest.Sub(at) <= m.o.Keep) {
				rt.Fatalf("%s: the scan at %s went although it is only %s old", name, at, newest.Sub(at))
			}
			if m.o.MaxSize == 0 && at.After(m.rests[name].At) && newest.Sub(at) <= protect {
				rt.Fatalf("%s: the scan at %s went although recovery from %s needs it", name, at, m.rests[name].At)
			}
			for outlet, c := range m.cursors {
				if len(c.Scans) > 0 && at.After(c.Scans[name]) {
					m.lost[outlet]++
				}
			}
		}
		s.dropped += gone
		// What should have gone has: nothing before the oldest that may stay.
		for _, ms := range s.there() {
			at := ms.scan.At
			if m.o.Keep > 0 && newest.Sub(at) > m.o.Keep && !at.After(m.rests[name].At) {
				// Its segment may hold a younger scan, or one recovery needs; the segment is at most 16 scans.
				i := slices.IndexFunc(s.there(), func(x modelScan) bool { return newest.Sub(x.scan.At) <= m.o.Keep || x.scan.At.After(m.rests[name].At) })
				if i < 0 || i >= 16 {
					rt.Fatalf("%s: the scan at %s is still there although it is %s old", name, at, newest.Sub(at))
				}
				break
			}
		}
	}
}

// verify compares everything that can be read.
func (m *model) verify(rt *rapid.T) {
	if err := m.a.Check(rt.Context()); err != nil {
		rt.Fatal(err)
	}
	for _, name := range modelStills {
		s := m.stills[name]
		if s == nil {
			continue
		}
		m.verifyScans(rt, name, s)
		m.verifyHours(rt, name, s)
		if last, err := m.a.LastScan(rt.Context(), name); err != nil || !last.Equal(s.last()) {
			rt.Fatalf("%s: last scan %v (%v), want %v", name, last, err, s.last())
		}
		r, ok, err := m.a.Rest(rt.Context(), name)
		want, wantOK := m.rests[name]
		if err != nil || ok != wantOK || gocmp.Diff(want, r) != "" {
			rt.Fatalf("%s: rest %v %v (%v), want %v", name, r, ok, err, want)
		}
	}
	es, err := m.a.Entries(rt.Context(), EntryQuery{})
	if d := gocmp.Diff(m.entries, es); d != "" || err != nil {
		rt.Fatal("entries", err, d)
	}
	als, err := m.a.Alarms(rt.Context())
	want := slices.SortedFunc(maps.Values(m.alarms), func(a, b alarm.Alarm) int {
		return cmp.Or(cmp.Compare(a.Still, b.Still), cmp.Compare(a.Fault, b.Fault), cmp.Compare(a.Channel, b.Channel))
	})
	if d := gocmp.Diff(want, als); d != "" || err != nil {
		rt.Fatal("alarms", err, d)
	}
	m.verifyOutlets(rt)
}

func (m *model) verifyScans(rt *rapid.T, name string, s *modelStill) {
	from, to := time.Time{}, time.Time{}
	if len(s.all) > 0 && rapid.Bool().Draw(rt, "window") {
		from = rapid.SampledFrom(s.all).Draw(rt, "from").scan.At
		to = rapid.SampledFrom(s.all).Draw(rt, "to").scan.At
	}
	i := 0
	var want []modelScan
	for _, ms := range s.there() {
		if ms.scan.At.After(from) && (to.IsZero() || !ms.scan.At.After(to)) {
			want = append(want, ms)
		}
	}
	err := m.a.ReadScans(rt.Context(), name, from, to, func(l Layout, sc analysis.Scan) error {
		if i >= len(want) {
			return fmt.Errorf("a scan too many, at %s", sc.At)
		}
		if !l.Equal(want[i].layout) {
			return fmt.Errorf("scan %d has layout %v, want %v", i, l, want[i].layout)
		}
		if d := differ(want[i].scan, sc); d != "" {
			return fmt.Errorf("scan %d: %s", i, d)
		}
		i++
		return nil
	})
	if err != nil || i != len(want) {
		rt.Fatalf("%s: %d scans later than %s up to %s, want %d (%v)", name, i, from, to, len(want), err)
	}
}

// verifyHours counts hours over all scans ever, because hours stay, and minutes over those there.
func (m *model) verifyHours(rt *rapid.T, name string, s *modelStill) {
	for level, scans := range map[Level][]modelScan{Hour: s.all, Minute: s.there()} {
		got, err := m.a.Minutes(rt.Context(), name, time.Time{}, time.Time{}, level)
		if err != nil {
			rt.Fatal(err)
		}
		type key struct {
			at     time.Time
			layout string
		}
		keyOf := func(at time.Time, l Layout) key { return key{at, fmt.Sprint(l.Columns)} }
		want := map[key][]analysis.Scan{}
		for _, ms := range scans {
			k := keyOf(ms.scan.At.Truncate(time.Duration(level)), ms.layout)
			want[k] = append(want[k], ms.scan)
		}
		for i, g := range got {
			if i > 0 && g.At.Before(got[i-1].At) {
				rt.Fatal("summaries out of order")
			}
			k := keyOf(g.At, g.Layout)
			w := want[k]
			delete(want, k)
			if g.Scans != len(w) {
				rt.Fatalf("%s: %s counts %d scans, want %d", name, g.At, g.Scans, len(w))
			}
			for c, f := range g.Columns {
				if d := f.wrong(w, c); d != "" {
					rt.Fatalf("%s: %s column %d: %s", name, g.At, c, d)
				}
			}
		}
		if len(want) > 0 {
			rt.Fatalf("%s: %d summaries missing", name, len(want))
		}
	}
}

// wrong compares figures with those computed the plain way.
func (f Figures) wrong(scans []analysis.Scan, c int) string {
	n, lo, hi, mean := 0, math.Inf(1), math.Inf(-1), 0.0
	for _, s := range scans {
		if v, ok := s.Values[c].OK(); ok {
			n++
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	for _, s := range scans {
		if v, ok := s.Values[c].OK(); ok {
			mean += v / float64(n)
		}
	}
	if f.Good != n {
		return fmt.Sprintf("%d good, want %d", f.Good, n)
	}
	if n > 0 && (f.Min != lo || f.Max != hi || math.Abs(f.Mean-mean) > 1e-9*max(math.Abs(lo), math.Abs(hi))) {
		return fmt.Sprintf("%+v, want %g %g %g", f, lo, hi, mean)
	}
	return ""
}

func (m *model) verifyOutlets(rt *rapid.T) {
	for outlet, want := range m.cursors {
		got, err := m.a.Cursor(rt.Context(), outlet)
		if d := gocmp.Diff(want, got); d != "" || err != nil {
			rt.Fatal("cursor", outlet, err, d)
		}
	}
	asides, err := m.a.SetAsides(rt.Context(), "influx", 0)
	if err != nil || len(asides) != len(m.asides) {
		rt.Fatalf("%d set aside, want %d (%v)", len(asides), len(m.asides), err)
	}
	for i, x := range asides {
		x.ID = 0
		if x != m.asides[i] {
			rt.Fatalf("set aside: %v, want %v", x, m.asides[i])
		}
	}
	st, err := m.a.Stats(rt.Context())
	if err != nil {
		rt.Fatal(err)
	}
	var n int64
	for _, s := range m.stills {
		n += int64(len(s.there()))
	}
	if st.Scans != n || st.Entries != int64(len(m.entries)) || len(st.Outlets) != len(m.cursors) {
		rt.Fatalf("Stats count %d scans, %d entries, %d outlets; want %d, %d, %d", st.Scans, st.Entries, len(st.Outlets), n, len(m.entries), len(m.cursors))
	}
	for _, o := range st.Outlets {
		if o.Lost != m.lost[o.Name] {
			rt.Fatalf("Stats say that %s lost %d scans, want %d", o.Name, o.Lost, m.lost[o.Name])
		}
	}
}

func TestModel(t *testing.T) {
	dir, n := t.TempDir(), 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		keep := rapid.SampledFrom([]time.Duration{0, time.Hour, 20 * 24 * time.Hour}).Draw(rt, "keep")
		maxSize := rapid.SampledFrom([]int64{0, 0, 100 << 10}).Draw(rt, "max size")
		m := newModel(t, filepath.Join(dir, fmt.Sprintf("%d.db", n)), keep, maxSize)
		defer func() {
			if err := m.a.Close(); err != nil {
				rt.Fatal(err)
			}
		}()
		rt.Repeat(map[string]func(*rapid.T){
			"set layout": m.setLayout, "commit": m.commit, "commit more": m.commit, "commit even more": m.commit, "commit on a failing disk": m.failing, "commit nonsense": m.refused,
			"move a cursor": m.setCursor, "set aside": m.setAside, "maintain": m.maintain, "reopen": m.reopen, "verify": m.verify,
		})
		m.verify(rt)
	})
}
