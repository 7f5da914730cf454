package archive

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"luted/analysis"
)

// Level is the length of time that one Summary covers.
type Level time.Duration

// The levels. Minutes go with the scans they sum up; hours stay when the scans have gone.
const (
	Minute = Level(time.Minute)
	Hour   = Level(time.Hour)
)

// Summary sums up the scans of one still in one minute or hour of UTC: those not earlier than At and
// earlier than At plus the level.
type Summary struct {
	At      time.Time
	Layout  Layout
	Scans   int       // all of them
	Columns []Figures // parallel to Layout.Columns
}

// Figures sum up one column, in its inside unit. Bad values are left out; if Good is 0 the others mean
// nothing.
type Figures struct {
	Good           int // how many values were good
	Min, Max, Mean float64
}

func (f *Figures) add(v float64) {
	f.Good++
	if f.Good == 1 {
		*f = Figures{1, v, v, v}
		return
	}
	n := float64(f.Good)
	f.Min, f.Max = min(f.Min, v), max(f.Max, v)
	f.Mean += v/n - f.Mean/n // not a sum: that could leave the range of the numbers
}

func (f *Figures) merge(g Figures) {
	switch {
	case g.Good == 0:
	case f.Good == 0:
		*f = g
	default:
		n := float64(f.Good + g.Good)
		f.Mean = f.Mean*(float64(f.Good)/n) + g.Mean*(float64(g.Good)/n)
		f.Min, f.Max = min(f.Min, g.Min), max(f.Max, g.Max)
		f.Good += g.Good
	}
}

// Minutes returns the summaries of a still between two times, oldest first: from the minute or hour
// that from lies in (zero: the first) to the last that begins before to (zero: the last). Scans just
// committed are in it. A minute in which the layout changed comes once with each. Where nothing was
// scanned there is no summary.
//
// A year of hours is 8,760 summaries; a year of minutes is sixty times that.
func (a *Archive) Minutes(ctx context.Context, still string, from, to time.Time, level Level) ([]Summary, error) {
	if level != Minute && level != Hour {
		return nil, fmt.Errorf("archive: no summaries of %v; there are minutes and hours", time.Duration(level))
	}
	id, ok, err := a.stillID(ctx, still)
	if err != nil || !ok {
		return nil, err
	}
	w := window(from, to) // here: from after, inclusive, to upTo, exclusive
	w.after -= w.after % int64(level)
	bs, err := a.buckets(ctx, id, w, level)
	if err != nil {
		return nil, a.explain("read summaries of "+still, err)
	}
	out := make([]Summary, len(bs))
	for i, b := range bs {
		l, err := a.layouts.get(ctx, a.read, b.layout)
		if err == nil && len(l.Columns) != len(b.cols) {
			err = fmt.Errorf("summary at %s: %w", moment(b.at).Format(timeFormat), errSegment)
		}
		if err != nil {
			return nil, a.explain("read summaries of "+still, err)
		}
		out[i] = Summary{At: time.Unix(0, b.at).UTC(), Layout: l, Scans: b.scans, Columns: b.cols}
	}
	return out, nil
}

// buckets reads sealed and fresh summaries as one state of the file has them.
func (a *Archive) buckets(ctx context.Context, still int64, w span, level Level) ([]bucket, error) {
	snap, err := a.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer snap.Rollback()
	sealed := a.sealedMinutes
	if level == Hour {
		sealed = a.sealedHours
	}
	bs, err := sealed(ctx, snap, still, w)
	if err != nil {
		return nil, err
	}
	for next := (span{w.after - 1, w.upTo - 1}); ; {
		layout, scans, err := a.freshScans(ctx, snap, still, next, freshChunk)
		if err != nil {
			return nil, err
		}
		if len(scans) == 0 {
			break
		}
		bs = append(bs, summarise(layout, len(scans[0].Values), scans, level)...)
		next.after = scans[len(scans)-1].At.UnixNano()
	}
	slices.SortStableFunc(bs, func(x, y bucket) int { return cmp.Compare(x.at, y.at) })
	return joined(bs), nil
}

// joined merges buckets of the same time and layout, which the edges of segments cut in two.
func joined(in []bucket) []bucket {
	out := in[:0]
	for _, b := range in {
		i := len(out) - 1
		for i >= 0 && out[i].at == b.at && out[i].layout != b.layout {
			i--
		}
		if i >= 0 && out[i].at == b.at {
			out[i].merge(b)
			continue
		}
		out = append(out, b)
	}
	return out
}

func (a *Archive) sealedMinutes(ctx context.Context, q querier, still int64, w span) ([]bucket, error) {
	rows, err := q.QueryContext(ctx, `SELECT s.id, s.layout, m.data FROM segment s JOIN minutes m ON m.segment = s.id
		WHERE s.still = ? AND s.last >= ? AND s.first < ? ORDER BY s.last`, still, w.after, w.upTo)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []bucket
	for rows.Next() {
		var id, layout int64
		var data sql.RawBytes
		if err := rows.Scan(&id, &layout, &data); err != nil {
			return nil, err
		}
		bs, err := decodeBuckets(layout, data)
		if err != nil {
			return nil, fmt.Errorf("minutes of segment %d: %w", id, err)
		}
		for _, b := range bs {
			if b.at >= w.after && b.at < w.upTo {
				out = append(out, b)
			}
		}
	}
	return out, rows.Err()
}

func (a *Archive) sealedHours(ctx context.Context, q querier, still int64, w span) ([]bucket, error) {
	rows, err := q.QueryContext(ctx, "SELECT at, layout, data FROM hour WHERE still = ? AND at >= ? AND at < ? ORDER BY at, layout", still, w.after, w.upTo)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []bucket
	for rows.Next() {
		var at, layout int64
		var data sql.RawBytes
		if err := rows.Scan(&at, &layout, &data); err != nil {
			return nil, err
		}
		b, err := a.readHour(ctx, q, at, layout, data)
		if err != nil {
			return nil, err
		}
		out = append(out, b)
	}
	return out, rows.Err()
}

// readHour decodes one row of the hour table.
func (a *Archive) readHour(ctx context.Context, q querier, at, layout int64, data []byte) (bucket, error) {
	l, err := a.layouts.get(ctx, q, layout)
	if err != nil {
		return bucket{}, err
	}
	vs := make([]analysis.Value, 1+4*len(l.Columns))
	err = readRow(data, vs)
	if err == nil {
		var b bucket
		if b, err = bucketOf(at, layout, vs); err == nil {
			return b, nil
		}
	}
	return bucket{}, fmt.Errorf("hour %s: %w", moment(at).Format(timeFormat), err)
}
