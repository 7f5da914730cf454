package dashboards

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// Archive is what the page reads of the archive; *archive.Archive has it all. Everything may be called
// from several goroutines at once.
type Archive interface {
	ReadScans(ctx context.Context, still string, from, to time.Time, fn func(archive.Layout, analysis.Scan) error) error
	Entries(ctx context.Context, q archive.EntryQuery) ([]archive.Entry, error)
	LastSeq(ctx context.Context) (int64, error)
	Minutes(ctx context.Context, still string, from, to time.Time, level archive.Level) ([]archive.Summary, error)
	Head(ctx context.Context) (archive.Head, error)
	Export(ctx context.Context, still string, from, to time.Time, w io.Writer) (scans int, err error)
}

// runView is one finished run: its summary, and where it stands in the journal.
type runView struct {
	Still string `json:"still"`
	Run   int    `json:"run"`
	Seq   int64  `json:"seq"`
	analysis.Summary
}

// lastFinished finds a still's latest finished run in the journal, newest first; nil: there is none. A run
// leaves some ten events besides its summary, so the journal is read in pieces until it is found.
func (s *server) lastFinished(ctx context.Context, still string) (found *runView, err error) {
	eq := archive.EntryQuery{Still: still, Kind: archive.EventEntry, Limit: 20, Newest: true}
	err = s.backwards(ctx, eq, func(e archive.Entry) (bool, error) {
		ev, err := eventOf(e)
		if err != nil || ev.Kind != analysis.RunEvent || ev.Summary == nil {
			return true, err
		}
		found = &runView{ev.Still, ev.Run, e.Seq, *ev.Summary}
		return false, nil
	})
	return found, err
}

// eventOf reads the event that an entry carries.
func eventOf(e archive.Entry) (ev analysis.Event, err error) {
	if err := json.Unmarshal(e.Body, &ev); err != nil {
		return ev, fmt.Errorf("journal entry %d: %w", e.Seq, err)
	}
	return ev, nil
}

// backwards gives the entries of a query to fn, newest first, q.Limit at a time, until fn has had enough.
func (s *server) backwards(ctx context.Context, q archive.EntryQuery, fn func(archive.Entry) (more bool, err error)) error {
	for {
		entries, err := s.Archive.Entries(ctx, q)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if more, err := fn(e); err != nil || !more {
				return err
			}
		}
		if len(entries) < q.Limit {
			return nil
		}
		q.BeforeSeq = entries[len(entries)-1].Seq
	}
}

type journalView struct {
	Now     time.Time       `json:"now"`
	LastSeq int64           `json:"last_seq"` // of the whole journal
	Entries []archive.Entry `json:"entries"`
}

// journal answers with entries as they were committed: oldest first from a number on, or newest first.
func (s *server) journal(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	q := archive.EntryQuery{
		AfterSeq:  p.integer("after", 0, 0, 1<<62),
		BeforeSeq: p.integer("before", 0, 1, 1<<62),
		Limit:     int(p.integer("limit", 100, 1, 1000)),
		Still:     p.text("still"),
		Kind: archive.Kind(p.oneOf("kind", "", string(archive.EventEntry), string(archive.AlarmEntry), string(archive.NoteEntry), string(archive.ActEntry),
			string(archive.CheckListEntry), string(archive.CheckEntry), string(archive.AmendEntry))),
		From:   p.moment("from", time.Time{}),
		To:     p.moment("to", time.Time{}),
		Newest: p.oneOf("order", "oldest", "newest") == "newest",
	}
	if err := p.done(); err != nil {
		return err
	}
	if q.Still != "" {
		if _, err := s.findStill(q.Still); err != nil {
			return err
		}
	}
	last, err := s.Archive.LastSeq(r.Context())
	if err != nil {
		return err
	}
	entries, err := s.Archive.Entries(r.Context(), q)
	if err != nil {
		return err
	}
	if entries == nil {
		entries = []archive.Entry{}
	}
	return s.writeJSON(w, r, journalView{stamp(s.Now()), last, entries})
}
