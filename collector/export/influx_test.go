package export

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// server is a pretended database: it keeps the lines it takes.
type server struct {
	mu       sync.Mutex
	lines    []string
	requests int
	query    string
	auth     string
	// say answers a request; nil or a zero answer takes it.
	say func(lines []string) answer
}

type answer struct {
	status int
	body   string
	header map[string]string
	keep   func(line string) bool // of a partial write: the lines that were written all the same
}

func (s *server) RoundTrip(r *http.Request) (*http.Response, error) {
	body, err := readLines(r)
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.requests++
	s.query, s.auth = r.URL.String(), r.Header.Get("Authorization")
	var a answer
	if s.say != nil {
		a = s.say(body)
	}
	if a.status == 0 {
		a.status = http.StatusNoContent
	}
	for _, l := range body {
		if a.status == http.StatusNoContent || a.keep != nil && a.keep(l) {
			s.lines = append(s.lines, l)
		}
	}
	resp := &http.Response{StatusCode: a.status, Status: fmt.Sprint(a.status), Header: http.Header{}, Body: io.NopCloser(strings.NewReader(a.body)), Request: r}
	for k, v := range a.header {
		resp.Header.Set(k, v)
	}
	return resp, nil
}

func readLines(r *http.Request) ([]string, error) {
	var from io.Reader = r.Body
	if r.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			return nil, err
		}
		from = z
	}
	b, err := io.ReadAll(from)
	return strings.Split(strings.TrimSpace(string(b)), "\n"), err
}

// distinct counts different lines: a line written twice is one point.
func (s *server) distinct() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	seen := map[string]bool{}
	for _, l := range s.lines {
		seen[l] = true
	}
	return len(seen)
}

var oneChannel = archive.Layout{Columns: []archive.Column{{Name: "jacket_temperature", Dimension: analysis.Temperature, Unit: "°C"}}}

// shop is an archive of one still with n scans, a second apart.
func shop(t *testing.T, path string, n int) *archive.Archive {
	t.Helper()
	a, err := archive.Open(t.Context(), path, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.SetLayout(t.Context(), "north", oneChannel); err != nil {
		t.Fatal(err)
	}
	addScans(t, a, 0, n)
	return a
}

func addScans(t *testing.T, a *archive.Archive, from, to int) {
	t.Helper()
	var b archive.Batch
	for i := from; i < to; i++ {
		at := t0.Add(time.Duration(i) * time.Second)
		b.Scans = append(b.Scans, archive.Scan{Still: "north", Scan: analysis.Scan{At: at, Values: []analysis.Value{{V: float64(i)}}}})
	}
	if _, err := a.Commit(t.Context(), b); err != nil {
		t.Fatal(err)
	}
}

// start runs an outlet; stop ends it.
func start(t *testing.T, cfg config.Influx, a Source, o Options) (x *Influx, stop func()) {
	t.Helper()
	if cfg.URL == "" {
		cfg.URL = "http://influx.example:8086"
	}
	cfg.Bucket = "shop/weeks"
	x, err := NewInflux(cfg, a, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- x.Run(ctx) }()
	return x, func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	}
}

func inBubble(t *testing.T, scans int, test func(t *testing.T, a *archive.Archive)) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(t0.Add(time.Hour))) // the bubble's clock starts in 2000
		a := shop(t, path, scans)
		defer a.Close()
		test(t, a)
	})
}

func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

func asides(t *testing.T, a *archive.Archive) []archive.Aside {
	t.Helper()
	out, err := a.SetAsides(t.Context(), InfluxName, 0)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// isBad says whether a line's value is one of these.
func isBad(line string, values ...int) bool {
	for _, v := range values {
		if strings.Contains(line, fmt.Sprintf("jacket_temperature=%d ", v)) {
			return true
		}
	}
	return false
}

// Refused points are found by halving, whatever the server calls it, and all others arrive.
func TestInfluxRefusals(t *testing.T) {
	bad := []int{3, 500, 501, 999}
	holds := func(lines []string) (n int) {
		for _, l := range lines {
			if isBad(l, bad...) {
				n++
			}
		}
		return n
	}
	for _, tt := range []struct {
		name string
		say  func(lines []string) answer
		most int // requests
	}{
		{"a parser that refuses the whole batch", func(lines []string) answer {
			if holds(lines) > 0 {
				return answer{status: 400, body: `{"code":"invalid","message":"unable to parse"}`, header: map[string]string{"Content-Type": "application/json"}}
			}
			return answer{}
		}, 100},
		{"partial write, as InfluxDB 1 answers", func(lines []string) answer {
			if n := holds(lines); n > 0 {
				return answer{status: 400, body: fmt.Sprintf(`{"error":"partial write: field type conflict: input field \"jacket_temperature\" on measurement \"luted_scan\" is type float, already exists as type string dropped=%d"}`, n),
					header: map[string]string{"X-Influxdb-Error": fmt.Sprintf("partial write: field type conflict dropped=%d", n)}, keep: func(l string) bool { return !isBad(l, bad...) }}
			}
			return answer{}
		}, 100},
		{"partial write, as InfluxDB 2 answers", func(lines []string) answer {
			if n := holds(lines); n > 0 {
				return answer{status: 422, body: fmt.Sprintf(`{"code":"unprocessable entity","message":"failure writing points to database: partial write: field type conflict dropped=%d"}`, n),
					header: map[string]string{"Content-Type": "application/json"}, keep: func(l string) bool { return !isBad(l, bad...) }}
			}
			return answer{}
		}, 100},
		{"too large a body", func(lines []string) answer {
			if holds(lines) > 0 || len(lines) > 64 {
				return answer{status: 413, body: "Request Entity Too Large"}
			}
			return answer{}
		}, 140},
	} {
		t.Run(tt.name, func(t *testing.T) {
			inBubble(t, 1000, func(t *testing.T, a *archive.Archive) {
				s := &server{say: tt.say}
				_, stop := start(t, config.Influx{}, a, Options{Transport: s})
				pass(time.Minute)
				stop()
				if n := s.distinct(); n != 1000-len(bad) {
					t.Errorf("%d points arrived, want %d", n, 1000-len(bad))
				}
				set := asides(t, a)
				if len(set) != len(bad) {
					t.Fatalf("%d set aside, want %d", len(set), len(bad))
				}
				for i, x := range set { // newest first
					v := bad[len(bad)-1-i]
					if !isBad(x.Item, v) || x.Still != "north" || !x.Scan.Equal(t0.Add(time.Duration(v)*time.Second)) || x.Reason == "" {
						t.Errorf("set aside: %+v, want the point %d", x, v)
					}
				}
				if s.requests > tt.most {
					t.Errorf("%d requests to find 4 of 1000", s.requests)
				}
				c, err := a.Cursor(t.Context(), InfluxName)
				if err != nil || !c.Scans["north"].Equal(t0.Add(999*time.Second)) {
					t.Errorf("cursor %v, %v", c, err)
				}
			})
		})
	}
}

// A partial write that has dropped every point of a batch needs no search.
func TestInfluxAllDropped(t *testing.T) {
	inBubble(t, 300, func(t *testing.T, a *archive.Archive) {
		s := &server{say: func(lines []string) answer {
			return answer{status: 400, body: fmt.Sprintf("partial write: points beyond retention policy dropped=%d", len(lines))}
		}}
		counted := 0
		_, stop := start(t, config.Influx{Batch: 100}, a, Options{Transport: s, Health: func(_ string, _ time.Duration, _, setAside, _ int) { counted = setAside }})
		pass(time.Minute)
		stop()
		set := asides(t, a)
		if len(set) != 3 || counted != 300 || s.requests != 3 {
			t.Fatalf("%d things set aside, %d counted after %d requests, want 3, 300 and 3", len(set), counted, s.requests)
		}
		for _, want := range []string{"jacket_temperature=200 ", "jacket_temperature=299 ", "# 100 points of north"} {
			if !strings.Contains(set[0].Item, want) {
				t.Errorf("set aside %q, want %q in it", set[0].Item, want)
			}
		}
	})
}

// Answers about the door: nothing is set aside, however long it takes to mend, and nothing is lost.
func TestInfluxWrongDoor(t *testing.T) {
	for _, tt := range []struct {
		name string
		a    answer
	}{
		{"wrong token", answer{status: 401, body: `{"code":"unauthorized","message":"unauthorized access"}`, header: map[string]string{"Content-Type": "application/json"}}},
		{"no such bucket", answer{status: 404, body: `{"code":"not found","message":"bucket \"shop\" not found"}`, header: map[string]string{"Content-Type": "application/json"}}},
		{"forbidden", answer{status: 403, body: "no"}},
		{"busy", answer{status: 503, header: map[string]string{"Retry-After": "10"}}},
		{"too fast", answer{status: 429, header: map[string]string{"Retry-After": "10"}}},
		{"broken", answer{status: 500, body: "timeout"}},
		{"moved", answer{status: 301, header: map[string]string{"Location": "http://elsewhere.example/"}}},
		{"a login page in between", answer{status: 200, body: "<html>please log in</html>", header: map[string]string{"Content-Type": "text/html; charset=utf-8"}}},
		{"another server altogether", answer{status: 400, body: "unsupported path requested"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			inBubble(t, 50, func(t *testing.T, a *archive.Archive) {
				s := &server{say: func([]string) answer { return tt.a }}
				var log bytes.Buffer
				_, stop := start(t, config.Influx{}, a, Options{Transport: s, Log: slog.New(slog.NewTextHandler(&log, nil))})
				pass(24 * time.Hour)
				s.mu.Lock()
				s.say = nil
				s.mu.Unlock()
				pass(6 * time.Minute)
				stop()
				if n := s.distinct(); n != 50 || len(asides(t, a)) != 0 {
					t.Errorf("%d points arrived and %d were set aside, want 50 and 0", n, len(asides(t, a)))
				}
				if n := strings.Count(log.String(), "level=WARN"); n != 1 {
					t.Errorf("said %d times in a day, want once:\n%s", n, log.String())
				}
				if !strings.Contains(log.String(), "writing again") {
					t.Error("did not say that it works again")
				}
			})
		})
	}
}

// Once a server has taken something, a refusal of a whole small batch is believed.
func TestInfluxLoneBadPoint(t *testing.T) {
	inBubble(t, 5, func(t *testing.T, a *archive.Archive) {
		s := &server{say: func(lines []string) answer {
			if isBad(lines[0], 5) {
				return answer{status: 400, body: "unable to parse"}
			}
			return answer{}
		}}
		_, stop := start(t, config.Influx{}, a, Options{Transport: s})
		defer stop()
		pass(time.Minute)
		addScans(t, a, 5, 6)
		pass(time.Minute)
		addScans(t, a, 6, 7)
		pass(time.Minute)
		if n := s.distinct(); n != 6 || len(asides(t, a)) != 1 {
			t.Errorf("%d points arrived and %d were set aside, want 6 and 1", n, len(asides(t, a)))
		}
	})
}

// A fresh outlet whose first point is refused waits until the server has taken another.
func TestInfluxFirstPointBad(t *testing.T) {
	inBubble(t, 1, func(t *testing.T, a *archive.Archive) {
		s := &server{say: func(lines []string) answer {
			for _, l := range lines {
				if isBad(l, 0) {
					return answer{status: 400, body: "unable to parse"}
				}
			}
			return answer{}
		}}
		_, stop := start(t, config.Influx{}, a, Options{Transport: s})
		defer stop()
		pass(time.Hour)
		if n := len(asides(t, a)); n != 0 {
			t.Errorf("%d set aside by a server that never took anything", n)
		}
		addScans(t, a, 1, 3)
		pass(10 * time.Minute)
		if n := s.distinct(); n != 2 || len(asides(t, a)) != 1 {
			t.Errorf("%d points arrived and %d were set aside, want 2 and 1", n, len(asides(t, a)))
		}
	})
}

// The pace: at once when there is a backlog, else no more often than configured.
func TestInfluxPace(t *testing.T) {
	inBubble(t, 1000, func(t *testing.T, a *archive.Archive) {
		s := &server{}
		_, stop := start(t, config.Influx{Batch: 100, Every: 10 * time.Second, Org: "o", Token: config.NewSecret("user:password")}, a, Options{Transport: s})
		defer stop()
		pass(time.Millisecond)
		if n := s.distinct(); n != 900 { // the last batch is not known to be full, and waits for more
			t.Errorf("%d of the backlog written at once, want 900", n)
		}
		pass(10 * time.Second)
		if n := s.distinct(); n != 1000 {
			t.Errorf("%d of the backlog written after 10 s, want 1000", n)
		}
		if s.auth != "Token user:password" || !strings.HasSuffix(s.query, "/api/v2/write?bucket=shop%2Fweeks&org=o&precision=ms") {
			t.Errorf("asked %s with %q", s.query, s.auth)
		}
		before := s.requests
		for i := range 60 {
			addScans(t, a, 1000+i, 1001+i)
			pass(time.Second)
		}
		if n := s.requests - before; n < 5 || n > 7 {
			t.Errorf("%d writes in a minute at one in 10 s", n)
		}
	})
}

// Two stills with unequal backlogs come forward together.
func TestInfluxShares(t *testing.T) {
	inBubble(t, 1000, func(t *testing.T, a *archive.Archive) {
		if err := a.SetLayout(t.Context(), "south", oneChannel); err != nil {
			t.Fatal(err)
		}
		var b archive.Batch
		for i := range 10 {
			b.Scans = append(b.Scans, archive.Scan{Still: "south", Scan: analysis.Scan{At: t0.Add(time.Duration(i) * time.Second), Values: []analysis.Value{{V: 7}}}})
		}
		if _, err := a.Commit(t.Context(), b); err != nil {
			t.Fatal(err)
		}
		s := &server{}
		s.say = func(lines []string) answer {
			if s.requests == 1 {
				south := 0
				for _, l := range lines {
					if strings.Contains(l, "still=south") {
						south++
					}
				}
				if south != 5 || len(lines) != 10 {
					t.Errorf("the first batch holds %d of the small still among %d", south, len(lines))
				}
			}
			return answer{}
		}
		_, stop := start(t, config.Influx{Batch: 10}, a, Options{Transport: s})
		defer stop()
		pass(time.Minute)
		if n := s.distinct(); n != 1010 {
			t.Errorf("%d points, want 1010", n)
		}
	})
}

// Events go through the same outlet, and a damaged one is set aside.
func TestInfluxEvents(t *testing.T) {
	inBubble(t, 0, func(t *testing.T, a *archive.Archive) {
		e := func(body string) archive.Entry {
			return archive.Entry{At: t0, Still: "north", Run: 1, Kind: archive.EventEntry, Body: []byte(body)}
		}
		b := archive.Batch{Entries: []archive.Entry{
			e(`{"at":"2026-03-02T08:00:00Z","still":"north","run":1,"event":"phase","phase":"pump-down"}`),
			e(`{"at":"2026-03-02T08:01:00Z","still":"north","run":1,"event":"fault","fault":"vacuum-short","state":"raised","text":"x"}`),
			e(`{"at":7}`),
			{At: t0, Still: "north", Kind: archive.NoteEntry, Body: []byte(`{"by":"Ada","text":"new gasket"}`)},
			e(`{"at":"2026-03-02T12:01:00Z","still":"north","run":1,"event":"run","start":"2026-03-02T08:00:00Z","end":"2026-03-02T12:01:00Z","verdict":"good","phases":[],"faults":[]}`),
		}}
		if _, err := a.Commit(t.Context(), b); err != nil {
			t.Fatal(err)
		}
		s := &server{}
		_, stop := start(t, config.Influx{}, a, Options{Transport: s})
		pass(time.Minute)
		stop()
		if len(s.lines) != 2 || !strings.HasPrefix(s.lines[0], "luted_fault,") || !strings.HasPrefix(s.lines[1], "luted_run,") {
			t.Errorf("lines %q", s.lines)
		}
		if set := asides(t, a); len(set) != 1 || set[0].Seq != 3 {
			t.Errorf("set aside %+v", set)
		}
		if c, err := a.Cursor(t.Context(), InfluxName); err != nil || c.Seq != 5 {
			t.Errorf("cursor %+v, %v", c, err)
		}
	})
}

func TestInfluxConfiguration(t *testing.T) {
	at := config.Pos{File: "luted.yaml", Line: 9, Key: "export.influx"}
	for _, cfg := range []config.Influx{{URL: "influx:8086", Bucket: "b", At: at}, {URL: "http://influx:8086", At: at}, {URL: "", Bucket: "b", At: at}} {
		if _, err := NewInflux(cfg, nil, Options{}); err == nil || !strings.HasPrefix(err.Error(), "luted.yaml:9: export.influx: ") {
			t.Errorf("%+v: %v", cfg, err)
		}
	}
}

// An archive that will never work again ends the outlet with an error; any other trouble with it is
// waited out.
func TestInfluxArchiveTrouble(t *testing.T) {
	inBubble(t, 5, func(t *testing.T, a *archive.Archive) {
		for _, tt := range []struct {
			err  error
			ends bool
		}{{archive.ErrClosed, true}, {archive.ErrRefused, true}, {archive.ErrFull, false}, {io.ErrUnexpectedEOF, false}} {
			s := &server{}
			x, err := NewInflux(config.Influx{URL: "http://influx.example", Bucket: "b"}, &troubled{a, tt.err}, Options{Transport: s})
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
			err = x.Run(ctx)
			cancel()
			if tt.ends != errors.Is(err, tt.err) || !tt.ends && err != nil {
				t.Errorf("%v: Run returned %v", tt.err, err)
			}
			if s.distinct() != 5 {
				t.Errorf("%v: %d points, want 5 however often the cursor cannot be moved", tt.err, s.distinct())
			}
		}
	})
}

// troubled is an archive whose cursors cannot be moved.
type troubled struct {
	*archive.Archive
	err error
}

func (a *troubled) SetCursor(context.Context, string, archive.Cursor) error { return a.err }
