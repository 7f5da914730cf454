package collector

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// start makes a recovered pipeline over the store with the toy fold.
func start(t *testing.T, s store, o Options, names ...string) *Collector {
	t.Helper()
	if o.newFold == nil {
		o.newFold = newToy
	}
	c, err := newCollector(shop(names...), s, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Recover(t.Context()); err != nil {
		t.Fatal(err)
	}
	return c
}

// running runs the pipeline in the bubble and returns what stops it and waits.
func running(t *testing.T, c *Collector) (stop func() error) {
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- c.Run(ctx) }()
	return func() error { cancel(); return <-done }
}

// TestStoredWithinASecond is the promise: whatever the beat, a scan is durable at the latest one second
// after it was read, also if the disk takes its time.
func TestStoredWithinASecond(t *testing.T) {
	for _, tt := range []struct{ every, disk time.Duration }{
		{10 * time.Millisecond, 0},
		{100 * time.Millisecond, 300 * time.Millisecond},
		{time.Second, 400 * time.Millisecond},
		{7 * time.Second, 0},
	} {
		t.Run(fmt.Sprintf("every %v, disk %v", tt.every, tt.disk), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := newMemory()
				m.before = func() error { time.Sleep(tt.disk); return nil }
				read := map[time.Time]time.Time{}
				p := beats{every: tt.every, stills: []string{"north"}, read: func(_ string, at time.Time) {
					read[at.UTC().Truncate(stampResolution)] = at
				}}
				c := start(t, m, Options{pollers: []poller{p}}, "north")
				stop := running(t, c)
				time.Sleep(time.Minute)
				if err := stop(); err != nil {
					t.Fatal(err)
				}
				if len(read) < int(50*time.Second/tt.every) {
					t.Fatalf("only %d sweeps", len(read))
				}
				for stamp, at := range read {
					stored, ok := m.storedAt[stamp]
					if !ok {
						t.Fatalf("the scan of %v was never stored", stamp)
					}
					if took := stored.Sub(at); took > time.Second {
						t.Errorf("the scan of %v was stored %v after it was read", stamp, took)
					}
				}
				if perSecond := float64(len(m.committed)) / 60; perSecond > 2.1 {
					t.Errorf("%.1f commits a second: not grouped", perSecond)
				}
			})
		})
	}
}

func TestNothingIsShownBeforeItIsStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		c := start(t, m, Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}}}}, "north")
		m.before = func() error {
			if v := c.Stills()[0]; v.Scan.At.After(m.lastAt("north")) {
				t.Errorf("the page shows %v; stored is %v", v.Scan.At, m.lastAt("north"))
			}
			return nil
		}
		updates, end := c.Subscribe()
		defer end()
		seen := 0
		go func() {
			for u := range updates {
				for _, s := range u.Scans {
					seen++
					if s.At.After(m.lastAt(s.Still)) {
						t.Errorf("a subscriber got %v; stored is %v", s.At, m.lastAt(s.Still))
					}
				}
			}
		}()
		stop := running(t, c)
		time.Sleep(10500 * time.Millisecond)
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if seen != 10 {
			t.Errorf("the subscriber saw %d scans, want 10", seen)
		}
	})
}

func (m *memory) lastAt(still string) time.Time {
	at, _ := m.LastScan(context.Background(), still)
	return at
}

func TestSlowReaderIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := start(t, newMemory(), Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}}}}, "north")
		slow, _ := c.Subscribe()
		stop := running(t, c)
		time.Sleep((subscriberBuffer + 10) * time.Second)
		n, open := 0, true
		for open {
			select {
			case _, open = <-slow:
				n++
			default:
				t.Fatalf("the channel is still open after %d updates", n)
			}
		}
		if n != subscriberBuffer+1 {
			t.Errorf("%d updates in the channel, want its size %d", n-1, subscriberBuffer)
		}
		if got := len(c.subscribers); got != 0 {
			t.Errorf("%d subscribers left", got)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		late, end := c.Subscribe()
		if _, open := <-late; open {
			t.Error("an update after the end")
		}
		end()
		end()
	})
}

// carrier is an outlet that reads the journal to its end now and then.
type carrier struct {
	m       *memory
	every   time.Duration
	scans   int
	stopped time.Time
}

func (o *carrier) Name() string { return "carrier" }

func (o *carrier) Run(ctx context.Context) error {
	defer func() { o.stopped = time.Now() }()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(o.every):
		}
		o.m.mu.Lock()
		last := o.m.scans["north"]
		o.scans = len(last)
		if len(last) > 0 {
			o.m.cursors["carrier"] = archive.Cursor{Seq: int64(len(o.m.entries)), Scans: map[string]time.Time{"north": last[len(last)-1].At}}
		}
		o.m.mu.Unlock()
	}
}

// TestShutdownOrder: the pollers stop, what they read is stored, the outlets deliver it, all within the
// grace.
func TestShutdownOrder(t *testing.T) {
	for _, tt := range []struct {
		name         string
		every, grace time.Duration
		wantAll      bool
		wantTook     time.Duration
	}{
		{"delivers", 300 * time.Millisecond, 3 * time.Second, true, 600 * time.Millisecond},
		{"too slow", time.Hour, 3 * time.Second, false, 3 * time.Second},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := newMemory()
				out := &carrier{m: m, every: tt.every}
				o := Options{Grace: tt.grace, Outlets: []Outlet{out}, pollers: []poller{beats{every: 100 * time.Millisecond, stills: []string{"north"}}}}
				c := start(t, m, o, "north")
				stop := running(t, c)
				time.Sleep(10050 * time.Millisecond)
				begin := time.Now()
				if err := stop(); err != nil {
					t.Fatal(err)
				}
				if got := m.count("north"); got != 100 {
					t.Errorf("%d scans stored, want all 100", got)
				}
				if (out.scans == 100) != tt.wantAll {
					t.Errorf("the outlet carried %d of 100", out.scans)
				}
				if took := time.Since(begin); took > tt.wantTook {
					t.Errorf("took %v, want at most %v", took, tt.wantTook)
				}
				if !out.stopped.Equal(time.Now()) {
					t.Errorf("Run returned %v after its outlet", time.Since(out.stopped))
				}
				if c.Beat() != (time.Time{}) {
					t.Error("a beat after the end")
				}
			})
		})
	}
}

// failing is an outlet that ends at once.
type failing struct{ runs []time.Time }

func (f *failing) Name() string { return "mail" }

func (f *failing) Run(context.Context) error {
	f.runs = append(f.runs, time.Now())
	return errors.New("no such host")
}

func TestOutletIsStartedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := &failing{}
		o := Options{Outlets: []Outlet{out}, pollers: []poller{beats{every: time.Second, stills: []string{"north"}}}}
		m := newMemory()
		stop := running(t, start(t, m, o, "north"))
		time.Sleep(25 * time.Second)
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		if len(out.runs) != 3 || out.runs[1].Sub(out.runs[0]) != outletPause {
			t.Errorf("started at %v, want three times, %v apart", out.runs, outletPause)
		}
		if m.count("north") < 24 {
			t.Error("an outlet that fails must not disturb the pipeline")
		}
	})
}

func TestPollerThatEndsIsAnError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		gone := errors.New("cable eaten")
		o := Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}}, beats{err: gone}}}
		c := start(t, m, o, "north")
		if err := c.Run(t.Context()); !errors.Is(err, gone) {
			t.Errorf("Run said %v", err)
		}
	})
}

func TestBeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := start(t, newMemory(), Options{pollers: []poller{beats{every: time.Hour, stills: []string{"north"}}}}, "north")
		stop := running(t, c)
		for range 10 {
			time.Sleep(10*time.Second + 999*time.Millisecond)
			if age := time.Since(c.Beat()); age > tick {
				t.Errorf("last beat %v ago", age)
			}
		}
		_ = stop()
	})
}

func TestSweepThatDoesNotFitIsRefused(t *testing.T) {
	c := start(t, newMemory(), Options{}, "north")
	for name, s := range map[string]modbus.Sweep{
		"unknown still": {Still: "south", At: noon, Values: values(1, false)},
		"values":        {Still: "north", At: noon, Values: values(1, false)[:1]},
	} {
		if err := c.Ingest(t.Context(), s); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if err := c.Ingest(t.Context(), modbus.Sweep{Still: "north", At: noon, Values: values(1, false)}); err != nil {
		t.Fatal(err)
	}
	if err := c.Ingest(t.Context(), modbus.Sweep{Still: "north", At: noon, Values: values(1, false)}); err == nil {
		t.Error("the same time twice: taken")
	}
	err := c.Ingest(t.Context(), modbus.Sweep{Still: "north", At: noon.Add(time.Second), Values: values(math.NaN(), false)})
	if v := c.stills["north"].latest.Values[0]; err != nil || v.Quality != analysis.Implausible || v.V != 0 {
		t.Errorf("no number: %v, taken as %+v, want implausible", err, v)
	}
}
