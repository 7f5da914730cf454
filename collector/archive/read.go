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
func (a *Archive) ReadScans(ctx context.Context, still string, from, to time.Time, fn func(l Layout, s analysis.Scan) error) error {
	id, ok, err := a.stillID(ctx, still)
	if err != nil || !ok {
		return err
	}
	w := window(from, to)
	for {
		layout, scans, err := a.nextPiece(ctx, id, w)
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

func (a *Archive) stillID(ctx context.Context, still string) (id int64, ok bool, err error) {
	err = a.read.QueryRowContext(ctx, "SELECT id FROM still WHERE name = ?", still).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	return id, err == nil, a.explain("look up "+still, err)
}

// nextPiece returns the next scans of a window that share a layout, or none. It sees one state of the
// file, so that scans which are being sealed are found either fresh or sealed, never both or neither.
func (a *Archive) nextPiece(ctx context.Context, still int64, w span) (layout int64, scans []analysis.Scan, err error) {
	if w.after >= w.upTo {
		return 0, nil, nil
	}
	snap, err := a.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return 0, nil, err
	}
	defer snap.Rollback()
	var seg, first int64
	err = snap.QueryRowContext(ctx, "SELECT id, first FROM segment WHERE still = ? AND last > ? ORDER BY last LIMIT 1", still, w.after).Scan(&seg, &first)
	sealed := err == nil && first <= w.upTo
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, nil, err
	}
	until := w.upTo
	if sealed {
		until = min(until, first)
	}
	layout, scans, err = a.freshScans(ctx, snap, still, span{w.after, until}, freshChunk)
	if err != nil || len(scans) > 0 || !sealed {
		return layout, scans, err
	}
	var data []byte
	if err := snap.QueryRowContext(ctx, "SELECT layout, data FROM segment WHERE id = ?", seg).Scan(&layout, &data); err != nil {
		return 0, nil, err
	}
	all, err := decodeSegment(data)
	if err != nil {
		return 0, nil, fmt.Errorf("segment %d: %w", seg, err)
	}
	return layout, w.cut(all), nil
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
	rows, err := q.QueryContext(ctx, "SELECT at, layout, data FROM fresh WHERE still = ? AND at > ? AND at <= ? ORDER BY at LIMIT ?", still, w.after, w.upTo, limit)
	if err != nil {
		return 0, nil, err
	}
	defer rows.Close()
	cols := 0
	var pool []analysis.Value
	for rows.Next() {
		var at, l int64
		var data sql.RawBytes
		if err := rows.Scan(&at, &l, &data); err != nil {
			return 0, nil, err
		}
		if len(scans) == 0 {
			layout = l
			lay, err := a.layouts.get(ctx, q, l)
			if err != nil {
				return 0, nil, err
			}
			cols = len(lay.Columns)
		} else if l != layout {
			break
		}
		if len(pool) < cols {
			pool = make([]analysis.Value, cols*64)
		}
		values := pool[:cols:cols]
		pool = pool[cols:]
		if err := readRow(data, values); err != nil {
			return 0, nil, fmt.Errorf("scan at %s: %w", moment(at).Format(timeFormat), err)
		}
		scans = append(scans, analysis.Scan{At: moment(at), Values: values})
	}
	return layout, scans, rows.Err()
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
