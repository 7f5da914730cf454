package collector

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// fixed is a clock that the test moves.
type fixed struct {
	modbus.SystemClock
	at *time.Time
}

func (f fixed) Now() time.Time { return *f.at }

func TestCheckRun(t *testing.T) {
	start := noon
	for _, tt := range []struct {
		name   string
		run    int
		begun  time.Duration // ago
		want   int
		reason string
	}{
		{"idle", 0, 0, 8, "the next run"},
		{"just begun", 7, 9 * time.Minute, 7, "the lid was locked before the last tick was made"},
		{"at the limit", 7, 10 * time.Minute, 7, "the limit belongs to the run"},
		{"well on its way", 7, 11 * time.Minute, 8, "what is ticked now is for the next charge"},
	} {
		st := analysis.Status{Run: tt.run, Runs: 7}
		if tt.run > 0 {
			st.RunStart = &start
		}
		if got := CheckRun(st, start.Add(tt.begun), 10*time.Minute); got != tt.want {
			t.Errorf("%s: run %d, want %d: %s", tt.name, got, tt.want, tt.reason)
		}
	}
}

// turn feeds the still one scan, a second after the one before, with its run on or off.
func turn(t *testing.T, c *Collector, now *time.Time, on bool) {
	t.Helper()
	*now = now.Add(time.Second)
	if err := c.Ingest(t.Context(), modbus.Sweep{Still: "north", At: *now, Values: values(20, on)}); err != nil {
		t.Fatal(err)
	}
}

func TestChecksAreForARun(t *testing.T) {
	m, now := newMemory(), noon
	c := start(t, m, Options{Clock: fixed{at: &now}}, "north")
	tick := func(run int, check string) error {
		return c.Check(t.Context(), "north", run, archive.Check{Check: check, Done: true, By: "Kim"})
	}
	turn(t, c, &now, false)
	if err := tick(1, "Lid clean"); err != nil {
		t.Fatal(err)
	}
	turn(t, c, &now, true) // run 1 begins
	now = now.Add(9 * time.Second)
	if err := tick(1, "Drain valve closed"); err != nil {
		t.Errorf("nine seconds after the start: %v", err)
	}
	now = now.Add(9 * time.Second)
	if err := tick(1, "Lid clean"); err == nil || !strings.Contains(err.Error(), "are for run 2 now, not for run 1") {
		t.Errorf("eighteen seconds after the start: %v", err)
	}
	if err := tick(2, "Lid clean"); err != nil {
		t.Errorf("for the next run: %v", err)
	}
	for name, err := range map[string]error{
		"not on the list": tick(2, "Lid painted"),
		"too far ahead":   tick(3, "Lid clean"),
		"another still":   c.Check(t.Context(), "south", 1, archive.Check{Check: "Lid clean", By: "Kim"}),
		"no name":         c.Check(t.Context(), "north", 2, archive.Check{Check: "Lid clean"}),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	var runs []int
	for _, e := range m.entries {
		if e.Kind == archive.CheckEntry {
			runs = append(runs, e.Run)
		}
	}
	if !slices.Equal(runs, []int{1, 1, 2}) {
		t.Errorf("ticks are kept with runs %v, want 1 1 2", runs)
	}
}

func TestAmend(t *testing.T) {
	m, now := newMemory(), noon
	c := start(t, m, Options{Clock: fixed{at: &now}}, "north")
	turn(t, c, &now, true)
	amend := func(run int, field, old, new, why string) error {
		return c.Amend(t.Context(), "north", run, archive.Amend{Field: field, Old: old, New: new, By: "Kim", Why: why})
	}
	for _, step := range []struct {
		name  string
		run   int
		field string
		old   string
		new   string
		why   string
		says  string // of the error; empty: none
	}{
		{name: "entered", run: 1, field: "lot", new: "A-17"},
		{name: "corrected without a reason", run: 1, field: "lot", old: "A-17", new: "A-18", says: "a correction needs its reason"},
		{name: "corrected by somebody who saw nothing", run: 1, field: "lot", new: "A-18", why: "misread", says: `was changed meanwhile: it is "A-17", entered by Kim`},
		{name: "corrected", run: 1, field: "lot", old: "A-17", new: "A-18", why: "misread"},
		{name: "corrected to the same", run: 1, field: "lot", old: "A-18", new: "A-18", why: "?", says: "already"},
		{name: "taken back without a reason", run: 1, field: "lot", old: "A-18", says: "reason"},
		{name: "taken back", run: 1, field: "lot", old: "A-18", why: "drum not labelled"},
		{name: "entered again", run: 1, field: "lot", new: "A-19"},
		{name: "another field", run: 1, field: "liner", new: "nylon"},
		{name: "measured before", run: 1, field: "recovered", old: "13.6 gal", new: "14 gal", why: "the meter was off"},
		{name: "the next run", run: 2, field: "lot", new: "B-1"},
		{name: "the one after", run: 3, field: "lot", new: "B-1", says: "has no run 3; its last run is 1"},
		{name: "no run", run: 0, field: "lot", new: "B-1", says: "no run 0"},
		{name: "nothing", run: 1, field: "charge", says: "already"},
	} {
		err := amend(step.run, step.field, step.old, step.new, step.why)
		if (step.says == "") != (err == nil) || (err != nil && !strings.Contains(err.Error(), step.says)) {
			t.Errorf("%s: %v, want %q", step.name, err, step.says)
		}
	}
	if n := m.kinds()[archive.AmendEntry]; n != 7 {
		t.Errorf("%d values journaled, want 7: nothing that was refused is kept, nothing that was kept is changed", n)
	}
}

// TestAmendWhileTheDiskIsFull: a value that waits in memory is the one that a correction must name.
func TestAmendWhileTheDiskIsFull(t *testing.T) {
	m := newMemory()
	c := start(t, m, Options{}, "north")
	m.order(func() error { return errors.New("disk full") })
	lot := archive.Amend{Field: "lot", New: "A-17", By: "Kim"}
	if err := c.Amend(t.Context(), "north", 1, lot); !errors.Is(err, ErrNotStored) {
		t.Fatalf("got %v, want ErrNotStored", err)
	}
	if err := c.Amend(t.Context(), "north", 1, archive.Amend{Field: "lot", New: "A-18", By: "Jo"}); err == nil || !strings.Contains(err.Error(), `"A-17", entered by Kim`) {
		t.Errorf("a second value: %v", err)
	}
	m.order(nil)
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if n := m.kinds()[archive.AmendEntry]; n != 1 {
		t.Errorf("%d values journaled, want 1", n)
	}
}

// TestListsAreKept: the list of start checks is journaled when it is new, and only then.
func TestListsAreKept(t *testing.T) {
	m := newMemory()
	lists := func() int { return m.kinds()[archive.CheckListEntry] }
	start(t, m, Options{}, "north", "south")
	start(t, m, Options{}, "north", "south")
	if lists() != 2 {
		t.Errorf("%d lists after two starts with the same ones, want one for each still", lists())
	}
	before := shopChecks
	defer func() { shopChecks = before }()
	shopChecks = []string{"Lid clean"}
	start(t, m, Options{}, "north", "south")
	shopChecks = nil
	start(t, m, Options{}, "north", "south")
	start(t, m, Options{}, "north", "south")
	if lists() != 6 {
		t.Errorf("%d lists after a change and after taking it away, want 6", lists())
	}
	if last := m.entries[len(m.entries)-1]; string(last.Body) != `{"checks":[]}` {
		t.Errorf("no list is kept as %s", last.Body)
	}
}
