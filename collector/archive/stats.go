package archive

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"slices"
	"time"
)

// Stats is what an archive holds, and how far its outlets are behind.
type Stats struct {
	Path        string
	FileBytes   int64 // the file itself
	WALBytes    int64 // the write-ahead file beside it
	UsedBytes   int64 // of the file; the rest is free for new scans
	SealedBytes int64 // compressed scans, without summaries
	Scans       int64 // sealed and fresh
	Fresh       int64 // not yet sealed
	Segments    int64
	Entries     int64  // also the number of the last one
	Chain       string // hash over the whole journal, hexadecimal: written down elsewhere, it proves that nothing was changed
	Stills      []StillStats
	Outlets     []OutletStats
}

// StillStats is one still's share.
type StillStats struct {
	Name        string
	First, Last time.Time // of the scans that are there; zero if none is
	Scans       int64
}

// OutletStats is how one outlet does.
type OutletStats struct {
	Name   string
	Seq    int64         // the last entry it has delivered
	Behind int64         // entries after that
	Lag    time.Duration // from its place to the newest scan, of the still for which that is longest; 0 if it reads no scans
	Lost   int64         // scans that retention dropped before it had read them
	Aside  int64         // things set aside, ever
}

// Stats counts. It reads no scans.
func (a *Archive) Stats(ctx context.Context) (Stats, error) {
	s := Stats{Path: a.path}
	snap, err := a.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return s, a.explain("count", err)
	}
	defer snap.Rollback()
	var chain []byte
	err = snap.QueryRowContext(ctx, "SELECT seq, chain FROM entry ORDER BY seq DESC LIMIT 1").Scan(&s.Entries, &chain)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	s.Chain = hex.EncodeToString(chain)
	if err == nil {
		err = s.countStills(ctx, snap)
	}
	if err == nil {
		err = s.countOutlets(ctx, snap)
	}
	if err == nil {
		_, s.UsedBytes, err = size(ctx, snap)
	}
	if err != nil {
		return s, a.explain("count", err)
	}
	s.FileBytes, s.WALBytes = fileSize(a.path), fileSize(a.path+"-wal")
	return s, nil
}

// fileSize is 0 for a file that is not there: the write-ahead file often is not.
func fileSize(path string) int64 {
	st, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return st.Size()
}

func (s *Stats) countStills(ctx context.Context, q querier) error {
	rows, err := q.QueryContext(ctx, `SELECT name,
		(SELECT count(*) FROM fresh WHERE still = s.id), (SELECT min(at) FROM fresh WHERE still = s.id), (SELECT max(at) FROM fresh WHERE still = s.id),
		count(g.id), coalesce(sum(g.scans), 0), coalesce(sum(length(g.data)), 0), min(g.first), max(g.last)
		FROM still s LEFT JOIN segment g ON g.still = s.id GROUP BY s.id ORDER BY name`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var st StillStats
		var fresh, segments, sealed, bytes int64
		var times [4]sql.NullInt64
		if err := rows.Scan(&st.Name, &fresh, &times[0], &times[1], &segments, &sealed, &bytes, &times[2], &times[3]); err != nil {
			return err
		}
		for _, t := range times {
			if !t.Valid {
				continue
			}
			if at := moment(t.Int64); st.First.IsZero() || at.Before(st.First) {
				st.First = at
			}
			if at := moment(t.Int64); at.After(st.Last) {
				st.Last = at
			}
		}
		st.Scans = fresh + sealed
		s.Stills = append(s.Stills, st)
		s.Fresh, s.Segments, s.Scans, s.SealedBytes = s.Fresh+fresh, s.Segments+segments, s.Scans+st.Scans, s.SealedBytes+bytes
	}
	return rows.Err()
}

func (s *Stats) countOutlets(ctx context.Context, q querier) error {
	rows, err := q.QueryContext(ctx, "SELECT name, seq, scans, lost, aside FROM outlet ORDER BY name")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var o OutletStats
		var text string
		if err := rows.Scan(&o.Name, &o.Seq, &text, &o.Lost, &o.Aside); err != nil {
			return err
		}
		var places map[string]int64
		if err := json.Unmarshal([]byte(text), &places); err != nil {
			return err
		}
		o.Behind = s.Entries - o.Seq
		if len(places) > 0 {
			o.Lag = s.lag(places)
		}
		s.Outlets = append(s.Outlets, o)
	}
	return rows.Err()
}

func (s *Stats) lag(places map[string]int64) time.Duration {
	lag := func(st StillStats) time.Duration {
		place := moment(places[st.Name])
		if place.Before(st.First) {
			place = st.First
		}
		return max(0, st.Last.Sub(place))
	}
	if len(s.Stills) == 0 {
		return 0
	}
	return lag(slices.MaxFunc(s.Stills, func(x, y StillStats) int { return cmp.Compare(lag(x), lag(y)) }))
}
