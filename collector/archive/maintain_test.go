package archive

import (
	"encoding/json"
	"os"
	"testing"
	"time"
)

// rested says that recovery of a still needs nothing before at.
func rested(t testing.TB, a *Archive, still string, at time.Time) {
	t.Helper()
	commit(t, a, Batch{Rests: map[string]Rest{still: {At: at, Memory: json.RawMessage(`{}`)}}})
}

func stats(t testing.TB, a *Archive) Stats {
	t.Helper()
	s, err := a.Stats(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// soon is a clock that is a little ahead of the newest scan of these tests.
func soon() time.Time { return t0.AddDate(1, 0, 0) }

func TestSealing(t *testing.T) {
	for _, tt := range []struct {
		name            string
		n               int
		step            time.Duration
		segments, fresh int64
		reason          string
	}{
		{"nothing", 0, time.Second, 0, 0, "there is nothing"},
		{"not full", 4095, time.Second, 0, 4095, "a segment waits until it is full"},
		{"full", 4096, time.Second, 1, 0, "4096 scans"},
		{"two and a bit", 9000, time.Second, 2, 808, "4096 each"},
		{"a slow still", 1500, time.Minute, 1, 60, "a day has passed"},
		{"a very slow still", 40, time.Hour, 1, 16, "a day has passed"},
		{"a week at once", 7 * 288, 5 * time.Minute, 6, 288, "no segment is longer than a day, or retention would be coarse"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := open(t, newFile(t), Options{noSync: true})
			setLayout(t, a, "north", small)
			fill(t, a, "north", t0, tt.n, tt.step)
			maintain(t, a)
			maintain(t, a) // the second finds nothing to do
			s := stats(t, a)
			if s.Segments != tt.segments || s.Fresh != tt.fresh || s.Scans != int64(tt.n) {
				t.Errorf("%d segments, %d fresh of %d scans; want %d, %d: %s", s.Segments, s.Fresh, s.Scans, tt.segments, tt.fresh, tt.reason)
			}
			if got := len(readAll(t, a, "north", time.Time{}, time.Time{})); got != tt.n {
				t.Errorf("%d scans, want %d", got, tt.n)
			}
			checkClean(t, a)
		})
	}
}

// A large batch goes straight into segments, also when scans before it are still fresh.
func TestLargeBatch(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0, 10, time.Second)
	var b Batch
	for i := range 9000 {
		b.Scans = append(b.Scans, scanAt("north", t0.Add(time.Minute+time.Duration(i)*time.Second), values(float64(i), 1)...))
	}
	commit(t, a, b)
	if s := stats(t, a); s.Segments != 2 || s.Fresh != 10+9000-2*4096 {
		t.Errorf("%d segments and %d fresh scans, want 2 and %d", s.Segments, s.Fresh, 10+9000-2*4096)
	}
	checkClean(t, a)
	maintain(t, a)
	checkClean(t, a)
	scans := readAll(t, a, "north", time.Time{}, time.Time{})
	if len(scans) != 9010 {
		t.Fatalf("%d scans, want 9010", len(scans))
	}
	for i, s := range scans[1:] {
		if !s.At.After(scans[i].At) {
			t.Fatalf("scan %d is not later than the one before", i+1)
		}
	}
	if _, err := a.Commit(t.Context(), Batch{Scans: b.Scans[:1]}); err == nil {
		t.Error("a scan older than a sealed one was accepted")
	}
}

func TestKeep(t *testing.T) {
	const day = 24 * time.Hour
	path := newFile(t)
	a := open(t, path, Options{noSync: true})
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	fill(t, a, "north", t0, 20*288, 5*time.Minute) // 20 days
	fill(t, a, "south", t0, 288, 5*time.Minute)    // one day, then never again
	commit(t, a, Batch{Entries: []Entry{note(t0, "old, but it stays")}})
	maintain(t, a)
	if s := stats(t, a); s.Scans != 21*288 {
		t.Fatalf("without Keep, %d scans are left of %d", s.Scans, 21*288)
	}
	hours, err := a.Minutes(t.Context(), "north", time.Time{}, time.Time{}, Hour)
	if err != nil || len(hours) != 480 {
		t.Fatalf("%d hours (%v), want 480", len(hours), err)
	}
	last := t0.Add(20*day - 5*time.Minute)

	reopen := func(o Options) {
		t.Helper()
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
		o.noSync = true
		a = open(t, path, o)
		maintain(t, a)
		checkClean(t, a)
	}
	oldest := func(still string) time.Time {
		for _, s := range stats(t, a).Stills {
			if s.Name == still {
				return s.First
			}
		}
		t.Fatal("no such still")
		return time.Time{}
	}
	// A clock that is behind, or has not been set: nothing is old.
	reopen(Options{Keep: 2 * day, Now: func() time.Time { return t0.Add(day) }})
	if got := oldest("north"); !got.Equal(t0) {
		t.Errorf("by a clock that is behind, scans before %s went", got)
	}
	// A clock years ahead, or an archive opened after years: age counts from the newest scan. And
	// because the still has never rested, a week of its scans is kept for recovery.
	reopen(Options{Keep: 2 * day, Now: func() time.Time { return t0.AddDate(5, 0, 0) }})
	if got, want := oldest("north"), last.Add(-protect); got.After(want) || got.Before(want.Add(-day)) {
		t.Errorf("the oldest scan of a still that has never rested is %s, want about a week before the newest, %s", got, last)
	}
	if got := oldest("south"); !got.IsZero() {
		t.Errorf("the still that stopped 19 days ago still has scans from %s", got)
	}
	rested(t, a, "north", last.Add(-3*day))
	reopen(Options{Keep: 2 * day, Now: soon})
	if got, want := oldest("north"), last.Add(-3*day+5*time.Minute); got.After(want) || got.Before(want.Add(-day)) {
		t.Errorf("the oldest scan is %s, want the first after the rest point, %s, or at most a day before", got, want)
	}
	rested(t, a, "north", last)
	reopen(Options{Keep: 2 * day, Now: soon})
	if got, want := oldest("north"), last.Add(-2*day); got.After(want) || got.Before(want.Add(-day)) {
		t.Errorf("the oldest scan is %s, want a day before %s", got, want)
	}
	// What stays.
	again, err := a.Minutes(t.Context(), "north", time.Time{}, time.Time{}, Hour)
	if err != nil || len(again) != 480 || again[0].Scans != 12 {
		t.Errorf("%d hours (%v), want all 480", len(again), err)
	}
	if es, err := a.Entries(t.Context(), EntryQuery{}); err != nil || len(es) != 1 {
		t.Errorf("%d entries (%v), want 1", len(es), err)
	}
	// What went stays gone, and its time taken.
	if at, err := a.LastScan(t.Context(), "south"); err != nil || !at.Equal(t0.Add(day-5*time.Minute)) {
		t.Errorf("last scan of south %s (%v)", at, err)
	}
	if _, err := a.Commit(t.Context(), Batch{Scans: []Scan{scanAt("south", t0.Add(time.Hour), values(1, 1)...)}}); err == nil {
		t.Error("a scan older than a dropped one was accepted")
	}
}

func TestMaxSize(t *testing.T) {
	path := newFile(t)
	a := open(t, path, Options{noSync: true})
	setLayout(t, a, "north", plant)
	setLayout(t, a, "south", plant)
	for i := range 20 { // alternately, so that the oldest are of both
		for _, still := range []string{"north", "south"} {
			var b Batch
			for _, s := range plantScans(t, uint64(i), t0.Add(time.Duration(i)*2*time.Hour), 4096) {
				b.Scans = append(b.Scans, Scan{still, s})
			}
			commit(t, a, b)
		}
	}
	rested(t, a, "north", t0.Add(40*time.Hour-time.Hour))
	commit(t, a, Batch{Entries: []Entry{note(t0, "stays")}})
	if err := a.checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	large := fileSize(path)
	limit := large * 3 / 4
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	a = open(t, path, Options{noSync: true, MaxSize: limit, Now: soon})
	maintain(t, a)
	s := stats(t, a)
	if got := fileSize(path); got > limit || s.FileBytes != got {
		t.Errorf("the file has %d bytes (Stats: %d), want at most %d of %d", got, s.FileBytes, limit, large)
	}
	if s.UsedBytes < limit*8/10 {
		t.Errorf("only %d bytes are left of %d allowed: too much went", s.UsedBytes, limit)
	}
	// South has never rested, so north's scans go first, although some of south's are older.
	if north, south := s.Stills[0], s.Stills[1]; !south.First.Equal(t0) || !north.First.After(t0) || north.Scans >= south.Scans {
		t.Errorf("north has %d scans from %s, south %d from %s", north.Scans, north.First, south.Scans, south.First)
	}
	checkClean(t, a)
	// With still less room, south's go too: a full disk would stop everything.
	a.o.MaxSize = large / 5
	maintain(t, a)
	if got := fileSize(path); got > large/5 {
		t.Errorf("the file has %d bytes, want at most %d", got, large/5)
	}
	if south := stats(t, a).Stills[1]; !south.First.After(t0) {
		t.Error("south's scans have all stayed")
	}
	// With no room at all, everything sealed goes, and nothing else.
	a.o.MaxSize = 1
	maintain(t, a)
	if s := stats(t, a); s.Segments != 0 || s.Entries != 1 {
		t.Errorf("%d segments and %d entries, want 0 and 1", s.Segments, s.Entries)
	}
	hours, err := a.Minutes(t.Context(), "south", time.Time{}, time.Time{}, Hour)
	if err != nil || len(hours) == 0 {
		t.Errorf("%d hours (%v)", len(hours), err)
	}
	checkClean(t, a)
	if left, err := os.Stat(path); err != nil || left.Size() > large/5 {
		t.Errorf("the file still has %d bytes (%v)", left.Size(), err)
	}
}

// Retention does not wait for an outlet, but says what it lost.
func TestOutletLoses(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true, segmentScans: 100, Keep: time.Hour, Now: soon})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0, 1000, time.Second)
	at := func(n int) time.Time { return t0.Add(time.Duration(n-1) * time.Second) } // of the nth scan
	for outlet, c := range map[string]Cursor{
		"never read":    {Scans: map[string]time.Time{}},
		"entries only":  {},
		"at the start":  {Scans: map[string]time.Time{"north": at(1)}},
		"in a segment":  {Scans: map[string]time.Time{"north": at(150)}},
		"segment's end": {Scans: map[string]time.Time{"north": at(200)}},
		"all read":      {Scans: map[string]time.Time{"north": at(1000)}},
	} {
		if err := a.SetCursor(t.Context(), outlet, c); err != nil {
			t.Fatal(err)
		}
	}
	fill(t, a, "north", at(501).Add(51*time.Minute), 10, time.Minute) // the first 500 are now too old
	rested(t, a, "north", at(1000))
	maintain(t, a)
	if got := stats(t, a).Scans; got != 510 {
		t.Fatalf("%d scans are left, want 510", got)
	}
	want := map[string]int64{"never read": 0, "entries only": 0, "at the start": 499, "in a segment": 350, "segment's end": 300, "all read": 0}
	for _, o := range stats(t, a).Outlets {
		if o.Lost != want[o.Name] {
			t.Errorf("%s lost %d scans, want %d", o.Name, o.Lost, want[o.Name])
		}
	}
	// It goes on with the oldest that is left.
	first := readAll(t, a, "north", at(150), time.Time{})[0]
	if !first.At.Equal(at(501)) {
		t.Errorf("it reads on at %s, want %s", first.At, at(501))
	}
	if err := a.Forget(t.Context(), "in a segment"); err != nil {
		t.Fatal(err)
	}
	if n := len(stats(t, a).Outlets); n != len(want)-1 {
		t.Errorf("%d outlets after one was forgotten, want %d", n, len(want)-1)
	}
}

func TestAsides(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	setLayout(t, a, "north", small)
	x := Aside{At: t0, Still: "north", Scan: t0.Add(time.Millisecond), Item: "luted_scan x=1", Reason: "no such field"}
	for range 3 {
		if err := a.SetAside(t.Context(), "influx", x); err != nil {
			t.Fatal(err)
		}
	}
	y := Aside{At: t0, Seq: 7, Item: "mail", Reason: "no such person"}
	if err := a.SetAside(t.Context(), "influx", y); err != nil {
		t.Fatal(err)
	}
	got, err := a.SetAsides(t.Context(), "influx", 0)
	if err != nil || len(got) != 2 {
		t.Fatalf("%d set aside (%v), want 2: the same thing again is the same thing", len(got), err)
	}
	x.ID, y.ID = got[1].ID, got[0].ID
	if got[0] != y || got[1] != x || y.ID <= x.ID {
		t.Errorf("set aside: %+v", got)
	}
	if got, err := a.SetAsides(t.Context(), "influx", 1); err != nil || len(got) != 1 || got[0] != y {
		t.Errorf("the newest: %+v (%v)", got, err)
	}
	if got, err := a.SetAsides(t.Context(), "mail", 0); err != nil || len(got) != 0 {
		t.Errorf("another outlet's: %+v (%v)", got, err)
	}
	if s := stats(t, a); len(s.Outlets) != 1 || s.Outlets[0].Aside != 2 {
		t.Errorf("Stats: %+v", s.Outlets)
	}
}

func TestAsidesAreBounded(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	a.keepAside = 50
	for i := range 70 {
		if err := a.SetAside(t.Context(), "influx", Aside{At: t0, Seq: int64(i + 1), Item: "x"}); err != nil {
			t.Fatal(err)
		}
	}
	got, err := a.SetAsides(t.Context(), "influx", 0)
	if err != nil || len(got) != 50 || got[0].Seq != 70 || got[49].Seq != 21 {
		t.Errorf("%d kept (%v), want the newest 50", len(got), err)
	}
	if s := stats(t, a); s.Outlets[0].Aside != 70 {
		t.Errorf("counted %d, want 70", s.Outlets[0].Aside)
	}
}

func TestStats(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true, segmentScans: 100})
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	setLayout(t, a, "west", small)
	fill(t, a, "north", t0, 250, time.Second)
	fill(t, a, "south", t0.Add(time.Hour), 20, time.Second)
	commit(t, a, Batch{Entries: []Entry{note(t0, "a"), note(t0, "b"), note(t0, "c")}})
	maintain(t, a)
	if err := a.SetCursor(t.Context(), "influx", Cursor{Seq: 1, Scans: map[string]time.Time{"north": t0.Add(240 * time.Second)}}); err != nil {
		t.Fatal(err)
	}
	if err := a.SetCursor(t.Context(), "mail", Cursor{Seq: 3}); err != nil {
		t.Fatal(err)
	}
	s := stats(t, a)
	if s.Scans != 270 || s.Fresh != 70 || s.Segments != 2 || s.Entries != 3 || s.SealedBytes <= 0 || s.UsedBytes <= 0 || len(s.Chain) != 64 {
		t.Errorf("%+v", s)
	}
	want := []StillStats{
		{"north", t0, t0.Add(249 * time.Second), 250}, {"south", t0.Add(time.Hour), t0.Add(time.Hour + 19*time.Second), 20}, {"west", time.Time{}, time.Time{}, 0},
	}
	for i, st := range s.Stills {
		if st != want[i] {
			t.Errorf("still %+v, want %+v", st, want[i])
		}
	}
	// South, of which nothing was delivered, is 19 s behind; north 9 s.
	if o := s.Outlets[0]; o.Name != "influx" || o.Behind != 2 || o.Lag != 19*time.Second {
		t.Errorf("outlet %+v", o)
	}
	if o := s.Outlets[1]; o.Name != "mail" || o.Behind != 0 || o.Lag != 0 {
		t.Errorf("outlet %+v", o)
	}
}
