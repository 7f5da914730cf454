package archive

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"time"

	"luted/analysis"
)

// Export writes a still's scans later than from and not later than to (zero times: all) as a recording.
// Columns of several layouts are joined by name: a scan leaves those empty that it does not have. A
// column that was recorded in several units is written in the inside unit, in which every value is
// exact. A still without scans in the window gives a recording of its columns alone. Scans that cannot be read
// end the export with an Unreadable. Returned is how many scans were written.
func (a *Archive) Export(ctx context.Context, still string, from, to time.Time, w io.Writer) (scans int, err error) {
	return a.export(ctx, still, from, to, w, nil)
}

// ExportReadable is Export of what can be read: it tells skip of what cannot be, in time order, and goes on
// behind it.
func (a *Archive) ExportReadable(ctx context.Context, still string, from, to time.Time, w io.Writer, skip func(*Unreadable)) (scans int, err error) {
	return a.export(ctx, still, from, to, w, skip)
}

func (a *Archive) export(ctx context.Context, still string, from, to time.Time, w io.Writer, skip func(*Unreadable)) (scans int, err error) {
	l, err := a.exportLayout(ctx, still, from, to)
	if err != nil {
		return scans, a.explain("export "+still, err)
	}
	out, err := NewRecordingWriter(w, l)
	if err != nil {
		return scans, a.explain("export "+still, err)
	}
	row := analysis.Scan{Values: make([]analysis.Value, len(l.Columns))}
	var places []int // where the columns of the scan's layout go
	var of Layout
	err = a.readScans(ctx, still, from, to, skip, func(sl Layout, s analysis.Scan) error {
		if !sl.Equal(of) {
			of, places = sl, places[:0]
			for _, c := range sl.Columns {
				i := l.Column(c.Name)
				if i < 0 {
					return fmt.Errorf("%s: a channel that came while the export was running; start it again", c.Name)
				}
				places = append(places, i)
			}
		}
		row.At = s.At
		for i := range row.Values {
			row.Values[i] = analysis.Value{Quality: analysis.Missing}
		}
		for i, v := range s.Values {
			row.Values[places[i]] = v
		}
		scans++
		return out.Write(row)
	})
	if err != nil {
		return scans, a.explain("export "+still, err)
	}
	return scans, a.explain("export "+still, out.Flush())
}

// exportLayout joins the layouts of a window in the order in which they were used.
func (a *Archive) exportLayout(ctx context.Context, still string, from, to time.Time) (Layout, error) {
	id, ok, err := a.stillID(ctx, still)
	if err != nil {
		return Layout{}, err
	}
	if !ok {
		names, err := a.Stills(ctx)
		if err != nil {
			return Layout{}, err
		}
		return Layout{}, fmt.Errorf("there is no still %q in the archive; it has %q", still, names)
	}
	ids, err := a.layoutsIn(ctx, id, window(from, to))
	if err != nil {
		return Layout{}, err
	}
	var out Layout
	for _, id := range ids {
		l, err := a.layouts.get(ctx, a.read, id)
		if err != nil {
			return Layout{}, err
		}
		for _, c := range l.Columns {
			i := out.Column(c.Name)
			if i < 0 {
				out.Columns = append(out.Columns, c)
				continue
			}
			if out.Columns[i], err = joinColumns(out.Columns[i], c); err != nil {
				return Layout{}, err
			}
		}
	}
	return out, nil
}

// joinColumns is one column for the values of two of the same name.
func joinColumns(x, y Column) (Column, error) {
	switch {
	case x == y:
		return x, nil
	case x.Dimension == y.Dimension && x.Dimension != analysis.Other:
		x.Unit = x.Dimension.InsideUnit()
		return x, nil
	case x.Unit == y.Unit && x.Dimension.InsideUnit() == y.Dimension.InsideUnit(): // a switch and plain numbers
		x.Dimension = analysis.Other
		return x, nil
	}
	return x, fmt.Errorf("%s was recorded as %s in %q and as %s in %q, which luted cannot put into one column; export the time before and after the change apart",
		x.Name, x.Dimension, x.Unit, y.Dimension, y.Unit)
}

func (a *Archive) layoutsIn(ctx context.Context, still int64, w span) ([]int64, error) {
	rows, err := a.read.QueryContext(ctx, `SELECT layout, min(since) FROM (
			SELECT layout, last AS since FROM segment WHERE still = ?1 AND last > ?2 AND first <= ?3
			UNION ALL SELECT layout, at FROM fresh WHERE still = ?1 AND at > ?2 AND at <= ?3
		) GROUP BY layout ORDER BY 2`, still, w.after, w.upTo)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []int64
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id, new(sql.RawBytes)); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	if err := rows.Err(); err != nil || len(ids) > 0 {
		return ids, err
	}
	var now int64
	err = a.read.QueryRowContext(ctx, "SELECT layout FROM still WHERE id = ?", still).Scan(&now)
	return []int64{now}, err
}

// Imported counts what an Import has done so far.
type Imported struct {
	Scans   int       // stored
	Skipped int       // not later than what the archive already had
	Upto    time.Time // the last scan read
}

// Import stores those scans of a recording that are later than the still's last one, so the same
// recording imported twice is stored once. The still gets the recording's layout; a daemon sets its own
// again when it starts. progress, if not nil, is called after every 4096 scans and at the end. After an
// error, what was counted is stored, and the import can be started again.
func (a *Archive) Import(ctx context.Context, still string, r *RecordingReader, progress func(Imported)) (Imported, error) {
	var done Imported
	last, err := a.LastScan(ctx, still)
	if err != nil {
		return done, err
	}
	if err := a.SetLayout(ctx, still, r.Layout()); err != nil {
		return done, err
	}
	if progress == nil {
		progress = func(Imported) {}
	}
	var b Batch
	store := func() error {
		if _, err := a.Commit(ctx, b); err != nil {
			return err
		}
		done.Scans += len(b.Scans)
		b.Scans = b.Scans[:0]
		progress(done)
		return nil
	}
	for {
		var s analysis.Scan
		if err := r.Next(&s); err == io.EOF {
			return done, store()
		} else if err != nil {
			if serr := store(); serr != nil {
				return done, serr
			}
			return done, err
		}
		done.Upto = s.At
		if !s.At.After(last) {
			done.Skipped++
			continue
		}
		b.Scans = append(b.Scans, Scan{still, s})
		if len(b.Scans) == segmentScans {
			if err := store(); err != nil {
				return done, err
			}
		}
	}
}
