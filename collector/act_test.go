package collector

import (
	"bytes"
	"encoding/json"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// stopped is a clock that stands still.
type stopped struct {
	modbus.SystemClock
	at time.Time
}

func (c stopped) Now() time.Time { return c.at }

func TestActsAreJournaled(t *testing.T) {
	m := newMemory()
	c := start(t, m, Options{Clock: stopped{at: noon}}, "north")
	feed(t, c, 0, 90, 90)
	if err := c.Done(t.Context(), "north", "oil", " Kim "); err != nil {
		t.Fatal(err)
	}
	if err := c.ResetLearned(t.Context(), "north", "Kim", "rebuilt"); err != nil {
		t.Fatal(err)
	}
	if n := m.kinds(); n[archive.ActEntry] != 2 || n[archive.EventEntry] != 2 {
		t.Fatalf("journaled: %v", n)
	}
	var a analysis.Act
	if err := json.Unmarshal(m.entries[1].Body, &a); err != nil || m.entries[1].Kind != archive.ActEntry { // after the start checks
		t.Fatalf("second entry %+v: %v", m.entries[1], err)
	}
	// The clock says noon, and the last scan is a second later: the act is not before it.
	last := noon.Add(time.Second)
	want := analysis.Act{Kind: analysis.ActDone, Upkeep: "oil", By: "Kim", At: last.Add(time.Millisecond), After: last}
	if a != want {
		t.Errorf("act %+v, want %+v", a, want)
	}
	if v := c.Stills()[0]; len(v.Memory.Upkeep) != 2 || !v.Stored {
		t.Errorf("shown: %+v", v)
	}
	for name, err := range map[string]error{
		"no such still; the stills are": c.Done(t.Context(), "south", "oil", "Kim"),
		"has no upkeep":                 c.Done(t.Context(), "north", "ol", "Kim"),
		"nobody is named":               c.Done(t.Context(), "north", "oil", " "),
		"nobody":                        c.ResetLearned(t.Context(), "north", "", "x"),
	} {
		if err == nil || errors.Is(err, ErrNotStored) || !strings.Contains(err.Error(), strings.TrimPrefix(name, "no such still; ")) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if n := m.kinds()[archive.ActEntry]; n != 2 {
		t.Errorf("%d acts journaled after refused ones", n)
	}
}

// TestActNotStored: an act that the archive would not take is done all the same, and stored later.
func TestActNotStored(t *testing.T) {
	m := newMemory()
	c := start(t, m, Options{Clock: stopped{at: noon}}, "north")
	m.order(func() error { return errDisk })
	if err := c.Done(t.Context(), "north", "oil", "Kim"); !errors.Is(err, ErrNotStored) {
		t.Fatalf("error %v", err)
	}
	m.order(nil)
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := m.kinds(); n[archive.ActEntry] != 1 {
		t.Errorf("journaled: %v", n)
	}
}

// TestActsWithRealAnalysisAndArchive: an upkeep falls due in a run; it is done, the alarm goes, and the
// program is stopped and started before the still rests again. The counter begins where it was done, no
// warning is logged, and the run after it counts from there.
func TestActsWithRealAnalysisAndArchive(t *testing.T) {
	r, err := simulatedRun()
	if err != nil {
		t.Fatal(err)
	}
	cfg := *r.cfg
	still := *cfg.Stills[0]
	still.Equipment.Upkeep = []analysis.Upkeep{{Name: "lid gasket", Runs: 1}}
	cfg.Stills[0] = &still
	t.Cleanup(func() { cfg.Stills[0] = r.cfg.Stills[0] })
	path := filepath.Join(t.TempDir(), "luted.db")
	var log bytes.Buffer
	last := r.sweeps[len(r.sweeps)-1].At
	open := func() (*Collector, func()) {
		a, err := archive.Open(t.Context(), path, archive.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c, err := newCollector(&cfg, a, Options{Flush: time.Hour, Clock: stopped{at: last.Add(time.Minute)}, Log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelWarn}))})
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Recover(t.Context()); err != nil {
			t.Fatal(err)
		}
		return c, func() {
			if err := a.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	c, end := open()
	for _, s := range r.sweeps {
		if err := c.Ingest(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	key := alarm.Key{Still: "north", Fault: analysis.UpkeepDue, Channel: "lid gasket"}
	if a, ok := c.book.Get(key); !ok || !a.Active {
		t.Fatalf("the upkeep is not due: %+v", c.Stills()[0].Memory.Upkeep)
	}
	if err := c.Done(t.Context(), "north", "lid gasket", "Kim"); err != nil {
		t.Fatal(err)
	}
	if err := c.ResetLearned(t.Context(), "north", "Kim", "new gasket"); err != nil {
		t.Fatal(err)
	}
	before := c.Stills()[0]
	log.Reset() // of the faults
	end()
	c, end = open()
	defer end()
	after := c.Stills()[0]
	b, _ := json.Marshal(before.Memory)
	a, _ := json.Marshal(after.Memory)
	if !bytes.Equal(a, b) {
		t.Errorf("memory before\n%s\nand after the restart\n%s", b, a)
	}
	if u := after.Memory.Upkeep; len(u) != 1 || u[0].Runs != 0 || !u[0].Since.Equal(last.Add(time.Minute)) {
		t.Errorf("counters %+v", u)
	}
	if a, _ := c.book.Get(key); a.Active || len(after.Status.Faults) != len(before.Status.Faults) {
		t.Errorf("alarm %+v, faults %+v", a, after.Status.Faults)
	}
	if log.Len() > 0 {
		t.Errorf("logged at the restart:\n%s", log.String())
	}
}
