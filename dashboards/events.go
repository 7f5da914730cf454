package dashboards

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"luted/collector/archive"
)

// Paces of the event stream.
const (
	statePace  = time.Second      // a page gets the state at most this often
	beatPace   = 5 * time.Second  // and something at least this often, so that it can tell a dead line
	slowWrite  = 10 * time.Second // whoever takes longer to take a message is dropped
	retryAfter = 2 * time.Second  // when a page should come back
	maxStreams = 200              // open streams at once
	maxMissed  = 1000             // entries sent again to a page that comes back; beyond, it starts afresh
)

// events streams the live picture: `entry` for every new journal entry, numbered with its seq, and `state`
// for what has changed in the stills. A page that lost the line comes back with Last-Event-ID (or the
// parameter after) and gets the entries it missed; state comes whole, as only the present one matters.
//
// A page that reads too slowly is dropped rather than waited for. State is never queued: what is written is
// always the newest.
func (s *server) events(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	still := p.text("still")
	after := p.integer("after", -1, 0, 1<<62)
	if id := r.Header.Get("Last-Event-ID"); id != "" {
		n, err := strconv.ParseInt(id, 10, 64)
		if err != nil || n < 0 {
			p.wrong("Last-Event-ID", "%q is not the number of a journal entry", id)
		}
		after = max(after, n)
	}
	if err := p.done(); err != nil {
		return err
	}
	if still != "" {
		if _, err := s.findStill(still); err != nil {
			return err
		}
	}
	select {
	case s.streams <- struct{}{}:
		defer func() { <-s.streams }()
	default:
		w.Header().Set("Retry-After", "10")
		return problemf(http.StatusServiceUnavailable, "There are %d pages open already; try again later.", maxStreams)
	}
	st := &stream{server: s, w: w, control: http.NewResponseController(w), still: still, seq: after}
	return st.run(r)
}

// stream is one open page.
type stream struct {
	*server
	w       http.ResponseWriter
	control *http.ResponseController
	still   string
	seq     int64 // last entry sent; -1: begin with the next one
	version int64 // of the last state sent
}

// beatView says nothing but that the line is alive, and what time it is.
type beatView struct {
	Now time.Time `json:"now"`
}

var errStreamOver = errors.New("stream over")

// run ends when the page goes away or is too slow, and when the server shuts down.
func (st *stream) run(r *http.Request) error {
	updates, unsubscribe := st.Shop.Subscribe()
	defer func() { unsubscribe() }()
	last, err := st.Archive.LastSeq(r.Context())
	if err != nil {
		return err // nothing is sent yet, so this can still be a problem
	}
	if err := st.begin(r, last); err != nil {
		return st.end(err)
	}
	beat := time.NewTicker(beatPace)
	defer beat.Stop()
	pace := time.NewTimer(statePace)
	defer pace.Stop()
	ready, waiting, look := false, false, false
	for {
		var err error
		select {
		case <-r.Context().Done():
			return nil
		case <-st.Done:
			return nil
		case u, open := <-updates:
			if !open {
				updates = nil // until the next beat
				continue
			}
			if u.Seq > st.seq {
				err = st.sendEntries(r)
			}
			waiting, look = true, look || u.Seq == 0
		case <-pace.C:
			ready = true
		case <-beat.C:
			if updates == nil {
				unsubscribe()
				updates, unsubscribe = st.Shop.Subscribe()
			}
			err = st.send("beat", "", beatView{stamp(st.Now())})
			waiting, look = true, true
		}
		if err == nil && ready && waiting {
			if look {
				err = st.sendEntries(r)
			}
			if err == nil {
				err = st.sendState(r)
			}
			ready, waiting, look = false, false, false
			pace.Reset(statePace)
		}
		if err != nil {
			return st.end(err)
		}
	}
}

// begin sends the headers, the whole state and what was missed. last is the newest entry.
func (st *stream) begin(r *http.Request, last int64) error {
	h := st.w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // proxies that gather answers must not gather this one
	st.w.WriteHeader(http.StatusOK)
	if err := st.write(fmt.Sprintf("retry: %d\n\n", retryAfter.Milliseconds())); err != nil {
		return err
	}
	if st.seq < 0 || st.seq > last || last-st.seq > maxMissed {
		st.seq = last
	}
	if err := st.sendState(r); err != nil {
		return err
	}
	return st.sendEntries(r)
}

// end turns the end of a stream into nothing: headers are out, so no problem can be sent any more.
func (st *stream) end(err error) error {
	if !errors.Is(err, errStreamOver) {
		st.Log.Warn("event stream ended", "err", err)
	}
	return nil
}

// sendEntries sends what the journal has beyond the last entry sent.
func (st *stream) sendEntries(r *http.Request) error {
	for {
		entries, err := st.Archive.Entries(r.Context(), archive.EntryQuery{AfterSeq: st.seq, Limit: 200})
		if err != nil {
			return st.gone(r, err)
		}
		for _, e := range entries {
			if err := st.send("entry", strconv.FormatInt(e.Seq, 10), e); err != nil {
				return err
			}
			st.seq = e.Seq
		}
		if len(entries) < 200 {
			return nil
		}
	}
}

// sendState sends what has changed in the stills since the last time, if anything has.
func (st *stream) sendState(r *http.Request) error {
	p, version, err := st.since(r.Context(), st.version, st.still)
	if err != nil {
		return st.gone(r, err)
	}
	st.version = version
	switch {
	case p.Full: // numbered, so that a page knows where it was even if no entry comes before the line is cut
		return st.send("state", strconv.FormatInt(st.seq, 10), p)
	case len(p.Stills) > 0:
		return st.send("state", "", p)
	}
	return nil
}

// gone tells a page that has left, which is nothing worth a word, from a fault of ours.
func (st *stream) gone(r *http.Request, err error) error {
	if r.Context().Err() != nil {
		return errStreamOver
	}
	return err
}

// send writes one event. JSON has no line breaks, so one data line does.
func (st *stream) send(event, id string, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	if id != "" {
		id = "id: " + id + "\n"
	}
	return st.write(id + "event: " + event + "\ndata: " + string(data) + "\n\n")
}

func (st *stream) write(message string) error {
	// Servers without deadlines (tests) say so; a slow reader is then theirs to bear.
	if err := st.control.SetWriteDeadline(time.Now().Add(slowWrite)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return errStreamOver
	}
	if _, err := st.w.Write([]byte(message)); err != nil {
		return errStreamOver
	}
	if err := st.control.Flush(); err != nil {
		return errStreamOver
	}
	return nil
}
