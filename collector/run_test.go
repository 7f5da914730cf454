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
	"luted/analysis/alarm"
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

var errDisk = errors.New("disk full")

func TestFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		hot := func(_ string, at time.Time) []analysis.Value {
			return values(20+100*float64(at.Minute()%2), false)
		}
		c := start(t, m, Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}, values: hot}}}, "north")
		stop := running(t, c)
		time.Sleep(10 * time.Second)
		m.order(func() error { return errDisk })
		time.Sleep(5 * time.Minute)
		if ok, why := c.Ready(); ok || len(why) != 1 {
			t.Errorf("ready %v %q while nothing can be stored", ok, why)
		}
		v := c.Stills()[0]
		if v.Stored || time.Since(v.Scan.At) > maxRetry+time.Second {
			t.Errorf("stored %v, scan %v old; want the present, marked as not stored", v.Stored, time.Since(v.Scan.At))
		}
		err := c.Do(t.Context(), alarm.Command{Key: alarm.Key{Still: "north", Fault: analysis.OverTemperature}, Action: alarm.Acknowledge, By: "Kim"})
		if !errors.Is(err, ErrNotStored) || !errors.Is(err, errDisk) {
			t.Errorf("an acknowledgement said %v, want ErrNotStored and the reason", err)
		}
		m.order(nil)
		time.Sleep(10 * time.Second)
		if ok, why := c.Ready(); !ok || len(why) > 0 {
			t.Errorf("ready %v %q after the disk came back", ok, why)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		scans := m.scans["north"]
		if len(scans) != 319 && len(scans) != 320 {
			t.Errorf("%d scans stored, want one a second of 320 s", len(scans))
		}
		for i := 1; i < len(scans); i++ {
			if gap := scans[i].At.Sub(scans[i-1].At); gap != time.Second {
				t.Errorf("gap of %v before %v", gap, scans[i].At)
			}
		}
		if n := m.kinds()[archive.EventEntry]; n != 5 {
			t.Errorf("%d events, want 5: hot and not, once a minute", n)
		}
	})
}

func (m *memory) kinds() map[archive.Kind]int {
	n := map[archive.Kind]int{}
	for _, e := range m.entries {
		n[e.Kind]++
	}
	return n
}

func TestFullDiskBound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		c := start(t, m, Options{KeepScans: 100, pollers: []poller{beats{every: time.Second, stills: []string{"north"}}}}, "north")
		m.order(func() error { return errDisk })
		stop := running(t, c)
		time.Sleep(1000*time.Second + time.Millisecond)
		begin := time.Now()
		m.order(nil)
		time.Sleep(10 * time.Second)
		if ok, why := c.Ready(); !ok || len(why) != 1 {
			t.Errorf("ready %v %q, want ready and told of the loss", ok, why)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		var oldest time.Duration
		if scans := m.scans["north"]; len(scans) > 0 {
			oldest = begin.Sub(scans[0].At)
		}
		// The newest 100 are kept at each failed try, and up to maxRetry of scans come after the last one.
		if oldest < 99*time.Second || oldest > 100*time.Second+maxRetry {
			t.Errorf("the oldest scan kept is %v old, want the newest 100 s", oldest)
		}
		if got := c.trouble.dropped + m.count("north"); got != 1010 {
			t.Errorf("%d dropped and %d stored, together not 1010", c.trouble.dropped, m.count("north"))
		}
	})
}

// TestErrorAfterStoring: a commit whose answer was lost must not be stored twice.
func TestErrorAfterStoring(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		n := 0
		m.after = func() error {
			if n++; n%3 == 0 {
				return errDisk
			}
			return nil
		}
		hot := func(_ string, at time.Time) []analysis.Value { return values(90+20*float64(at.Second()%2), false) }
		c := start(t, m, Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}, values: hot}}}, "north")
		stop := running(t, c)
		time.Sleep(60500 * time.Millisecond)
		if err := stop(); err != nil && !errors.Is(err, errDisk) {
			t.Fatal(err)
		}
		if got := m.count("north"); got != 60 {
			t.Errorf("%d scans, want 60", got)
		}
		seen := map[string]bool{}
		for _, e := range m.entries {
			key := string(e.Kind) + string(e.Body)
			if seen[key] {
				t.Errorf("journaled twice: %s", key)
			}
			seen[key] = true
		}
		if got := m.kinds()[archive.EventEntry]; got != 60 && got != 59 {
			t.Errorf("%d events, want one for each change of temperature", got)
		}
	})
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
