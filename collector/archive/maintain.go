package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"luted/analysis"
)

// Maintain does what keeps the archive small and quick, in steps between which commits get in: it seals
// fresh scans into segments with their summaries, and drops what Options.Keep and Options.MaxSize no
// longer allow. Call it every minute or so; it returns soon when there is nothing to do.
//
// What goes are scans, a whole segment at a time, the oldest first, and the summaries by the minute
// with them. Entries, alarm states, notes and the summaries by the hour stay.
//
//   - By age, scans later than the still's rest point stay, because recovery needs them, unless they are
//     more than a week older than the newest scan. By size they go last, but they do go: a full disk
//     would stop everything.
//   - Age is counted back from now or from the newest scan, whichever is earlier, so that an archive
//     that is opened after years loses nothing by being opened.
//   - An outlet that has not yet read what goes does not hold it up: it may never come back. What it
//     lost is counted (Stats) and logged.
func (a *Archive) Maintain(ctx context.Context) error {
	if a.lock == nil {
		return a.explain("maintain", ErrReadOnly)
	}
	a.maintain.Lock()
	defer a.maintain.Unlock()
	newest, err := a.newest(ctx)
	if err != nil {
		return a.explain("maintain", err)
	}
	cutoff := int64(0)
	if now := a.o.Now().UnixNano(); a.o.Keep > 0 {
		cutoff = min(now, newest) - int64(a.o.Keep)
	}
	// One that fails does not keep the next from trying: on a full disk sealing may find no room, and
	// dropping may be what makes some.
	return errors.Join(
		a.explain("seal scans", a.sealAll(ctx, cutoff)),
		a.explain("drop old scans", a.dropOld(ctx, cutoff, newest)),
		a.explain("drop the oldest scans", a.dropLarge(ctx, newest)),
		a.explain("give back room", a.shrink(ctx)),
	)
}

// newest is the time of the newest scan of all stills, ns; 0 if there is none.
func (a *Archive) newest(ctx context.Context) (ns int64, err error) {
	err = a.read.QueryRowContext(ctx, `SELECT coalesce(max(max(last, coalesce((SELECT max(at) FROM fresh WHERE still = s.id), 0))), 0)
		FROM still s`).Scan(&ns)
	return ns, err
}

// protect is how long, at most, scans later than a still's rest point are kept beyond their age.
const protect = 7 * 24 * time.Hour

// goner is a segment that may be dropped.
type goner struct {
	id, still   int64
	name        string
	first, last int64
	scans       int
}

// dropStep is how many segments go in one transaction.
const dropStep = 16

const gonerQuery = `SELECT s.id, s.still, still.name, s.first, s.last, s.scans FROM segment s JOIN still ON still.id = s.still
	LEFT JOIN rest ON rest.still = s.still
	WHERE s.last < ?1 AND (s.last <= coalesce(rest.at, 0) OR s.last < ?2) ORDER BY s.last LIMIT ?3`

func (a *Archive) goners(ctx context.Context, before, unprotected int64, limit int) ([]goner, error) {
	rows, err := a.read.QueryContext(ctx, gonerQuery, before, unprotected, limit)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var gs []goner
	for rows.Next() {
		var g goner
		if err := rows.Scan(&g.id, &g.still, &g.name, &g.first, &g.last, &g.scans); err != nil {
			return nil, err
		}
		gs = append(gs, g)
	}
	return gs, rows.Err()
}

func (a *Archive) dropOld(ctx context.Context, cutoff, newest int64) error {
	for cutoff > 0 {
		gs, err := a.goners(ctx, cutoff, newest-int64(protect), dropStep)
		if err != nil || len(gs) == 0 {
			return err
		}
		if err := a.drop(ctx, gs, "age"); err != nil {
			return err
		}
	}
	return nil
}

func (a *Archive) dropLarge(ctx context.Context, newest int64) error {
	if a.o.MaxSize <= 0 {
		return nil
	}
	limit := a.o.MaxSize
	for {
		_, used, err := size(ctx, a.read)
		if err != nil {
			return err
		}
		if used <= limit {
			a.tooLarge = false
			return nil
		}
		// Once over, go well under, or the next segment would start it all again.
		limit = a.o.MaxSize - a.o.MaxSize/20
		gs, err := a.goners(ctx, newest+1, newest-int64(protect), dropStep)
		if err == nil && len(gs) == 0 {
			// Nothing else is left: now those that recovery would have liked to have.
			gs, err = a.goners(ctx, newest+1, newest+1, dropStep)
		}
		if err != nil {
			return err
		}
		if len(gs) == 0 {
			if !a.tooLarge { // said once, not every minute
				a.log.Warn("archive larger than archive.max_size although all sealed scans have gone", "bytes", used, "max_size", a.o.MaxSize)
			}
			a.tooLarge = true
			return nil
		}
		// Not more than needed: a segment's own size is the least that its going gives back.
		n, over := 0, used-limit
		for n < len(gs) && over > 0 {
			var bytes int64
			if err := a.read.QueryRowContext(ctx, "SELECT length(data) FROM segment WHERE id = ?", gs[n].id).Scan(&bytes); err != nil {
				return err
			}
			over -= bytes
			n++
		}
		if err := a.drop(ctx, gs[:n], "size"); err != nil {
			return err
		}
	}
}

// drop removes segments and counts what each outlet had not read of them.
func (a *Archive) drop(ctx context.Context, gs []goner, why string) error {
	lost := map[string]int{}
	err := a.transact(ctx, "drop scans", func(t *tx) error {
		outlets, err := t.readingOutlets()
		if err != nil {
			return err
		}
		for _, g := range gs {
			if err := t.step("drop"); err != nil {
				return err
			}
			for name, places := range outlets {
				n, err := t.unread(g, places[g.name])
				if err != nil {
					return err
				}
				if n > 0 {
					lost[name] += n
				}
			}
			if err := t.exec("DELETE FROM segment WHERE id = ?", g.id); err != nil {
				return err
			}
			if err := t.exec("UPDATE still SET dropped = max(dropped, ?) WHERE id = ?", g.last, g.still); err != nil {
				return err
			}
		}
		for name, n := range lost {
			if err := t.exec("UPDATE outlet SET lost = lost + ? WHERE name = ?", n, name); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	a.log.Info("dropped old scans", "why", why, "segments", len(gs), "up_to", moment(gs[len(gs)-1].last))
	for name, n := range lost {
		a.log.Warn("an outlet was too far behind: scans it had not read have gone", "outlet", name, "scans", n, "why", why)
	}
	return nil
}

// readingOutlets are the outlets that read scans, with their places. One that has never moved a scan
// cursor reads only entries.
func (t *tx) readingOutlets() (map[string]map[string]int64, error) {
	rows, err := t.a.write.QueryContext(t.ctx, "SELECT name, scans FROM outlet")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]map[string]int64{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		var places map[string]int64
		if err := json.Unmarshal([]byte(text), &places); err != nil {
			return nil, err
		}
		if len(places) > 0 {
			out[name] = places
		}
	}
	return out, rows.Err()
}

// unread is how many scans of a segment lie beyond a place.
func (t *tx) unread(g goner, place int64) (int, error) {
	if place >= g.last {
		return 0, nil
	}
	if place < g.first {
		return g.scans, nil
	}
	var data sql.RawBytes
	rows, err := t.a.write.QueryContext(t.ctx, "SELECT data FROM segment WHERE id = ?", g.id)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	var scans []analysis.Scan
	for rows.Next() {
		if err := rows.Scan(&data); err != nil {
			return 0, err
		}
		if scans, err = decodeSegment(data); err != nil {
			return 0, err
		}
	}
	return len(span{place, g.last}.cut(scans)), rows.Err()
}
