package archive

import (
	"cmp"
	"database/sql"
	"fmt"
	"maps"
	"math"
	"slices"

	"luted/analysis"
)

// stillRow is one row of the still table.
type stillRow struct {
	id, last, dropped int64
	name              string
}

func (c *checker) stills() error {
	var all []stillRow
	err := c.each(func(rows *sql.Rows) error {
		all = append(all, stillRow{})
		s := &all[len(all)-1]
		return rows.Scan(&s.id, &s.name, &s.last, &s.dropped)
	}, "SELECT id, name, last, dropped FROM still ORDER BY name")
	if err != nil {
		return err
	}
	for _, s := range all {
		if err := c.still(s); err != nil {
			return err
		}
	}
	return nil
}

// still checks the scans of one still against its summaries.
func (c *checker) still(s stillRow) error {
	hours := map[hourKey]bucket{}
	end := int64(0) // of the segment before
	type stretch struct{ first, last int64 }
	var sealed []stretch
	err := c.each(func(rows *sql.Rows) error {
		var g segmentRow
		if err := rows.Scan(&g.id, &g.first, &g.last, &g.scans, &g.layout, &g.data, &g.minutes); err != nil {
			return err
		}
		if g.first <= end {
			c.broken("%s: segment %d begins at %s, not later than the end of the one before, %s", s.name, g.id, clock(g.first), clock(end))
		}
		end = max(end, g.last)
		sealed = append(sealed, stretch{g.first, g.last})
		for _, b := range c.segment(s, g) {
			key := hourKey{b.at, b.layout}
			if have, ok := hours[key]; ok {
				have.merge(b)
				b = have
			}
			hours[key] = b
		}
		return nil
	}, "SELECT id, first, last, scans, layout, data, (SELECT data FROM minutes WHERE segment = s.id) FROM segment s WHERE still = ? ORDER BY last", s.id)
	if err != nil {
		return err
	}
	if s.last < end || s.last < s.dropped {
		c.broken("%s: its last sealed scan is noted as %s, but there is one at %s", s.name, clock(s.last), clock(max(end, s.dropped)))
	}
	newest := max(s.last, end)
	next := 0
	err = c.each(func(rows *sql.Rows) error {
		var at, layout int64
		var data sql.RawBytes
		if err := rows.Scan(&at, &layout, &data); err != nil {
			return err
		}
		for next < len(sealed) && sealed[next].last < at {
			next++
		}
		if next < len(sealed) && sealed[next].first <= at {
			c.broken("%s: the scan at %s is both sealed and fresh", s.name, clock(at))
		}
		if at <= s.dropped {
			c.broken("%s: the scan at %s is there, although those up to %s have been dropped", s.name, clock(at), clock(s.dropped))
		}
		newest = max(newest, at)
		l, err := c.a.layouts.get(c.ctx, c.q, layout)
		if err == nil {
			err = readRow(data, make([]analysis.Value, len(l.Columns)))
		}
		if err != nil {
			c.broken("%s: the scan at %s: %w", s.name, clock(at), err)
		}
		return nil
	}, "SELECT at, layout, data FROM fresh WHERE still = ? ORDER BY at", s.id)
	if err != nil {
		return err
	}
	c.ends[s.name] = newest
	return c.hours(s, hours)
}

func clock(ns int64) string { return moment(ns).Format(timeFormat) }

type hourKey struct{ at, layout int64 }

type segmentRow struct {
	id, first, last, layout int64
	scans                   int
	data, minutes           []byte
}

// segment checks one segment and returns its hours, or nothing if it cannot be read.
func (c *checker) segment(s stillRow, g segmentRow) []bucket {
	scans, err := decodeSegment(g.data)
	if err != nil {
		c.broken("%s: segment %d from %s: %w", s.name, g.id, clock(g.first), err)
		return nil
	}
	first, last := scans[0].At.UnixNano(), scans[len(scans)-1].At.UnixNano()
	if first != g.first || last != g.last || len(scans) != g.scans {
		c.broken("%s: segment %d holds %d scans from %s to %s, but is noted with %d from %s to %s",
			s.name, g.id, len(scans), clock(first), clock(last), g.scans, clock(g.first), clock(g.last))
	}
	l, err := c.a.layouts.get(c.ctx, c.q, g.layout)
	if err == nil && len(l.Columns) != len(scans[0].Values) {
		err = fmt.Errorf("%d columns for a layout of %d", len(scans[0].Values), len(l.Columns))
	}
	if err != nil {
		c.broken("%s: segment %d from %s: %w", s.name, g.id, clock(g.first), err)
		return nil
	}
	want := summarise(g.layout, len(l.Columns), scans, Minute)
	have, err := decodeBuckets(g.layout, g.minutes)
	switch {
	case err != nil:
		c.broken("%s: minutes of segment %d from %s: %w", s.name, g.id, clock(g.first), err)
	case !slices.EqualFunc(want, have, sameBucket):
		c.broken("%s: the minutes of segment %d from %s are not those of its scans", s.name, g.id, clock(g.first))
	}
	return coarser(want, Hour)
}

func sameBucket(a, b bucket) bool {
	return a.at == b.at && a.scans == b.scans && slices.Equal(a.cols, b.cols)
}

// nearBucket allows for the rounding of means that were merged in other steps.
func nearBucket(a, b bucket) bool {
	if a.at != b.at || a.scans != b.scans || len(a.cols) != len(b.cols) {
		return false
	}
	for i, f := range a.cols {
		g := b.cols[i]
		if f.Good != g.Good || f.Min != g.Min || f.Max != g.Max || math.Abs(f.Mean-g.Mean) > 1e-9*max(math.Abs(f.Min), math.Abs(f.Max)) {
			return false
		}
	}
	return true
}

// hours compares the stored hours with the scans. An hour of which scans have been dropped can only be
// checked for counting at least those that are left.
func (c *checker) hours(s stillRow, want map[hourKey]bucket) error {
	err := c.each(func(rows *sql.Rows) error {
		var at, layout int64
		var data sql.RawBytes
		if err := rows.Scan(&at, &layout, &data); err != nil {
			return err
		}
		b, err := c.a.readHour(c.ctx, c.q, at, layout, data)
		if err != nil {
			c.broken("%s: %w", s.name, err)
			return nil
		}
		key := hourKey{at, layout}
		w, there := want[key]
		delete(want, key)
		switch partly := at <= s.dropped; {
		case partly && there && b.scans < w.scans:
			c.broken("%s: the hour %s counts %d scans, but %d are there", s.name, clock(at), b.scans, w.scans)
		case !partly && !there:
			c.broken("%s: the hour %s counts %d scans, but none is there", s.name, clock(at), b.scans)
		case !partly && !nearBucket(b, w):
			c.broken("%s: the hour %s (%d scans) is not that of its scans (%d)", s.name, clock(at), b.scans, w.scans)
		}
		return nil
	}, "SELECT at, layout, data FROM hour WHERE still = ? ORDER BY at", s.id)
	for _, key := range slices.SortedFunc(maps.Keys(want), func(x, y hourKey) int { return cmp.Compare(x.at, y.at) }) {
		c.broken("%s: the hour %s is missing, with %d scans there", s.name, clock(key.at), want[key].scans)
	}
	return err
}
