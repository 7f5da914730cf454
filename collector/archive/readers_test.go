package archive

import (
	"context"
	"io"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"luted/analysis"
)

// More readers than connections, all at once, with nothing remembered from before, while scans are
// committed and sealed: nobody waits for ever, and every reader sees scans in order without gaps.
func TestManyReaders(t *testing.T) {
	path := newFile(t)
	o := Options{noSync: true, segmentScans: 50}
	a := open(t, path, o)
	for i := range 4 {
		l := Layout{Columns: append([]Column{}, small.Columns...)}
		for range i { // a layout more each time
			l.Columns = append(l.Columns, Column{string(rune('a' + len(l.Columns))), analysis.Other, ""})
		}
		setLayout(t, a, "north", l)
		for k := range 200 {
			commit(t, a, Batch{Scans: []Scan{scanAt("north", t0.Add(time.Duration(i*200+k)*time.Second), make([]analysis.Value, len(l.Columns))...)}})
		}
		maintain(t, a)
	}
	setLayout(t, a, "north", small)
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	a = open(t, path, o)
	g, ctx := errgroup.WithContext(t.Context())
	for range 12 {
		g.Go(func() error {
			n := 0
			err := a.ReadScans(ctx, "north", time.Time{}, time.Time{}, func(_ Layout, s analysis.Scan) error {
				if want := t0.Add(time.Duration(n) * time.Second); !s.At.Equal(want) {
					t.Errorf("scan %d is at %s, want %s", n, s.At, want)
					return io.ErrUnexpectedEOF
				}
				n++
				return nil
			})
			if n < 800 {
				t.Errorf("%d scans, want 800 or more", n)
			}
			return err
		})
		g.Go(func() error { return second(a.Stats(ctx)) })
		g.Go(func() error { return second(a.Minutes(ctx, "north", time.Time{}, time.Time{}, Hour)) })
		g.Go(func() error { return second(a.Minutes(ctx, "north", time.Time{}, time.Time{}, Minute)) })
		g.Go(func() error { return second(a.Export(ctx, "north", time.Time{}, time.Time{}, io.Discard)) })
		g.Go(func() error { return a.Check(ctx) })
	}
	g.Go(func() error {
		for i := range 200 {
			at := t0.Add(time.Duration(800+i) * time.Second)
			if _, err := a.Commit(ctx, Batch{Scans: []Scan{scanAt("north", at, values(1, 0)...)}}); err != nil {
				return err
			}
			if i%40 == 0 {
				if err := a.Maintain(context.WithoutCancel(ctx)); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err := g.Wait(); err != nil {
		t.Error(err)
	}
}

// Several writers at once: the journal has no gap, and every commit knows its own last entry.
func TestManyWriters(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true})
	g, ctx := errgroup.WithContext(t.Context())
	for w := range 8 {
		still := string(rune('a' + w))
		setLayout(t, a, still, small)
		g.Go(func() error {
			for i := range 25 {
				e := note(t0, still)
				e.Still = still
				seq, err := a.Commit(ctx, Batch{Scans: []Scan{scanAt(still, t0.Add(time.Duration(i)*time.Second), values(1, 0)...)}, Entries: []Entry{e, e}})
				if err != nil {
					return err
				}
				es, err := a.Entries(ctx, EntryQuery{AfterSeq: seq - 2, BeforeSeq: seq + 1})
				if err != nil {
					return err
				}
				if len(es) != 2 || es[0].Still != still || es[1].Still != still {
					t.Errorf("entries %d and %d are not those of %s: %v", seq-1, seq, still, es)
				}
			}
			return nil
		})
	}
	if err := g.Wait(); err != nil {
		t.Fatal(err)
	}
	if last, err := a.LastSeq(t.Context()); err != nil || last != 8*25*2 {
		t.Errorf("%d entries (%v), want %d", last, err, 8*25*2)
	}
	checkClean(t, a)
}
