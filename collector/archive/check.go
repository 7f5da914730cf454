package archive

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"luted/analysis/alarm"
)

// Check walks the whole file and names every broken rule, joined into one error; nil if there is none.
// It reads everything once and takes some seconds a gigabyte; commits go on meanwhile. The rules:
//
//   - SQLite finds the file whole.
//   - Scans of a still rise strictly, across segments and fresh ones; segments do not overlap; each
//     decodes, its checksum matches, and its row says truly what it holds.
//   - The minutes of a segment are those of its scans; hours count all scans that are there.
//   - Entries are numbered from 1 without gaps, and none was changed since (a chain of hashes).
//   - Every alarm's present state is what its last entry in the journal says.
//   - Rest points and cursors lie at scans and entries that have been.
func (a *Archive) Check(ctx context.Context) error {
	snap, err := a.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return a.explain("check", err)
	}
	defer snap.Rollback()
	c := &checker{ctx: ctx, a: a, q: snap, alarms: map[alarm.Key]alarm.State{}, ends: map[string]int64{}}
	for _, part := range []func() error{c.file, c.stills, c.journal, c.states, c.outlets} {
		if err := part(); err != nil {
			c.broken("reading stopped: %w", err)
			break
		}
	}
	if c.more > 0 {
		c.found = append(c.found, fmt.Errorf("and %d more", c.more))
	}
	if len(c.found) == 0 {
		return nil
	}
	return a.explain("check", errors.Join(c.found...))
}

// checker gathers what is broken; an error of one of its methods ends the check.
type checker struct {
	ctx    context.Context
	a      *Archive
	q      querier
	found  []error
	more   int
	seq    int64                     // of the last entry
	alarms map[alarm.Key]alarm.State // by the journal
	ends   map[string]int64          // newest scan ever of each still
}

// mostFound is how many broken rules are named; a file with more is simply broken.
const mostFound = 100

func (c *checker) broken(format string, args ...any) {
	if len(c.found) >= mostFound {
		c.more++
		return
	}
	c.found = append(c.found, fmt.Errorf(format, args...))
}

// each runs fn for every row of a query.
func (c *checker) each(fn func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := c.q.QueryContext(c.ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (c *checker) file() error {
	return c.each(func(rows *sql.Rows) error {
		var text string
		if err := rows.Scan(&text); err != nil {
			return err
		}
		if text != "ok" {
			c.broken("file: %s", text)
		}
		return nil
	}, "PRAGMA integrity_check")
}

func (c *checker) journal() error {
	var chain []byte
	return c.each(func(rows *sql.Rows) error {
		var seq, at int64
		var e Entry
		var body, sum []byte
		if err := rows.Scan(&seq, &at, &e.Still, &e.Run, &e.Kind, &body, &sum); err != nil {
			return err
		}
		if seq != c.seq+1 {
			c.broken("journal: entry %d follows entry %d", seq, c.seq)
		}
		c.seq = seq
		if !bytes.Equal(sum, link(chain, seq, at, e.Still, e.Run, e.Kind, body)) {
			c.broken("journal: entry %d (%s of %s at %s), or one before it, is not as it was committed", seq, e.Kind, e.Still, clock(at))
		}
		chain = sum
		if !json.Valid(body) {
			c.broken("journal: the body of entry %d is not JSON", seq)
		} else if e.Kind == AlarmEntry {
			var tr alarm.Transition
			if err := json.Unmarshal(body, &tr); err != nil {
				c.broken("journal: entry %d is not a transition of an alarm: %w", seq, err)
			} else {
				c.alarms[tr.Key] = tr.State
			}
		}
		return nil
	}, "SELECT seq, at, still, run, kind, body, chain FROM entry ORDER BY seq")
}

func (c *checker) states() error {
	err := c.each(func(rows *sql.Rows) error {
		var key alarm.Key
		var body sql.RawBytes
		if err := rows.Scan(&key.Still, &key.Fault, &key.Channel, &body); err != nil {
			return err
		}
		var al alarm.Alarm
		if err := json.Unmarshal(body, &al); err != nil {
			c.broken("alarm %s of %s: %w", key.Fault, key.Still, err)
			return nil
		}
		state, ok := c.alarms[key]
		switch {
		case al.Key != key:
			c.broken("alarm %s of %s is kept as %s of %s", al.Fault, al.Still, key.Fault, key.Still)
		case !ok:
			c.broken("alarm %s of %s is %s, but no entry says so", key.Fault, key.Still, al.State)
		case state != al.State:
			c.broken("alarm %s of %s is %s, but its last entry says %s", key.Fault, key.Still, al.State, state)
		}
		return nil
	}, "SELECT still, fault, channel, body FROM alarm")
	if err != nil {
		return err
	}
	return c.each(func(rows *sql.Rows) error {
		var name string
		var at int64
		var memory sql.RawBytes
		if err := rows.Scan(&name, &at, &memory); err != nil {
			return err
		}
		if at > c.ends[name] {
			c.broken("%s: its rest point %s is later than its last scan, %s", name, clock(at), clock(c.ends[name]))
		}
		if !json.Valid(memory) {
			c.broken("%s: the memory of its rest point is not JSON", name)
		}
		return nil
	}, "SELECT name, at, memory FROM rest JOIN still ON still.id = rest.still")
}

func (c *checker) outlets() error {
	return c.each(func(rows *sql.Rows) error {
		var name, text string
		var seq int64
		if err := rows.Scan(&name, &seq, &text); err != nil {
			return err
		}
		if seq < 0 || seq > c.seq {
			c.broken("outlet %s: its cursor is at entry %d, but the last entry is %d", name, seq, c.seq)
		}
		var places map[string]int64
		if err := json.Unmarshal([]byte(text), &places); err != nil {
			c.broken("outlet %s: its cursor cannot be read: %w", name, err)
			return nil
		}
		for _, still := range slices.Sorted(maps.Keys(places)) {
			if end, ok := c.ends[still]; !ok || places[still] > end {
				c.broken("outlet %s: its cursor is at %s for %s, whose last scan is %s", name, clock(places[still]), still, clock(end))
			}
		}
		return nil
	}, "SELECT name, seq, scans FROM outlet")
}
