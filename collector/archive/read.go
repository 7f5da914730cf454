package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"time"

	"luted/analysis"
)

// timeFormat is how times are written in recordings and messages: RFC 3339 in UTC, no more digits than
// there are.
const timeFormat = time.RFC3339Nano

// freshChunk is how many unsealed scans are read at a time.
const freshChunk = 1024

// ReadScans calls fn with the scans of a still later than from and not later than to, in time order. A
// zero from means from the first, a zero to means to the last. Each scan comes with its layout; its
// values are the caller's to keep. An error from fn ends the reading and is returned as it is.
//
// However long fn takes, nobody waits for it: the file is read a segment at a time, and scans committed
// meanwhile are seen if they lie in the window. An unknown still has no scans.
//
// Scans that cannot be read end the reading with an Unreadable.
func (a *Archive) ReadScans(ctx context.Context, still string, from, to time.Time, fn func(l Layout, s analysis.Scan) error) error {
	return a.readScans(ctx, still, from, to, nil, fn)
}

// readScans is ReadScans. It tells skip, unless that is nil, of what cannot be read, and goes on behind it.
func (a *Archive) readScans(ctx context.Context, still string, from, to time.Time, skip func(*Unreadable), fn func(l Layout, s analysis.Scan) error) error {
	id, ok, err := a.stillID(ctx, still)
	if err != nil || !ok {
		return err
	}
	w := window(from, to)
	for {
		layout, scans, err := a.nextPiece(ctx, id, w)
		if bad, ok := errors.AsType[*Unreadable](err); ok && skip != nil {
			skip(bad)
			w.after = bad.To.UnixNano()
			continue
		}
		if err != nil {
			return a.explain("read scans of "+still, err)
		}
		if len(scans) == 0 {
			return nil
		}
		l, err := a.layouts.get(ctx, a.read, layout)
		if err != nil {
			return a.explain("read scans of "+still, err)
		}
		for _, s := range scans {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := fn(l, s); err != nil {
				return err
			}
		}
		w.after = scans[len(scans)-1].At.UnixNano()
	}
}

// span is a half-open window of time in ns: later than after, not later than upTo.
type span struct{ after, upTo int64 }

func window(from, to time.Time) span {
	w := span{after: 0, upTo: math.MaxInt64}
	if n, ok := nanos(from); ok {
		w.after = n
	} else if from.After(latest) {
		w.after = math.MaxInt64
	}
	if to.IsZero() || to.After(latest) {
		return w
	}
	w.upTo, _ = nanos(to) // before 1970: 0, an empty window
	return w
}

// stillID looks up the number of a still, which never changes.
func (a *Archive) stillID(ctx context.Context, still string) (id int64, ok bool, err error) {
	if id, ok := a.ids.Load(still); ok {
		return id.(int64), true, nil
	}
	err = a.read.QueryRowContext(ctx, "SELECT id FROM still WHERE name = ?", still).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	if err == nil {
		a.ids.Store(still, id)
	}
	return id, err == nil, a.explain("look up "+still, err)
}

// pieceQuery finds what comes next in a window: the fresh scans up to the next segment, or if there are
// none the segment itself. One statement sees one state of the file, so scans that are being sealed are
// found either fresh or sealed, never both or neither.
const pieceQuery = `WITH next AS MATERIALIZED (SELECT id, first FROM segment WHERE still = ?1 AND last > ?2 ORDER BY last LIMIT 1)
	SELECT * FROM (SELECT at, layout, data FROM fresh WHERE still = ?1 AND at > ?2 AND at <= min(?3, coalesce((SELECT first FROM next), ?3)) ORDER BY at LIMIT ?4)
	UNION ALL
	SELECT NULL, layout, data FROM segment WHERE id = (SELECT id FROM next WHERE first <= ?3)
		AND NOT EXISTS (SELECT 1 FROM fresh WHERE still = ?1 AND at > ?2 AND at <= (SELECT first FROM next))`

// nextPiece returns the next scans of a window that share a layout, or none.
func (a *Archive) nextPiece(ctx context.Context, still int64, w span) (layout int64, scans []analysis.Scan, err error) {
	if w.after >= w.upTo {
		return 0, nil, nil
	}
	err = a.learnLayouts(ctx, a.read, func() error {
		layout, scans, err = a.tryPiece(ctx, still, w)
		return err
	})
	if bad, ok := errors.AsType[*Unreadable](err); ok {
		err = a.whichSegment(ctx, still, w, bad)
	}
	return layout, scans, err
}

func (a *Archive) tryPiece(ctx context.Context, still int64, w span) (layout int64, scans []analysis.Scan, err error) {
	stmt, err := a.prepared(ctx, pieceQuery)
	if err != nil {
		return 0, nil, err
	}
	rows, err := stmt.QueryContext(ctx, still, w.after, w.upTo, freshChunk)
	if err != nil {
		return 0, nil, err
	}
	defer rows.Close()
	f := freshReader{layouts: &a.layouts}
	for rows.Next() {
		var at sql.NullInt64
		var data sql.RawBytes
		if err := rows.Scan(&at, &layout, &data); err != nil {
			return 0, nil, err
		}
		if !at.Valid {
			all, err := decodeSegment(data)
			if err != nil {
				return 0, nil, &Unreadable{Err: err} // which one, nextPiece finds out
			}
			return layout, w.cut(all), rows.Err()
		}
		more, err := f.add(at.Int64, layout, data)
		if errors.Is(err, errRow) {
			if len(f.scans) > 0 {
				return f.layout, f.scans, nil // those before it are sound; it comes first in the next piece
			}
			return 0, nil, &Unreadable{From: moment(at.Int64), To: moment(at.Int64), Scans: 1, Err: err}
		}
		if err != nil || !more {
			return f.layout, f.scans, err
		}
	}
	return f.layout, f.scans, rows.Err()
}

// prepared returns a query that is parsed once for each connection: parsing takes longer than most of
// them run.
func (a *Archive) prepared(ctx context.Context, query string) (*sql.Stmt, error) {
	if s, ok := a.readStmts.Load(query); ok {
		return s.(*sql.Stmt), nil
	}
	s, err := a.read.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	if first, raced := a.readStmts.LoadOrStore(query, s); raced {
		s.Close()
		return first.(*sql.Stmt), nil
	}
	return s, nil
}

// cut returns the part of scans in time order that lies in the window.
func (w span) cut(scans []analysis.Scan) []analysis.Scan {
	i, j := 0, len(scans)
	for i < j && scans[i].At.UnixNano() <= w.after {
		i++
	}
	for j > i && scans[j-1].At.UnixNano() > w.upTo {
		j--
	}
	return scans[i:j]
}

// freshScans reads at most limit unsealed scans of one layout.
func (a *Archive) freshScans(ctx context.Context, q querier, still int64, w span, limit int) (layout int64, scans []analysis.Scan, err error) {
	err = a.learnLayouts(ctx, q, func() error {
		rows, err := q.QueryContext(ctx, "SELECT at, layout, data FROM fresh WHERE still = ? AND at > ? AND at <= ? ORDER BY at LIMIT ?", still, w.after, w.upTo, limit)
		if err != nil {
			return err
		}
		defer rows.Close()
		f := freshReader{layouts: &a.layouts}
		for more := true; more && rows.Next(); {
			var at, l int64
			var data sql.RawBytes
			if err := rows.Scan(&at, &l, &data); err != nil {
				return err
			}
			if more, err = f.add(at, l, data); err != nil {
				return err
			}
		}
		layout, scans = f.layout, f.scans
		return rows.Err()
	})
	return layout, scans, err
}

// unknownLayout says that a reader has met a layout that is not in the cache yet.
type unknownLayout int64

func (u unknownLayout) Error() string { return fmt.Sprintf("layout %d is not known yet", int64(u)) }

// learnLayouts runs fn, and as long as it meets an unknown layout, fetches that and runs fn again. To
// fetch it inside fn would take a second connection while fn holds one, and readers that all do so
// would wait for one another for ever.
func (a *Archive) learnLayouts(ctx context.Context, q querier, fn func() error) error {
	for {
		err := fn()
		unknown, ok := errors.AsType[unknownLayout](err)
		if !ok {
			return err
		}
		if _, err := a.layouts.get(ctx, q, int64(unknown)); err != nil {
			return err
		}
	}
}

// freshReader gathers unsealed scans as long as they share a layout.
type freshReader struct {
	layouts *layoutCache
	layout  int64
	cols    int
	pool    []analysis.Value
	scans   []analysis.Scan
}

func (f *freshReader) add(at, layout int64, data []byte) (more bool, err error) {
	if len(f.scans) == 0 {
		l, ok := f.layouts.known(layout)
		if !ok {
			return false, unknownLayout(layout)
		}
		f.layout, f.cols = layout, len(l.Columns)
	} else if layout != f.layout {
		return false, nil
	}
	if len(f.pool) < f.cols {
		f.pool = make([]analysis.Value, f.cols*min(64, 1+len(f.scans)))
	}
	values := f.pool[:f.cols:f.cols]
	f.pool = f.pool[f.cols:]
	if err := readRow(data, values); err != nil {
		return false, fmt.Errorf("the scan at %s: %w", moment(at).Format(timeFormat), err)
	}
	f.scans = append(f.scans, analysis.Scan{At: moment(at), Values: values})
	return true, nil
}

// LastScan is the time of a still's newest scan, also if retention has dropped it since; the zero time
// if there never was one.
func (a *Archive) LastScan(ctx context.Context, still string) (time.Time, error) {
	var last int64
	err := a.read.QueryRowContext(ctx, `SELECT max(last, coalesce((SELECT max(at) FROM fresh WHERE still = s.id), 0))
		FROM still s WHERE name = ?`, still).Scan(&last)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return time.Time{}, a.explain("last scan of "+still, err)
	}
	return moment(last), nil
}
