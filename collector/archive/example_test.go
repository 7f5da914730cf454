package archive_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

func Example() {
	ctx := context.Background()
	dir, err := os.MkdirTemp("", "luted")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	a, err := archive.Open(ctx, filepath.Join(dir, "luted.db"), archive.Options{Keep: 90 * 24 * time.Hour})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer a.Close()

	// Columns first, then scans and what they caused, in one transaction.
	err = a.SetLayout(ctx, "north", archive.Layout{Columns: []archive.Column{
		{Name: "jacket_temperature", Dimension: analysis.Temperature, Unit: "°F"},
		{Name: "lid_closed", Dimension: analysis.Switch},
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	at := time.Date(2026, 3, 2, 8, 0, 5, 0, time.UTC)
	seq, err := a.Commit(ctx, archive.Batch{
		Scans: []archive.Scan{
			{Still: "north", Scan: analysis.Scan{At: at, Values: []analysis.Value{{V: 150}, {V: 1}}}}, // °C: always the inside unit
			{Still: "north", Scan: analysis.Scan{At: at.Add(time.Second), Values: []analysis.Value{{Quality: analysis.BrokenWire}, {V: 1}}}},
		},
		Entries: []archive.Entry{{At: at, Still: "north", Kind: archive.NoteEntry, Body: json.RawMessage(`{"by":"Ada","text":"new gasket"}`)}},
	})
	fmt.Println("last entry", seq, err)

	_, err = a.Export(ctx, "north", time.Time{}, time.Time{}, os.Stdout)
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// last entry 1 <nil>
	// time,jacket_temperature [°F],lid_closed
	// 2026-03-02T08:00:05Z,302,1
	// 2026-03-02T08:00:06Z,broken-wire,1
}

// An outlet reads on from its own cursor, and waits for news without polling.
func ExampleArchive_Changed() {
	outlet := func(ctx context.Context, a *archive.Archive, deliver func([]archive.Entry) error) error {
		for {
			news := a.Changed() // before reading, or what comes in between would wait for the next
			c, err := a.Cursor(ctx, "mail")
			if err != nil {
				return err
			}
			es, err := a.Entries(ctx, archive.EntryQuery{AfterSeq: c.Seq, Limit: 100})
			if err != nil {
				return err
			}
			if len(es) == 0 {
				select {
				case <-news:
					continue
				case <-ctx.Done():
					return nil
				}
			}
			if err := deliver(es); err != nil {
				return err
			}
			c.Seq = es[len(es)-1].Seq // only now: a crash before this delivers again, never not at all
			if err := a.SetCursor(ctx, "mail", c); err != nil {
				return err
			}
		}
	}
	_ = outlet
}

// Mistakes in a recording are named by line and column.
func ExampleReadRecording() {
	r, err := archive.ReadRecording(strings.NewReader("time,jacket_temperature [°F]\n2026-03-02T08:00:05Z,302\n2026-03-02T08:00:06Z,hot\n"), "north.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	var s analysis.Scan
	for err == nil {
		if err = r.Next(&s); err == nil {
			fmt.Println(s.At.Format(time.TimeOnly), s.Values[0].V, "°C")
		}
	}
	fmt.Println(err)
	// Output:
	// 08:00:05 150 °C
	// north.csv:3:22: jacket_temperature: "hot" is neither a number nor a quality (missing, silent, exception, out-of-range, broken-wire, stuck, implausible); leave the cell empty if nothing was measured
}
