package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/config"
)

func open(t *testing.T, path string) *archive.Archive {
	t.Helper()
	a, err := archive.Open(t.Context(), path, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// run starts the one outlet of a configuration; the function it returns stops it.
func run(t *testing.T, cfg config.Notify, a *archive.Archive, o Options) (stop func()) {
	t.Helper()
	outs, err := New(cfg, a, o)
	if err != nil || len(outs) != 1 {
		t.Fatalf("%d outlets, %v", len(outs), err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- outs[0].Run(ctx) }()
	return func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	}
}

func commit(t *testing.T, a *archive.Archive, ts ...alarm.Transition) {
	t.Helper()
	var b archive.Batch
	for _, tr := range ts {
		b.Entries = append(b.Entries, entry(tr))
		b.Alarms = append(b.Alarms, tr.Alarm)
	}
	if _, err := a.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
}

// hooks is a pretended webhook receiver.
type hooks struct {
	mu   sync.Mutex
	got  []Payload
	when []time.Time
}

func (h *hooks) RoundTrip(r *http.Request) (*http.Response, error) {
	var p Payload
	if err := json.NewDecoder(r.Body).Decode(&p); err != nil {
		return nil, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.got = append(h.got, p)
	h.when = append(h.when, time.Now())
	return &http.Response{StatusCode: http.StatusNoContent, Header: http.Header{}, Body: io.NopCloser(strings.NewReader("")), Request: r}, nil
}

func (h *hooks) take() []Payload {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := h.got
	h.got, h.when = nil, nil
	return out
}

var toHook = config.Notify{Webhook: &config.Webhook{URL: "http://hooks.example/"}}

// shape is what a list of messages looks like: kind and number of transitions of each.
func shape(ps []Payload) string {
	var out []string
	for _, p := range ps {
		out = append(out, fmt.Sprintf("%s:%d", p.Kind, len(p.Transitions)))
	}
	return strings.Join(out, " ")
}

func withHook(t *testing.T, test func(t *testing.T, a *archive.Archive, h *hooks)) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		a, h := open(t, path), &hooks{}
		defer a.Close()
		test(t, a, h)
	})
}

func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// What comes within the group time is one message, half a minute after the first.
func TestGrouping(t *testing.T) {
	withHook(t, func(t *testing.T, a *archive.Archive, h *hooks) {
		defer run(t, toHook, a, Options{Transport: h})()
		start := time.Now()
		for range 3 {
			commit(t, a, raisedAt("north", time.Now().UTC()))
			pass(9 * time.Second)
		}
		pass(2 * time.Second)
		if len(h.take()) != 0 {
			t.Error("sent before the group time was over")
		}
		pass(time.Second)
		if len(h.when) != 1 || h.when[0].Sub(start) != 30*time.Second {
			t.Errorf("sent at %v, want 30 s after %s", h.when, start)
		}
		if got := shape(h.take()); got != "news:3" {
			t.Errorf("%s, want one message with three", got)
		}
	})
}

// A flood: the first summary within the group time, then one in ten minutes, nothing lost.
func TestFloodBecomesSummaries(t *testing.T) {
	withHook(t, func(t *testing.T, a *archive.Archive, h *hooks) {
		stop := run(t, toHook, a, Options{Transport: h})
		n := 0
		for i := range 180 { // 45 min, four a minute
			commit(t, a, raisedAt(fmt.Sprintf("s%03d", i), time.Now().UTC()))
			pass(15 * time.Second)
			if i == 100 { // a restart in the middle forgets nothing
				stop()
				stop = run(t, toHook, a, Options{Transport: h})
			}
		}
		defer func() { stop() }()
		pass(20 * time.Minute)
		got := h.take()
		floods := 0
		for _, p := range got {
			for _, it := range p.Transitions {
				if want := fmt.Sprintf("s%03d", n); it.Still != want {
					t.Fatalf("transition %d is of %s, want %s", n, it.Still, want)
				}
				n++
			}
			if p.Kind == Flood {
				floods++
			}
		}
		if n != 180 || floods < 4 || floods > 6 || len(got) > 20 {
			t.Errorf("%d transitions in %d messages (%s)", n, len(got), shape(got))
		}
		// Afterwards, an alarm is news again.
		commit(t, a, raisedAt("after", time.Now().UTC()))
		pass(time.Minute)
		if got := shape(h.take()); got != "news:1" {
			t.Errorf("after the flood: %s", got)
		}
	})
}

// Mail leaves out what another person just did on the page; the cursor passes it all the same.
func TestMailTellsWhatIsNews(t *testing.T) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		a := open(t, path)
		defer a.Close()
		p := newPipes()
		s := &mailServer{}
		s.serve(t, p, nil)
		cfg := config.Notify{Mail: &config.Mail{Server: "m.example:25", TLS: "none", From: "l@shop.example", To: []string{"a@shop.example"}}}
		defer run(t, cfg, a, Options{Dial: p.dial})()
		do := func(act alarm.Action, from, to alarm.State) {
			tr := raisedAt("north", time.Now().UTC())
			tr.Action, tr.From, tr.State, tr.By, tr.Reason = act, from, to, "Ada", "test"
			commit(t, a, tr)
			pass(time.Minute)
		}
		do(alarm.Raise, alarm.Normal, alarm.Unacknowledged)             // told
		do(alarm.Acknowledge, alarm.Unacknowledged, alarm.Acknowledged) // not
		do(alarm.Clear, alarm.Acknowledged, alarm.Normal)               // told
		do(alarm.RemoveService, alarm.Normal, alarm.OutOfService)       // told
		do(alarm.ReturnService, alarm.OutOfService, alarm.Normal)       // not
		do(alarm.Raise, alarm.Normal, alarm.Unacknowledged)             // told
		do(alarm.Shelve, alarm.Unacknowledged, alarm.Shelved)           // told
		do(alarm.ShelfExpired, alarm.Shelved, alarm.Unacknowledged)     // told: it is still there
		do(alarm.Clear, alarm.Unacknowledged, alarm.RTNUnacknowledged)  // told
		do(alarm.Acknowledge, alarm.RTNUnacknowledged, alarm.Normal)    // not
		if got := len(s.received()); got != 7 {
			for _, r := range s.received() {
				t.Log(r.message.Header.Get("Subject"))
			}
			t.Errorf("%d mails, want 7", got)
		}
		c, err := a.Cursor(t.Context(), MailName)
		if err != nil || c.Seq != 10 {
			t.Errorf("cursor at %d (%v), want 10: past what is no news too", c.Seq, err)
		}
	})
}

// An entry that cannot be read is set aside and holds up nothing.
func TestDamagedEntry(t *testing.T) {
	withHook(t, func(t *testing.T, a *archive.Archive, h *hooks) {
		bad := archive.Entry{At: time.Now().UTC(), Still: "north", Kind: archive.AlarmEntry, Body: json.RawMessage(`{"at":"yesterday"}`)}
		if _, err := a.Commit(t.Context(), archive.Batch{Entries: []archive.Entry{bad}}); err != nil {
			t.Fatal(err)
		}
		commit(t, a, raisedAt("north", time.Now().UTC()))
		defer run(t, toHook, a, Options{Transport: h})()
		pass(time.Minute)
		if got := shape(h.take()); got != "news:1" {
			t.Errorf("%s, want the good one", got)
		}
		aside, err := a.SetAsides(t.Context(), WebhookName, 0)
		if err != nil || len(aside) != 1 || aside[0].Seq != 1 {
			t.Errorf("set aside: %+v, %v", aside, err)
		}
	})
}

// What the outlet says about itself.
func TestHealth(t *testing.T) {
	withHook(t, func(t *testing.T, a *archive.Archive, h *hooks) {
		type figures struct {
			lag                        time.Duration
			backlog, setAside, retries int
		}
		var mu sync.Mutex
		var last figures
		var down atomic.Bool
		down.Store(true)
		rt := roundTrip(func(r *http.Request) (*http.Response, error) {
			if down.Load() {
				return nil, io.ErrUnexpectedEOF
			}
			return h.RoundTrip(r)
		})
		defer run(t, toHook, a, Options{Transport: rt, Health: func(name string, lag time.Duration, backlog, setAside, retries int) {
			mu.Lock()
			defer mu.Unlock()
			if name != WebhookName {
				t.Errorf("name %q", name)
			}
			last = figures{lag, backlog, setAside, retries}
		}})()
		commit(t, a, raisedAt("north", time.Now().UTC()))
		pass(10 * time.Minute)
		mu.Lock()
		if last.lag < 5*time.Minute || last.backlog != 1 || last.retries < 5 {
			t.Errorf("while down: %+v", last)
		}
		down.Store(false)
		mu.Unlock()
		pass(6 * time.Minute)
		mu.Lock()
		defer mu.Unlock()
		if last.lag != 0 || last.backlog != 0 || last.setAside != 0 {
			t.Errorf("afterwards: %+v", last)
		}
	})
}

type roundTrip func(*http.Request) (*http.Response, error)

func (f roundTrip) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

// A day's outage is told as a summary of the past and not as news, with what stands now.
func TestOutageIsToldAsHistory(t *testing.T) {
	withHook(t, func(t *testing.T, a *archive.Archive, h *hooks) {
		var mu sync.Mutex
		down := true
		rt := roundTrip(func(r *http.Request) (*http.Response, error) {
			mu.Lock()
			defer mu.Unlock()
			if down {
				return nil, io.ErrUnexpectedEOF
			}
			return h.RoundTrip(r)
		})
		defer run(t, toHook, a, Options{Transport: rt})()
		for i := range 24 {
			commit(t, a, raisedAt(fmt.Sprintf("s%03d", i), time.Now().UTC()))
			pass(time.Hour)
		}
		mu.Lock()
		down = false
		mu.Unlock()
		pass(10 * time.Minute)
		got := h.take()
		n := 0
		for _, p := range got {
			if p.Kind != History {
				t.Errorf("a message of kind %s about %s, sent %s", p.Kind, p.Transitions[0].At, p.Sent)
			}
			if len(p.Standing) != 24 {
				t.Errorf("%d alarms stand in the summary, want 24", len(p.Standing))
			}
			n += len(p.Transitions)
		}
		if n != 24 || len(got) > 3 {
			t.Errorf("%d transitions in %s", n, shape(got))
		}
	})
}
