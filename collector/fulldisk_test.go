package collector

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

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
