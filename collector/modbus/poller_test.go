package modbus

import (
	"bytes"
	"context"
	"encoding/json"
	"log/slog"
	"net"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/config"
)

var discard = slog.New(slog.DiscardHandler)

// slow is a Reader that takes its time for some devices.
type slow map[byte]time.Duration

func (s slow) Read(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error) {
	if err := sleep(ctx, s[unit]); err != nil {
		return nil, err
	}
	return make([]byte, dataBytes(table, count)), nil
}

// TestBeatFourHours: no beat is lost and none drifts.
func TestBeatFourHours(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		sweeps := poll(t, 4*time.Hour-time.Millisecond, PollerOptions{Reader: slow{1: 130 * time.Millisecond, 2: 20 * time.Millisecond}},
			still("north", 1, time.Second), still("south", 2, 10*time.Second))
		north, south := of(sweeps, "north"), of(sweeps, "south")
		if len(north) != 14400 || len(south) != 1440 {
			t.Fatalf("%d and %d sweeps in four hours, want 14400 and 1440", len(north), len(south))
		}
		for k, s := range north {
			late := time.Duration(0)
			if k%10 == 0 && k > 0 && s.At.Sub(start) != time.Duration(k)*time.Second {
				late = 20 * time.Millisecond // behind the other still, whose turn it was
			}
			if want := start.Add(time.Duration(k)*time.Second + late).UTC(); !s.At.Equal(want) || s.Missed != 0 || s.Took != 130*time.Millisecond {
				t.Fatalf("sweep %d at %v, took %v, missed %d; want at %v", k, s.At, s.Took, s.Missed, want)
			}
		}
	})
}

// TestBeatTooSlow: a beat is kept late, as long as the next one is not due; else it is missed, and
// counted, and nothing queues up.
func TestBeatTooSlow(t *testing.T) {
	type kept struct {
		atMS   int
		missed int
	}
	for _, tt := range []struct {
		name string
		took time.Duration
		want []kept
	}{
		{"in time", 999 * time.Millisecond, []kept{{0, 0}, {1000, 0}, {2000, 0}, {3000, 0}, {4000, 0}, {5000, 0}}},
		{"a beat and a half", 1500 * time.Millisecond, []kept{{0, 0}, {1500, 0}, {3000, 1}, {4500, 0}}},
		{"exactly two beats", 2 * time.Second, []kept{{0, 0}, {2000, 1}, {4000, 1}}},
		{"three and a bit", 3100 * time.Millisecond, []kept{{0, 0}, {3100, 2}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start := time.Now()
				var got []kept
				for _, s := range poll(t, 6500*time.Millisecond, PollerOptions{Reader: slow{1: tt.took}}, still("north", 1, time.Second)) {
					got = append(got, kept{int(s.At.Sub(start).Milliseconds()), s.Missed})
				}
				if !slices.Equal(got, tt.want) {
					t.Errorf("sweeps at (ms, missed) %v, want %v", got, tt.want)
				}
			})
		})
	}
}

// TestBeatShared: on a line that is too slow for its stills, all are served alike, and every beat is
// either kept or counted.
func TestBeatShared(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := slow{1: 700 * time.Millisecond, 2: 700 * time.Millisecond, 3: 700 * time.Millisecond}
		sweeps := poll(t, time.Hour, PollerOptions{Reader: r}, still("a", 1, time.Second), still("b", 2, time.Second), still("c", 3, time.Second))
		for _, name := range []string{"a", "b", "c"} {
			own := of(sweeps, name)
			beats := 0
			for _, s := range own {
				beats += 1 + s.Missed
			}
			if share := 3600 / 2.1; float64(len(own)) < share-2 || float64(len(own)) > share+2 {
				t.Errorf("%s got %d sweeps of about %.0f", name, len(own), share)
			}
			if beats < 3598 || beats > 3601 {
				t.Errorf("%s: %d beats kept or missed in an hour", name, beats)
			}
		}
	})
}

// TestSilentDevice: every beat yields a sweep, also while nobody asks the device.
func TestSilentDevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		asked := 0
		silent := readerFunc(func(config.Table, uint16, uint16) ([]byte, error) {
			asked++
			time.Sleep(time.Second)
			return nil, ErrSilent
		})
		sweeps := poll(t, time.Hour-time.Millisecond, PollerOptions{Reader: silent}, still("north", 1, 2*time.Second))
		if len(sweeps) != 1800 {
			t.Errorf("%d sweeps in an hour, want 1800", len(sweeps))
		}
		counted := 0
		for _, s := range sweeps {
			if s.Values[0] != bad(analysis.Silent) || s.Missed != 0 {
				t.Fatalf("%+v", s)
			}
			counted += s.Result.Errors["timeout"]
		}
		// 3600 s / (1 s of timeout and 10 s of pause, rounded up to a beat)
		if counted != asked || asked < 295 || asked > 310 {
			t.Errorf("asked %d times, %d timeouts counted; want about 300", asked, counted)
		}
	})
}

// TestGateway: one silent device on a shared line does not starve the others.
func TestGateway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{behave: func(c net.Conn, unit byte, _, reply []byte) {
			if unit != 2 {
				time.Sleep(30 * time.Millisecond)
				c.Write(reply)
			}
		}}
		sweeps := poll(t, time.Hour-time.Millisecond, PollerOptions{Dial: s.dial},
			still("a", 1, time.Second), still("b", 2, time.Second), still("c", 3, time.Second))
		for name, unit := range map[string]float64{"a": 1, "c": 3} {
			good, late := 0, time.Duration(0)
			for _, s := range of(sweeps, name) {
				if s.Values[0] == (analysis.Value{V: 1000 * unit}) {
					good++
				}
				late = max(late, time.Duration(s.Missed)*time.Second)
			}
			if good < 3600*97/100 || late > 2*time.Second {
				t.Errorf("%s: %d good sweeps of 3600, longest gap %v", name, good, late)
			}
		}
		if n := len(of(sweeps, "b")); n < 3600*95/100 {
			t.Errorf("only %d sweeps say that b is silent", n)
		}
		s.wg.Wait()
	})
}

// TestLineDown: the archive sees the gap; the line is dialled with growing pauses; once it is back, so
// are the values.
func TestLineDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{}
		s.setDown(false)
		time.AfterFunc(10*time.Second+500*time.Millisecond, func() { s.setDown(true) })
		time.AfterFunc(30*time.Minute+500*time.Millisecond, func() { s.setDown(false) })
		sweeps := poll(t, time.Hour-time.Millisecond, PollerOptions{Dial: s.dial}, still("a", 1, time.Second), still("b", 2, 5*time.Second))
		a := of(sweeps, "a")
		if len(a) != 3600 {
			t.Fatalf("%d sweeps", len(a))
		}
		back := 0
		for k, s := range a {
			switch q := s.Values[0].Quality; {
			case k <= 10 && q != analysis.Good, k > 10 && k <= 1800 && q != analysis.Silent, k > 1811 && q != analysis.Good:
				t.Fatalf("sweep %d is %v", k, q)
			case k > 1800 && q != analysis.Good:
				back++
			}
		}
		if back > 10 {
			t.Errorf("it took %d s to notice that the line is back", back)
		}
		if n := s.dialled(); n < 170 || n > 190 {
			t.Errorf("dialled %d times in half an hour of outage", n)
		}
		s.setDown(true)
		s.wg.Wait()
	})
}

// TestBackoff: the pauses double to a cap, and chance shortens them by up to half.
func TestBackoff(t *testing.T) {
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		random float64
		want   []time.Duration
	}{
		{0, []time.Duration{0, 1e9, 2e9, 4e9, 8e9, 16e9, 30e9, 30e9}},
		{0.5, []time.Duration{0, 750e6, 1500e6, 3e9, 6e9, 12e9, 22500e6, 22500e6}},
	} {
		b := backoff{longest: longestShared}
		if !b.ready(now) {
			t.Error("not ready at the start")
		}
		for i, want := range tt.want {
			b.fail(now, tt.random)
			if got := b.until.Sub(now); got != want || b.ready(now) != (want == 0) || !b.ready(now.Add(want)) {
				t.Errorf("failure %d: a pause of %v, want %v", i+1, got, want)
			}
		}
		for range 1000 {
			b.fail(now, tt.random)
		}
		if b.until.Sub(now) > longestShared {
			t.Errorf("a pause of %v", b.until.Sub(now))
		}
		if b.ok(); !b.ready(now) {
			t.Error("not ready after success")
		}
	}
}

// jumpy is a clock that is set back.
type jumpy struct {
	SystemClock
	at   time.Time
	back time.Duration
}

func (j *jumpy) Now() time.Time {
	now := time.Now()
	if now.After(j.at) {
		return now.Add(-j.back).Round(0)
	}
	return now.Round(0)
}

// TestStamps: UTC, whole milliseconds, strictly rising, whatever the clock does.
func TestStamps(t *testing.T) {
	var s stamps
	var last time.Time
	now := time.Date(2026, 3, 2, 8, 0, 0, 123_456_789, time.FixedZone("", 3600))
	for _, step := range []time.Duration{0, 0, time.Nanosecond, time.Millisecond, -time.Hour, time.Second, 2 * time.Hour} {
		now = now.Add(step)
		at := s.at(now)
		if !at.After(last) || at.Location() != time.UTC || at.Nanosecond()%1e6 != 0 {
			t.Errorf("after %v: %v follows %v", step, at, last)
		}
		last = at
	}
	if want := time.Date(2026, 3, 2, 8, 0, 1, 124_000_000, time.UTC); !last.Equal(want) {
		t.Errorf("at the end %v, want %v", last, want)
	}
}

// TestClockSetBack: a clock that is set back by an hour makes no beat come twice and stops none.
func TestClockSetBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var last time.Time
		start := time.Now()
		// SystemClock keeps to the monotonic clock, which cannot be set; At comes from the wall.
		for _, s := range poll(t, 10*time.Second-time.Millisecond, PollerOptions{Reader: slow{}}, still("north", 1, time.Second)) {
			if !s.At.After(last) {
				t.Errorf("%v follows %v", s.At, last)
			}
			last = s.At
		}
		if last.Sub(start) != 9*time.Second {
			t.Errorf("the last sweep is %v after the start", last.Sub(start))
		}
		// A clock without a monotonic reading, as a simulation may have.
		last = time.Time{}
		j := &jumpy{at: time.Now().Add(3500 * time.Millisecond), back: 2 * time.Second}
		for _, s := range poll(t, 10*time.Second-time.Millisecond, PollerOptions{Reader: slow{}, Clock: j}, still("north", 1, time.Second)) {
			if !s.At.After(last) {
				t.Errorf("%v follows %v", s.At, last)
			}
			last = s.At
		}
	})
}

// TestFresh: the values of a sweep are the receiver's to keep.
func TestFresh(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := uint16(0)
		counter := readerFunc(func(config.Table, uint16, uint16) ([]byte, error) { n++; return []byte{0, byte(n)}, nil })
		for i, s := range poll(t, 5*time.Second-time.Millisecond, PollerOptions{Reader: counter}, still("north", 1, time.Second)) {
			if s.Values[0].V != float64(i+1) {
				t.Errorf("sweep %d has become %v", i, s.Values[0])
			}
		}
	})
}

// TestLog: a lasting fault is logged when it starts, every hour while it lasts, and once when it ends.
func TestLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		log := slog.New(slog.NewJSONHandler(&out, nil))
		s := &server{behave: func(c net.Conn, unit byte, _, reply []byte) {
			if h := time.Now().Hour(); unit == 1 || h < 1 || h >= 4 {
				c.Write(reply)
			}
		}}
		time.AfterFunc(5*time.Hour+500*time.Millisecond, func() { s.setDown(true) })
		time.AfterFunc(6*time.Hour+200*time.Second, func() { s.setDown(false) })
		poll(t, 7*time.Hour, PollerOptions{Dial: s.dial, Log: log}, still("north", 1, 10*time.Second), still("south", 2, 10*time.Second))
		var got []string
		for line := range strings.Lines(out.String()) {
			var r struct{ Level, Msg, Still, Line, Err string }
			if err := json.Unmarshal([]byte(line), &r); err != nil {
				t.Fatal(err)
			}
			if r.Line != "plc" {
				t.Errorf("no line in %s", line)
			}
			got = append(got, strings.TrimSpace(r.Level+" "+r.Still+" "+r.Msg))
		}
		want := []string{
			"WARN south device cannot be read", "WARN south device cannot be read, still", "WARN south device cannot be read, still",
			"INFO south device can be read again",
			// The first to notice is told that its connection was closed; then it is the line.
			"WARN north device cannot be read", "WARN  line down", "WARN  line down, still", "INFO  line up again", "INFO north device can be read again",
		}
		if !slices.Equal(got, want) {
			t.Errorf("logged\n%s", out.String())
		}
		s.setDown(true)
		s.wg.Wait()
	})
}

// TestLogPartly: a block that a device leaves unanswered is one trouble, also while it is left out.
func TestLogPartly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		d := &device{refuse: func(r Request) error {
			if r.Address == 200 && time.Now().Minute() >= 10 && time.Now().Minute() < 40 {
				return ErrSilent
			}
			return nil
		}}
		st := holding(0, 200)
		st.Every = time.Second
		poll(t, 59*time.Minute, PollerOptions{Reader: d, Log: slog.New(slog.NewTextHandler(&out, nil))}, st)
		if got := out.String(); strings.Count(got, "\n") != 2 || !strings.Contains(got, `msg="some values cannot be read"`) || !strings.Contains(got, `msg="all values can be read again"`) {
			t.Errorf("logged\n%s", got)
		}
	})
}

// TestPause: the silence that a slow device needs between a reply and the next request.
func TestPause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var replied time.Time
		s := &server{behave: func(c net.Conn, _ byte, _, reply []byte) {
			if gap := time.Since(replied); gap < 50*time.Millisecond {
				t.Errorf("asked %v after the last reply", gap)
			}
			time.Sleep(10 * time.Millisecond)
			replied = time.Now()
			c.Write(reply)
		}}
		line := testLine()
		line.Pause = 50 * time.Millisecond
		l, err := NewLink(line, LinkOptions{Dial: s.dial})
		if err != nil {
			t.Fatal(err)
		}
		p := planOf(t, holding(0, 200, 400, 600), PlanOptions{})
		for range 3 {
			var v [4]analysis.Value
			if res := p.Sweep(t.Context(), l, v[:]); res.Err != nil {
				t.Error(res.Err)
			}
		}
		l.Close()
		s.wg.Wait()
	})
}

// TestDrip: a reply that comes in drops is not waited for beyond the timeout, however many there are.
func TestDrip(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{behave: func(c net.Conn, _ byte, _, reply []byte) {
			for i := range reply {
				time.Sleep(300 * time.Millisecond)
				if _, err := c.Write(reply[i : i+1]); err != nil {
					return
				}
			}
		}}
		for _, sw := range poll(t, time.Minute, PollerOptions{Dial: s.dial}, still("north", 1, 2*time.Second)) {
			if sw.Took > time.Second || sw.Values[0].Quality == analysis.Good || sw.Result.Requests > 0 && sw.Result.Errors["malformed"] != 1 {
				t.Errorf("%+v", sw)
			}
		}
		s.wg.Wait()
	})
}

// TestPollSockets is a whole poller over a real socket, on the machine's clock.
func TestPollSockets(t *testing.T) {
	line := startGoPeer(t)
	st, want := peerStill(line)
	st.Every = 10 * time.Millisecond
	p, err := NewPoller(line, []*config.Still{st}, PollerOptions{Log: discard})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	n := 0
	err = p.Run(ctx, func(s Sweep) {
		if !slices.Equal(s.Values, want) {
			t.Errorf("sweep %d: %v", n, s.Values)
		}
		if n++; n == 5 {
			cancel()
		}
	})
	if err != nil || n != 5 {
		t.Errorf("%d sweeps, %v", n, err)
	}
}

// TestCancel: the end of the context ends a read that waits for its reply, and a dial that waits for a
// connection, at once (poll checks how long Run takes).
func TestCancel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{behave: func(net.Conn, byte, []byte, []byte) {}}
		if sweeps := poll(t, 500*time.Millisecond, PollerOptions{Dial: s.dial}, still("north", 1, time.Minute)); len(sweeps) != 0 {
			t.Errorf("an interrupted sweep was handed on: %+v", sweeps)
		}
		s.wg.Wait() // the connection was closed
		hang := func(ctx context.Context, _, _ string) (net.Conn, error) { <-ctx.Done(); return nil, ctx.Err() }
		poll(t, 500*time.Millisecond, PollerOptions{Dial: hang}, still("north", 1, time.Minute))
		poll(t, 500*time.Millisecond, PollerOptions{Dial: hang})
	})
}

// TestNewPoller: mistakes are named all at once.
func TestNewPoller(t *testing.T) {
	bad := still("south", 1, time.Second)
	bad.Channels[0].Source.As = "int24"
	_, err := NewPoller(testLine(), []*config.Still{still("north", 1, 0), bad}, PollerOptions{Log: discard})
	if err == nil || !strings.Contains(err.Error(), "still north: no time between sweeps") || !strings.Contains(err.Error(), "still south: channel") {
		t.Errorf("%v", err)
	}
	for _, line := range []*config.Line{{Name: "plc"}, {Name: "plc", TCP: "a:1", Serial: "/dev/b"}} {
		if _, err := NewPoller(line, nil, PollerOptions{}); err == nil || !strings.Contains(err.Error(), "line plc: has ") {
			t.Errorf("%v", err)
		}
	}
}
