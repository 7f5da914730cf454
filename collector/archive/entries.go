package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"luted/analysis/alarm"
)

// EntryQuery chooses entries of the journal; what is zero does not choose.
type EntryQuery struct {
	AfterSeq  int64     // only entries with a higher number
	BeforeSeq int64     // only entries with a lower number
	Still     string    // only this still's
	Kind      Kind      // only this kind
	Run       int       // only this run's; give Still with it: every still counts its own runs
	From, To  time.Time // only entries later than From and not later than To
	Limit     int       // at most so many; zero: all
	Newest    bool      // newest first; otherwise in the order in which they were committed
}

// Entries returns the entries that q chooses.
func (a *Archive) Entries(ctx context.Context, q EntryQuery) ([]Entry, error) {
	where, args := []string{"seq > ?"}, []any{q.AfterSeq}
	add := func(cond string, v any) { where, args = append(where, cond), append(args, v) }
	if q.BeforeSeq != 0 {
		add("seq < ?", q.BeforeSeq)
	}
	if q.Still != "" {
		add("still = ?", q.Still)
	}
	if q.Kind != "" {
		add("kind = ?", string(q.Kind))
	}
	if q.Run != 0 {
		add("run = ?", q.Run)
	}
	w := window(q.From, q.To)
	if !q.From.IsZero() {
		add("at > ?", w.after)
	}
	if !q.To.IsZero() {
		add("at <= ?", w.upTo)
	}
	query := "SELECT seq, at, still, run, kind, body FROM entry WHERE " + strings.Join(where, " AND ") + " ORDER BY seq"
	if q.Newest {
		query += " DESC"
	}
	if q.Limit > 0 {
		query += " LIMIT ?"
		args = append(args, q.Limit)
	}
	stmt, err := a.prepared(ctx, query)
	if err != nil {
		return nil, a.explain("read entries", err)
	}
	rows, err := stmt.QueryContext(ctx, args...)
	if err != nil {
		return nil, a.explain("read entries", err)
	}
	defer rows.Close()
	var out []Entry
	for rows.Next() {
		e, err := scanEntry(rows)
		if err != nil {
			return nil, a.explain("read entries", err)
		}
		out = append(out, e)
	}
	return out, a.explain("read entries", rows.Err())
}

func scanEntry(rows *sql.Rows) (Entry, error) {
	var e Entry
	var at int64
	var body []byte
	err := rows.Scan(&e.Seq, &at, &e.Still, &e.Run, &e.Kind, &body)
	e.At, e.Body = moment(at), json.RawMessage(body)
	return e, err
}

// LastSeq is the number of the last entry; 0 if there is none.
func (a *Archive) LastSeq(ctx context.Context) (seq int64, err error) {
	err = a.read.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM entry").Scan(&seq)
	return seq, a.explain("read the last entry's number", err)
}

// Alarms returns the present state of every alarm there ever was, by still, fault and channel.
func (a *Archive) Alarms(ctx context.Context) ([]alarm.Alarm, error) {
	rows, err := a.read.QueryContext(ctx, "SELECT body FROM alarm ORDER BY still, fault, channel")
	if err != nil {
		return nil, a.explain("read alarms", err)
	}
	defer rows.Close()
	var out []alarm.Alarm
	for rows.Next() {
		var body sql.RawBytes
		if err := rows.Scan(&body); err != nil {
			return nil, a.explain("read alarms", err)
		}
		var al alarm.Alarm
		if err := json.Unmarshal(body, &al); err != nil {
			return nil, a.explain("read alarms", fmt.Errorf("a state is damaged: %w", err))
		}
		out = append(out, al)
	}
	return out, a.explain("read alarms", rows.Err())
}

// Rest returns the still's last rest point, and whether there is one.
func (a *Archive) Rest(ctx context.Context, still string) (Rest, bool, error) {
	var at int64
	var r Rest
	err := a.read.QueryRowContext(ctx, "SELECT at, memory FROM rest JOIN still ON still.id = rest.still WHERE name = ?", still).Scan(&at, (*[]byte)(&r.Memory))
	if errors.Is(err, sql.ErrNoRows) {
		return Rest{}, false, nil
	}
	r.At = moment(at)
	return r, err == nil, a.explain("read the rest point of "+still, err)
}
