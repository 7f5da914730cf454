package dashboards

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

// event is one message of the stream, and when it was written.
type event struct {
	at             time.Time
	id, name, data string
}

// pageEnd is the other end of an event stream. It takes everything at once, unless it is stuck.
type pageEnd struct {
	mu       sync.Mutex
	header   http.Header
	code     int
	events   []event
	deadline time.Time
	stuck    bool // writes wait for the deadline, as on a line whose other end does not read
}

func (p *pageEnd) Header() http.Header {
	if p.header == nil {
		p.header = http.Header{}
	}
	return p.header
}
func (p *pageEnd) WriteHeader(code int) { p.code = code }
func (p *pageEnd) FlushError() error    { return nil }
func (p *pageEnd) SetWriteDeadline(t time.Time) error {
	p.deadline = t
	return nil
}

func (p *pageEnd) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stuck {
		time.Sleep(time.Until(p.deadline))
		return 0, os.ErrDeadlineExceeded
	}
	for _, block := range strings.Split(strings.TrimSuffix(string(b), "\n\n"), "\n\n") {
		e := event{at: time.Now()}
		for line := range strings.Lines(block + "\n") {
			key, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": ")
			switch key {
			case "id":
				e.id = value
			case "event":
				e.name = value
			case "data":
				e.data = value
			}
		}
		p.events = append(p.events, e)
	}
	return len(b), nil
}

func (p *pageEnd) named(name string) []event {
	p.mu.Lock()
	defer p.mu.Unlock()
	var out []event
	for _, e := range p.events {
		if e.name == name {
			out = append(out, e)
		}
	}
	return out
}

// openStream opens /events in a bubble and returns its far end and what closes it.
func openStream(t *testing.T, h http.Handler, target string, change func(*http.Request, *pageEnd)) (*pageEnd, func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	p := &pageEnd{}
	r := request("GET", target, nil).WithContext(ctx)
	if change != nil {
		change(r, p)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.ServeHTTP(p, r)
	}()
	synctest.Wait()
	return p, func() { cancel(); <-done }
}

// TestStreamStates: the first state is whole, later ones hold only what has changed, and however often the
// pipeline has news, a page gets at most one a second.
func TestStreamStates(t *testing.T) {
	v := newValidator(t)
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events", nil)
		if p.header.Get("Content-Type") != "text/event-stream" || p.header.Get("Cache-Control") != "no-store" {
			t.Errorf("headers %v", p.header)
		}
		for range 1050 { // ten and a half seconds of news, a hundred a second
			time.Sleep(10 * time.Millisecond)
			shop.set("north", func(v *StillView) { v.Scan.At = v.Scan.At.Add(10 * time.Millisecond) })
		}
		end()
		states := p.named("state")
		if n := len(states); n < 10 || n > 11 {
			t.Errorf("%d states in 10.5 s, want the first and one a second", n)
		}
		for i, e := range states {
			v.check(t, "/components/schemas/StateEvent", []byte(e.data))
			var pic picture
			if err := json.Unmarshal([]byte(e.data), &pic); err != nil {
				t.Fatal(err)
			}
			switch {
			case i == 0 && (!pic.Full || len(pic.Stills) != 5 || len(pic.Names) != 5 || pic.Names[0] != "north"):
				t.Errorf("first state: full %v, %d stills, names %v", pic.Full, len(pic.Stills), pic.Names)
			case i > 0 && (pic.Full || len(pic.Stills) != 1 || len(pic.Stills["north"]) != 1):
				t.Errorf("state %d: %s, want only the time of north's scan", i, e.data)
			case i > 0 && e.at.Sub(states[i-1].at) < time.Second:
				t.Errorf("state %d came %v after the one before", i, e.at.Sub(states[i-1].at))
			}
			if last, _ := arch.LastSeq(t.Context()); (i == 0) != (e.id == strconv.FormatInt(last, 10)) {
				t.Errorf("state %d has the id %q: the first one says where the journal stands, later ones nothing", i, e.id)
			}
		}
		if n := len(p.named("beat")); n != 2 {
			t.Errorf("%d beats in 10.5 s, want 2", n)
		}
	})
}

// TestStreamPatches: putting the changes together gives what a page that comes later gets whole.
func TestStreamPatches(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		h := newHandler(t, sceneOptions(shop, arch))
		p, end := openStream(t, h, "/events", nil)
		at := sceneNow
		for i := range 12 {
			time.Sleep(1500 * time.Millisecond)
			at = at.Add(1500 * time.Millisecond)
			shop.set("south", func(v *StillView) {
				v.Scan.At = at
				v.Status.Forecast = nil
				if i%3 == 0 {
					v.Status.Forecast = &analysis.Forecast{EndKPa: float64(i)}
				}
				if i == 7 {
					v.Status.RecoveredL = nil
				}
			})
			if i == 5 {
				shop.clear("south", analysis.VacuumNotPulled, at)
			}
		}
		time.Sleep(1500 * time.Millisecond)
		late, endLate := openStream(t, h, "/events", nil)
		end()
		endLate()
		got := map[string]map[string]any{}
		for _, e := range p.named("state") {
			merge(t, got, e.data)
		}
		want := map[string]map[string]any{}
		merge(t, want, late.named("state")[0].data)
		a, _ := json.Marshal(got)
		b, _ := json.Marshal(want)
		if string(a) != string(b) {
			t.Errorf("put together:\n%.3000s\nwhole:\n%.3000s", a, b)
		}
	})
}

// merge applies one state the way the page does.
func merge(t *testing.T, into map[string]map[string]any, data string) {
	t.Helper()
	var pic struct {
		Stills map[string]map[string]any `json:"stills"`
	}
	if err := json.Unmarshal([]byte(data), &pic); err != nil {
		t.Fatal(err)
	}
	for name, patch := range pic.Stills {
		if into[name] == nil {
			into[name] = map[string]any{}
		}
		for k, v := range patch {
			if v == nil && k != "at" {
				delete(into[name], k)
			} else {
				into[name][k] = v
			}
		}
	}
}

// TestStreamEntries: a new alarm is on the page at once, not at the next second.
func TestStreamEntries(t *testing.T) {
	v := newValidator(t)
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events", nil)
		if n := len(p.named("entry")); n != 0 {
			t.Errorf("a new page got %d old entries", n)
		}
		time.Sleep(300 * time.Millisecond)
		raised := time.Now()
		shop.raise("north", analysis.StandingFault{Fault: analysis.CondenserWarm, Since: sceneNow, Run: 41, Text: "Condenser too warm."})
		synctest.Wait()
		end()
		got := p.named("entry")
		if len(got) != 2 {
			t.Fatalf("%d entries, want the event and the transition", len(got))
		}
		last, _ := arch.LastSeq(t.Context())
		for i, e := range got {
			v.check(t, "/components/schemas/Entry", []byte(e.data))
			if e.id != strconv.FormatInt(last-1+int64(i), 10) {
				t.Errorf("entry %d has the id %s, want its number in the journal, %d", i, e.id, last-1+int64(i))
			}
			if !e.at.Equal(raised) {
				t.Errorf("entry %d came %v late", i, e.at.Sub(raised))
			}
		}
	})
}

// TestStreamResumes: a page that lost the line gets every entry it missed, once, in order, whichever way it
// says where it was.
func TestStreamResumes(t *testing.T) {
	for name, ask := range map[string]func(*http.Request, *pageEnd){
		"Last-Event-ID":     func(r *http.Request, _ *pageEnd) { r.Header.Set("Last-Event-ID", "10") },
		"after":             func(r *http.Request, _ *pageEnd) { r.URL.RawQuery = "after=10" },
		"the later of both": func(r *http.Request, _ *pageEnd) { r.URL.RawQuery = "after=3"; r.Header.Set("Last-Event-ID", "10") },
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				shop, arch := newScene()
				last, _ := arch.LastSeq(t.Context())
				p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events", ask)
				end()
				want := int64(11)
				for _, e := range p.named("entry") {
					if e.id != strconv.FormatInt(want, 10) {
						t.Fatalf("entry %s, want %d", e.id, want)
					}
					want++
				}
				if want != last+1 {
					t.Errorf("entries up to %d, want up to %d", want-1, last)
				}
			})
		})
	}
	t.Run("from too far back", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			shop, arch := newScene()
			for range maxMissed + 50 {
				arch.add("note", sceneNow, "north", 0, map[string]string{"by": "M", "text": "x"})
			}
			p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events?after=1", nil)
			end()
			if n := len(p.named("entry")); n != 0 || len(p.named("state")) != 1 {
				t.Errorf("%d entries: a page that missed more than %d starts afresh from the state", n, maxMissed)
			}
		})
	})
	t.Run("from the future", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			shop, arch := newScene() // the archive was replaced by a younger one
			p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events?after=999999", nil)
			shop.raise("north", analysis.StandingFault{Fault: analysis.CondenserWarm, Since: sceneNow, Run: 41, Text: "x"})
			synctest.Wait()
			end()
			if n := len(p.named("entry")); n != 2 {
				t.Errorf("%d entries, want the 2 new ones", n)
			}
		})
	})
}

// TestStreamSlow: a page that does not read is dropped after the time it is given, and its place is free.
func TestStreamSlow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newHandler(t, sceneOptions(newScene()))
		began := time.Now()
		p := &pageEnd{stuck: true}
		h.ServeHTTP(p, request("GET", "/events", nil))
		if took := time.Since(began); took != slowWrite {
			t.Errorf("dropped after %v, want %v", took, slowWrite)
		}
	})
}

// TestStreamEnds: streams end when the server shuts down, when the page goes, and when there are too many.
func TestStreamEnds(t *testing.T) {
	v := newValidator(t)
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		o := sceneOptions(shop, arch)
		done := make(chan struct{})
		o.Done = done
		h := newHandler(t, o)
		var ends []func()
		for range maxStreams {
			_, end := openStream(t, h, "/events", nil)
			ends = append(ends, end)
		}
		res := get(h, "/events")
		checkProblem(t, v, res.Header(), res.Body.Bytes(), http.StatusServiceUnavailable, "200 pages open")
		ends[0]()
		_, end := openStream(t, h, "/events", nil)
		close(done)
		synctest.Wait()
		end()
		for _, e := range ends[1:] {
			e()
		}
		if n := len(shop.subs); n != 0 {
			t.Errorf("%d subscriptions left open", n)
		}
	})
}

// TestStreamSubscribesAgain: a pipeline that closes the subscription of a reader it found too slow does
// not leave the page without news.
func TestStreamSubscribesAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events", nil)
		shop.mu.Lock()
		for c := range shop.subs {
			close(c)
			delete(shop.subs, c)
		}
		shop.mu.Unlock()
		time.Sleep(beatPace + time.Millisecond)
		synctest.Wait()
		if err := shop.Do(t.Context(), alarm.Command{Key: alarm.Key{Still: "south", Fault: analysis.VacuumNotPulled}, Action: alarm.Acknowledge, At: sceneNow, By: "M"}); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		end()
		if n := len(p.named("entry")); n != 1 {
			t.Errorf("%d entries after the subscription was renewed, want 1", n)
		}
	})
}

// TestStreamFault: an archive that fails mid-stream ends the stream; the page then comes back by itself.
func TestStreamFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		shop, arch := newScene()
		p, end := openStream(t, newHandler(t, sceneOptions(shop, arch)), "/events", nil)
		arch.mu.Lock()
		arch.err = errors.New("gone")
		arch.mu.Unlock()
		time.Sleep(2 * beatPace)
		synctest.Wait()
		n := len(p.events)
		time.Sleep(2 * beatPace)
		if len(p.events) != n {
			t.Error("the stream goes on without its archive")
		}
		end()
	})
}

// TestStreamOverTheWire opens a stream through a real server with its limits set: it outlives the write
// timeout of the server.
func TestStreamOverTheWire(t *testing.T) {
	t.Parallel()
	shop, arch := newScene()
	srv := httptest.NewUnstartedServer(newHandler(t, sceneOptions(shop, arch)))
	srv.Config.WriteTimeout = 50 * time.Millisecond
	srv.Start()
	defer srv.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", srv.URL+"/events?still=south", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	lines := bufio.NewScanner(res.Body)
	lines.Buffer(nil, 1<<20)
	wait := func(prefix string) string {
		t.Helper()
		for lines.Scan() {
			if strings.HasPrefix(lines.Text(), prefix) {
				return lines.Text()
			}
		}
		t.Fatalf("the stream ended before %q: %v", prefix, lines.Err())
		return ""
	}
	if s := wait("data: "); !strings.Contains(s, `"south"`) || strings.Contains(s, `"sentence":"Distilling`) {
		t.Errorf("state of one still only: %.200s", s)
	}
	<-time.After(4 * srv.Config.WriteTimeout) // a real socket knows no other clock
	shop.raise("south", analysis.StandingFault{Fault: analysis.CondenserWarm, Since: sceneNow, Run: 18, Text: "x"})
	wait("event: entry")
}
