package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"luted/analysis"
)

// piece is a segment ready to be stored.
type piece struct {
	still, layout int64
	first, last   int64
	scans         int
	data          []byte
	minutes       []byte
	hours         []bucket
}

// newPiece does the expensive part of sealing; it needs no lock.
func newPiece(still, layout int64, l Layout, scans []analysis.Scan) (piece, error) {
	p := piece{still: still, layout: layout, scans: len(scans)}
	units := l.hints()
	var err error
	if p.data, err = encodeSegment(units, scans); err != nil {
		return piece{}, err
	}
	p.first, p.last = scans[0].At.UnixNano(), scans[len(scans)-1].At.UnixNano()
	minutes := summarise(layout, len(l.Columns), scans, Minute)
	if p.minutes, err = encodeBuckets(units, minutes); err != nil {
		return piece{}, err
	}
	p.hours = coarser(minutes, Hour)
	return p, nil
}

// seal stores a piece with its summaries and removes the rows it was made from, if it was.
func (t *tx) seal(p piece) error {
	if err := t.step("seal"); err != nil {
		return err
	}
	if err := t.exec("DELETE FROM fresh WHERE still = ? AND at BETWEEN ? AND ?", p.still, p.first, p.last); err != nil {
		return err
	}
	if err := t.exec("INSERT INTO segment (still, first, last, scans, layout, data) VALUES (?, ?, ?, ?, ?, ?)",
		p.still, p.first, p.last, p.scans, p.layout, p.data); err != nil {
		return err
	}
	if err := t.exec("INSERT INTO minutes (segment, data) VALUES (last_insert_rowid(), ?)", p.minutes); err != nil {
		return err
	}
	for _, h := range p.hours {
		if err := t.step("hour"); err != nil {
			return err
		}
		if err := t.addHour(p.still, h); err != nil {
			return err
		}
	}
	return t.exec("UPDATE still SET last = max(last, ?) WHERE id = ?", p.last, p.still)
}

// addHour merges a bucket into what is known of its hour.
func (t *tx) addHour(still int64, h bucket) error {
	var data []byte
	err := t.queryRow("SELECT data FROM hour WHERE still = ? AND at = ? AND layout = ?", still, h.at, h.layout).Scan(&data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return err
	default:
		old, err := t.a.readHour(t.ctx, t.a.write, h.at, h.layout, data)
		if err != nil {
			return err
		}
		if len(old.cols) != len(h.cols) {
			return errSegment
		}
		old.merge(h)
		h = old
	}
	return t.exec("INSERT OR REPLACE INTO hour (still, at, layout, data) VALUES (?, ?, ?, ?)", still, h.at, h.layout, appendRow(nil, h.values()))
}

// sealSpan is the longest time that a segment covers, because retention drops whole segments. A still
// polled once a minute gets a segment a day, which compresses far better than one an hour.
const sealSpan = 24 * 60 * 60 * 1e9 // ns

// sealAll seals, still by still, what is ready. Scans not later than cutoff are always ready, so that
// they can go a segment at a time and leave their hours behind.
func (a *Archive) sealAll(ctx context.Context, cutoff int64) error {
	ids, err := a.stillIDs(ctx)
	if err != nil {
		return err
	}
	for _, id := range ids {
		for {
			p, err := a.readyPiece(ctx, id, cutoff)
			if err != nil {
				return err
			}
			if p.scans == 0 {
				break
			}
			if err := a.transact(ctx, "seal scans", func(t *tx) error { return t.seal(p) }); err != nil {
				return err
			}
		}
	}
	return nil
}

// readyPiece returns a still's oldest fresh scans if they should be sealed, else an empty piece.
func (a *Archive) readyPiece(ctx context.Context, still, cutoff int64) (piece, error) {
	var oldest, newest, bound sql.NullInt64
	err := a.read.QueryRowContext(ctx, `SELECT (SELECT min(at) FROM fresh WHERE still = ?1), (SELECT max(at) FROM fresh WHERE still = ?1),
		(SELECT first FROM segment WHERE still = ?1 AND last > (SELECT min(at) FROM fresh WHERE still = ?1) ORDER BY last LIMIT 1)`, still).
		Scan(&oldest, &newest, &bound)
	if err != nil || !oldest.Valid {
		return piece{}, err
	}
	w := span{after: oldest.Int64 - 1, upTo: min(newest.Int64, oldest.Int64+sealSpan-1)}
	// A segment stored directly may lie between fresh scans; none may reach across it.
	if bound.Valid {
		w.upTo = min(w.upTo, bound.Int64)
	}
	layout, scans, err := a.freshScans(ctx, a.read, still, w, a.o.segmentScans)
	if err != nil || len(scans) == 0 {
		return piece{}, err
	}
	full := len(scans) == a.o.segmentScans
	// Ended by a segment, by another layout, or because it is long enough.
	ended := bound.Valid || scans[len(scans)-1].At.UnixNano() < newest.Int64
	if !full && !ended && oldest.Int64 > cutoff {
		return piece{}, nil
	}
	l, err := a.layouts.get(ctx, a.read, layout)
	if err != nil {
		return piece{}, err
	}
	p, err := newPiece(still, layout, l, scans)
	if err != nil {
		return piece{}, fmt.Errorf("seal scans from %s: %w", scans[0].At.Format(timeFormat), err)
	}
	return p, nil
}

func (a *Archive) stillIDs(ctx context.Context) ([]int64, error) {
	rows, err := a.read.QueryContext(ctx, "SELECT id FROM still ORDER BY id")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []int64
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, rows.Err()
}
