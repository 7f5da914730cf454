package archive

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

// A transaction that fails at any of its steps leaves nothing behind, and the same one succeeds when
// the disk works again.
func TestFailingAtEveryStep(t *testing.T) {
	fail, step := 0, 0
	var name string
	a := open(t, newFile(t), Options{segmentScans: 8, BeforeWrite: func(s string) error {
		if step++; step == fail {
			name = s
			return errInjected
		}
		return nil
	}})
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	failed := map[string]bool{}
	// do runs a transaction with a disk that fails at its first step, then at its second, and so on,
	// until it comes through.
	do := func(what string, fn func() error) {
		t.Helper()
		before := everything(t, a)
		for fail = 1; ; fail++ {
			step = 0
			err := fn()
			if err == nil {
				fail = 0
				return
			}
			if !errors.Is(err, errInjected) || !strings.Contains(err.Error(), a.path) {
				t.Fatalf("%s, failing at step %d: %v", what, fail, err)
			}
			failed[name] = true
			if after := everything(t, a); after != before {
				t.Fatalf("%s, failing at step %d (%s), left something behind:\n%s\nbefore:\n%s", what, fail, name, after, before)
			}
		}
	}
	for n := 1; n <= 10; n++ {
		do("commit", func() error { return second(a.Commit(t.Context(), numberedBatch(n))) })
	}
	do("maintain", func() error {
		// Sealing north and sealing south are two transactions; to see each fail whole, one at a time.
		return a.Maintain(t.Context())
	})
	do("cursor", func() error { return a.SetCursor(t.Context(), "influx", Cursor{Seq: 3}) })
	do("aside", func() error { return a.SetAside(t.Context(), "influx", Aside{At: t0, Seq: 1}) })
	do("layout", func() error { return a.SetLayout(t.Context(), "north", shop) })
	do("forget", func() error { return a.Forget(t.Context(), "influx") })
	for _, s := range []string{"begin", "scan", "entry", "alarm", "rest", "seal", "hour", "outlet", "commit"} {
		if !failed[s] {
			t.Errorf("no transaction failed at step %q", s)
		}
	}
	checkClean(t, a)
}

// everything is what can be read of an archive, as text.
func everything(t *testing.T, a *Archive) string {
	t.Helper()
	var out []any
	for _, still := range []string{"north", "south"} {
		l, _, err := a.Layout(t.Context(), still)
		if err != nil {
			t.Fatal(err)
		}
		r, _, err := a.Rest(t.Context(), still)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, l, readAll(t, a, still, time.Time{}, time.Time{}), r)
	}
	es, err := a.Entries(t.Context(), EntryQuery{})
	if err != nil {
		t.Fatal(err)
	}
	als, err := a.Alarms(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	c, err := a.Cursor(t.Context(), "influx")
	if err != nil {
		t.Fatal(err)
	}
	xs, err := a.SetAsides(t.Context(), "influx", 0)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(append(out, es, als, c, xs))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// A database that may not grow: SQLite itself says that the disk is full.
func TestFull(t *testing.T) {
	a := open(t, newFile(t), Options{segmentScans: 16})
	setLayout(t, a, "north", small)
	setLayout(t, a, "south", small)
	limit := func(pages int) {
		if _, err := a.write.ExecContext(t.Context(), fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
			t.Fatal(err)
		}
	}
	var pages int
	if err := a.write.QueryRowContext(t.Context(), "PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	limit(pages + 4)
	n := 0
	for {
		_, err := a.Commit(t.Context(), numberedBatch(n+1))
		if err == nil {
			if n++; n > 5000 {
				t.Fatal("it is never full")
			}
			continue
		}
		if !errors.Is(err, ErrFull) || errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), "the disk is full: make room") {
			t.Fatalf("full: %v, want ErrFull", err)
		}
		break
	}
	before := everything(t, a)
	if _, err := a.Commit(t.Context(), numberedBatch(n+1)); !errors.Is(err, ErrFull) {
		t.Errorf("still full: %v", err)
	}
	if everything(t, a) != before {
		t.Error("a refused commit left something behind")
	}
	checkClean(t, a)
	limit(1 << 30)
	for range 20 {
		n++
		commit(t, a, numberedBatch(n))
	}
	maintain(t, a)
	if err := a.SetCursor(t.Context(), "influx", Cursor{Seq: int64(2 * n)}); err != nil {
		t.Fatal(err)
	}
	path := a.path
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	if got := wholeBatches(t, path); got != n {
		t.Errorf("%d batches, want %d", got, n)
	}
}
