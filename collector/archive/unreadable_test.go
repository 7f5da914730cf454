package archive

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

// TestUnreadableScans: a stretch that cannot be read is named with its time, and what comes before and after
// it can still be had to the last scan.
func TestUnreadableScans(t *testing.T) {
	whole := newFile(t)
	full(t, whole) // 9000 scans, one a second, of which two segments of 4096 are sealed
	at := func(i int) time.Time { return t0.Add(time.Duration(i) * time.Second) }
	const second = "(SELECT id FROM segment ORDER BY last LIMIT 1 OFFSET 1)"
	for _, tt := range []struct {
		name, query string
		left        []Unreadable // Err is not compared
		says        string
	}{
		{"a byte of a segment", "UPDATE segment SET data = CAST(substr(data, 1, 99) || x'5a' || substr(data, 101) AS BLOB) WHERE id = " + second,
			[]Unreadable{{Segment: 2, From: at(4096), To: at(8191), Scans: 4096}}, "segment 2, 4096 scans from 2026-03-02T09:08:16Z to 2026-03-02T10:16:31Z, cannot be read: damaged: the checksum does not match"},
		{"a segment cut off", "UPDATE segment SET data = substr(data, 1, 7) WHERE id = " + second,
			[]Unreadable{{Segment: 2, From: at(4096), To: at(8191), Scans: 4096}}, "damaged"},
		{"both segments", "UPDATE segment SET data = x'00'",
			[]Unreadable{{Segment: 1, From: at(0), To: at(4095), Scans: 4096}, {Segment: 2, From: at(4096), To: at(8191), Scans: 4096}}, "segment 1, 4096 scans from 2026-03-02T08:00:00Z to"},
		{"a scan that is not sealed", "UPDATE fresh SET data = x'ff' WHERE at = (SELECT at FROM fresh ORDER BY at LIMIT 1 OFFSET 7)",
			[]Unreadable{{From: at(8199), To: at(8199), Scans: 1}}, "the scan at 2026-03-02T10:16:39Z: a scan is damaged"},
		{"the last scan", "UPDATE fresh SET data = x'ff' WHERE at = (SELECT max(at) FROM fresh)",
			[]Unreadable{{From: at(8999), To: at(8999), Scans: 1}}, "the scan at 2026-03-02T10:29:59Z"},
		{"written by a later luted", "UPDATE segment SET data = CAST('lseg' || x'09' || substr(data, 6) AS BLOB) WHERE id = " + second,
			[]Unreadable{{Segment: 2, From: at(4096), To: at(8191), Scans: 4096}}, "a segment of version 9"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := newFile(t)
			copyFile(t, whole, path, -1)
			tamper(t, path, tt.query)
			a, err := OpenReadOnly(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			defer a.Close()
			gone := func(at time.Time) bool {
				for _, u := range tt.left {
					if !at.Before(u.From) && !at.After(u.To) {
						return true
					}
				}
				return false
			}

			next := at(0)
			err = a.ReadScans(t.Context(), "north", time.Time{}, time.Time{}, func(_ Layout, s analysis.Scan) error {
				if !s.At.Equal(next) {
					t.Fatalf("scan of %s, want %s", s.At, next)
				}
				next = next.Add(time.Second)
				return nil
			})
			u, ok := errors.AsType[*Unreadable](err)
			if !ok || !strings.Contains(err.Error(), tt.says) || !strings.Contains(err.Error(), path) || !next.Equal(tt.left[0].From) {
				t.Fatalf("read up to %s, then: %v", next, err)
			}
			if u.Segment != tt.left[0].Segment || !u.From.Equal(tt.left[0].From) || !u.To.Equal(tt.left[0].To) {
				t.Errorf("%+v, want %+v", u, tt.left[0])
			}

			var b bytes.Buffer
			var left []*Unreadable
			if _, err := a.ExportReadable(t.Context(), "north", time.Time{}, time.Time{}, &b, func(u *Unreadable) { left = append(left, u) }); err != nil {
				t.Fatal(err)
			}
			if len(left) != len(tt.left) {
				t.Fatalf("left out %v, want %v", left, tt.left)
			}
			for i, want := range tt.left {
				if got := left[i]; got.Segment != want.Segment || !got.From.Equal(want.From) || !got.To.Equal(want.To) || got.Scans != want.Scans || got.Err == nil {
					t.Errorf("left out %+v, want %+v", got, want)
				}
			}
			lines := strings.Split(strings.TrimSpace(b.String()), "\n")[1:]
			for i := range 9000 {
				if gone(at(i)) {
					continue
				}
				if len(lines) == 0 || !strings.HasPrefix(lines[0], at(i).Format(timeFormat)+",") {
					t.Fatalf("the scan at %s was not exported", at(i))
				}
				lines = lines[1:]
			}
			if len(lines) > 0 {
				t.Errorf("%d lines too many, the first %q", len(lines), lines[0])
			}
			if _, err := a.Export(t.Context(), "north", time.Time{}, time.Time{}, &b); err == nil {
				t.Error("Export says nothing about it")
			}
		})
	}
}
