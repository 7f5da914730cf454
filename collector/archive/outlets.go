package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"
)

// Cursor is how far an outlet has come: the number of the last entry, and for each still the time of
// the last scan, that it has delivered for good.
type Cursor struct {
	Seq   int64
	Scans map[string]time.Time
}

// Cursor returns where an outlet has come to; the zero Cursor for one never seen. Scans is never nil.
func (a *Archive) Cursor(ctx context.Context, outlet string) (Cursor, error) {
	c := Cursor{Scans: map[string]time.Time{}}
	var scans string
	err := a.read.QueryRowContext(ctx, "SELECT seq, scans FROM outlet WHERE name = ?", outlet).Scan(&c.Seq, &scans)
	if errors.Is(err, sql.ErrNoRows) {
		return c, nil
	}
	if err == nil {
		err = readCursorScans(scans, c.Scans)
	}
	return c, a.explain("read the cursor of "+outlet, err)
}

// In the file, a cursor's times are nanoseconds.
func readCursorScans(text string, into map[string]time.Time) error {
	var ns map[string]int64
	if err := json.Unmarshal([]byte(text), &ns); err != nil {
		return err
	}
	for still, n := range ns {
		into[still] = moment(n)
	}
	return nil
}

// SetCursor moves an outlet's cursor, durably. It may go back, to deliver again; past the last entry or
// a still's last scan it is refused (ErrRefused). A still that c does not name keeps its place, and so
// does a zero time.
func (a *Archive) SetCursor(ctx context.Context, outlet string, c Cursor) error {
	if outlet == "" {
		return refuse("a cursor of an outlet without a name")
	}
	return a.transact(ctx, "move the cursor of "+outlet, func(t *tx) error {
		if c.Seq < 0 || c.Seq > a.lastSeq {
			return refuse("cursor of %s at entry %d; the last entry is %d", outlet, c.Seq, a.lastSeq)
		}
		text := "{}"
		err := t.queryRow("SELECT scans FROM outlet WHERE name = ?", outlet).Scan(&text)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		places := map[string]int64{}
		if err := json.Unmarshal([]byte(text), &places); err != nil {
			return err
		}
		for still, at := range c.Scans {
			if at.IsZero() {
				continue
			}
			s := a.stills[still]
			if s == nil {
				return refuse("cursor of %s at a scan of %q: there is no such still", outlet, still)
			}
			ns, ok := nanos(at)
			if !ok || ns > s.last {
				return refuse("cursor of %s at %s for %s; its last scan is at %s", outlet, at.Format(timeFormat), still, moment(s.last).Format(timeFormat))
			}
			places[still] = ns
		}
		after, err := json.Marshal(places)
		if err != nil {
			return err
		}
		if err := t.step("outlet"); err != nil {
			return err
		}
		return t.exec(`INSERT INTO outlet (name, seq, scans) VALUES (?, ?, ?)
			ON CONFLICT (name) DO UPDATE SET seq = excluded.seq, scans = excluded.scans`, outlet, c.Seq, string(after))
	})
}

// Forget removes an outlet that is no longer used, with its cursor and what it set aside, so that
// retention no longer counts what it misses.
func (a *Archive) Forget(ctx context.Context, outlet string) error {
	return a.transact(ctx, "forget "+outlet, func(t *tx) error {
		if err := t.step("outlet"); err != nil {
			return err
		}
		if err := t.exec("DELETE FROM aside WHERE outlet = ?", outlet); err != nil {
			return err
		}
		return t.exec("DELETE FROM outlet WHERE name = ?", outlet)
	})
}

// Aside is something that a neighbour refused for good: a point, a message. It is kept with the reason,
// so that the outlet can go on without it.
type Aside struct {
	ID     int64     // given by SetAside, in order
	At     time.Time // when it was set aside
	Still  string    // whose it is; may be empty
	Scan   time.Time // the scan it came from; zero if it came from an entry
	Seq    int64     // the entry it came from; 0 if it came from a scan
	Item   string    // the thing itself, as it was sent
	Reason string    // what the neighbour said
}

// keepAside is how many things an outlet can have set aside; the oldest go, and only their count stays.
const keepAside = 10000

// SetAside keeps what a neighbour refused. The same thing set aside again (after a crash, say) is kept
// once and counted once.
func (a *Archive) SetAside(ctx context.Context, outlet string, item Aside) error {
	if outlet == "" {
		return refuse("something set aside by an outlet without a name")
	}
	at, ok := nanos(item.At)
	if !ok {
		return refuse("something set aside by %s at %s: the clock has not been set", outlet, item.At.Format(timeFormat))
	}
	scan, ok := nanos(item.Scan)
	if !ok && !item.Scan.IsZero() {
		return refuse("something set aside by %s for a scan at %s: there is none", outlet, item.Scan.Format(timeFormat))
	}
	return a.transact(ctx, "set aside for "+outlet, func(t *tx) error {
		if err := t.step("outlet"); err != nil {
			return err
		}
		var n int
		err := t.queryRow("SELECT count(*) FROM aside WHERE outlet = ? AND still = ? AND scan = ? AND seq = ? AND item = ?",
			outlet, item.Still, scan, item.Seq, item.Item).Scan(&n)
		if err != nil || n > 0 {
			return orNothing(err)
		}
		if err := t.exec("INSERT INTO aside (outlet, at, still, scan, seq, item, reason) VALUES (?, ?, ?, ?, ?, ?, ?)",
			outlet, at, item.Still, scan, item.Seq, item.Item, item.Reason); err != nil {
			return err
		}
		if err := t.exec("INSERT INTO outlet (name, aside) VALUES (?, 1) ON CONFLICT (name) DO UPDATE SET aside = aside + 1", outlet); err != nil {
			return err
		}
		return t.exec("DELETE FROM aside WHERE outlet = ? AND id <= (SELECT id FROM aside WHERE outlet = ? ORDER BY id DESC LIMIT 1 OFFSET ?)", outlet, outlet, a.keepAside)
	})
}

func orNothing(err error) error {
	if err == nil {
		return errNothing
	}
	return err
}

// SetAsides lists what an outlet has set aside, newest first, at most limit (zero: all that are kept).
func (a *Archive) SetAsides(ctx context.Context, outlet string, limit int) ([]Aside, error) {
	if limit <= 0 {
		limit = a.keepAside
	}
	rows, err := a.read.QueryContext(ctx, "SELECT id, at, still, scan, seq, item, reason FROM aside WHERE outlet = ? ORDER BY id DESC LIMIT ?", outlet, limit)
	if err != nil {
		return nil, a.explain("list what was set aside", err)
	}
	defer rows.Close()
	var out []Aside
	for rows.Next() {
		var x Aside
		var at, scan int64
		if err := rows.Scan(&x.ID, &at, &x.Still, &scan, &x.Seq, &x.Item, &x.Reason); err != nil {
			return nil, a.explain("list what was set aside", err)
		}
		x.At, x.Scan = moment(at), moment(scan)
		out = append(out, x)
	}
	return out, a.explain("list what was set aside", rows.Err())
}

// Changed returns a channel that is closed by the next Commit that stores something. To wait for news
// without missing any, take the channel first, then read, then wait.
func (a *Archive) Changed() <-chan struct{} {
	a.newsMu.Lock()
	defer a.newsMu.Unlock()
	return a.news
}

func (a *Archive) announce() {
	a.newsMu.Lock()
	defer a.newsMu.Unlock()
	close(a.news)
	a.news = make(chan struct{})
}
