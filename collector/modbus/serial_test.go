package modbus

import (
	"context"
	"io"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/creack/pty"

	"luted/analysis"
	"luted/config"
)

// TestFrameSilence has the figures of the specification: 3.5 characters of 11 bits, and 1.750 ms above
// 19200 baud. Source: MODBUS over Serial Line V1.02, 2.5.1.1.
func TestFrameSilence(t *testing.T) {
	for baud, want := range map[int]time.Duration{
		9600: 4010 * time.Microsecond, 19200: 2005 * time.Microsecond, 0: 2005 * time.Microsecond,
		38400: 1750 * time.Microsecond, 115200: 1750 * time.Microsecond,
	} {
		if got := frameSilence(baud); (got - want).Abs() > time.Microsecond {
			t.Errorf("%d baud: %v, want %v", baud, got, want)
		}
	}
}

// TestWireTime: the timeout is the device's time to answer; what a slow line needs comes on top. 125
// registers at 9600 baud are 263 characters of 11 bits: 301 ms.
func TestWireTime(t *testing.T) {
	l := busLink(t, &bus{}, time.Second)
	l.line.Baud = 9600
	if got := l.onTheWire(config.Holding, 125); got.Round(time.Millisecond) != 301*time.Millisecond {
		t.Errorf("%v", got)
	}
}

// TestSerialNoise: noise before a reply, between replies and in place of one costs at most the values
// that it hits, and the port stays open.
func TestSerialNoise(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rnd := rand.New(rand.NewPCG(7, 7))
		b := &bus{
			latency: func(byte) time.Duration { return 20 * time.Millisecond },
			reply:   func(unit byte, q []byte) []byte { return append([]byte{unit}, stamp(time.Now(), false, q[1:6])...) },
			mangle: func(frame []byte) [][]byte {
				switch rnd.IntN(8) {
				case 1:
					return [][]byte{{0xFF, 0x00}, frame}
				case 2:
					return [][]byte{frame[:len(frame)-1]}
				case 3:
					return [][]byte{append([]byte{frame[0] ^ 1}, frame[1:]...)}
				}
				return [][]byte{frame}
			},
		}
		l := busLink(t, b, 200*time.Millisecond)
		st := &config.Still{Name: "north", Device: 1, Channels: []*config.Channel{wide(config.Holding, 40, config.Uint32)}}
		p := planOf(t, st, PlanOptions{})
		goods := 0
		for range 100 {
			var v [1]analysis.Value
			if res := p.Sweep(t.Context(), l, v[:]); v[0] == good(40) {
				goods++
			} else if v[0].Quality == analysis.Good || res.Err == nil {
				t.Fatalf("%v, %+v", v, res)
			}
			time.Sleep(300 * time.Millisecond)
		}
		// Five replies of eight are right; after a bad one it takes two in a row.
		if goods < 35 || b.opened != 1 {
			t.Errorf("%d good values of 100, the port was opened %d times", goods, b.opened)
		}
		l.Close()
		b.wg.Wait()
	})
}

// TestSerialBabble: a line that is never silent is given up after the timeout.
func TestSerialBabble(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		near, far := pipePair()
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			for {
				if _, err := far.Write([]byte{0x55}); err != nil {
					return
				}
				time.Sleep(time.Millisecond)
			}
		}()
		l := busLink(t, &bus{}, 200*time.Millisecond)
		l.o.open = func(*config.Line) (conn, error) { return newPort(near), nil }
		began := time.Now()
		_, err := l.Read(t.Context(), 1, config.Holding, 0, 1)
		if KindOf(err) != KindMalformed || time.Since(began) > 300*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(began))
		}
		<-ended // the port was closed
	})
}

// terminal opens a pseudo-terminal in raw mode: a serial port without a wire. The far end is the
// device's.
func terminal(t testing.TB) (far *os.File, path string) {
	t.Helper()
	far, near, err := pty.Open()
	if err != nil {
		need(t, false, "a pseudo-terminal: "+err.Error())
	}
	t.Cleanup(func() { far.Close(); near.Close() })
	return far, near.Name()
}

// TestSerialPort goes through the operating system: open, parity, read in pieces, unplug, cancel.
func TestSerialPort(t *testing.T) {
	far, path := terminal(t)
	line := &config.Line{Name: "bus", Serial: path, Baud: 19200, Parity: "even", Stop: 1, Timeout: 5 * time.Second}
	l := openLink(t, line)
	served := make(chan error, 1)
	go func() {
		for range 3 {
			q := make([]byte, 8)
			if _, err := io.ReadFull(far, q); err != nil {
				served <- err
				return
			}
			reply := unhex(t, "11 03 06 02 2B 00 00 00 64 C8 BA")
			for i := range reply {
				far.Write(reply[i : i+1])
				runtime.Gosched()
			}
		}
		q := make([]byte, 8)
		_, err := io.ReadFull(far, q)
		served <- err
	}()
	for range 3 {
		data, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3)
		if err != nil || data[1] != 0x2B {
			t.Fatalf("% x, %v", data, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-served; cancel() }()
	began := time.Now()
	if _, err := l.Read(ctx, 0x11, config.Holding, 0x6B, 3); err == nil || time.Since(began) > 2*time.Second {
		t.Errorf("cancelled: %v after %v", err, time.Since(began))
	}
	if l.conn != nil {
		t.Error("the port is still open")
	}
}

// TestSerialUnplugged: the port goes away under the reader.
func TestSerialUnplugged(t *testing.T) {
	far, path := terminal(t)
	l := openLink(t, &config.Line{Name: "bus", Serial: path, Baud: 19200, Timeout: 5 * time.Second})
	go func() {
		q := make([]byte, 8)
		io.ReadFull(far, q)
		far.Close()
	}()
	if _, err := l.Read(t.Context(), 1, config.Holding, 0, 1); KindOf(err) != KindClosed || l.conn != nil {
		t.Errorf("unplugged: %v (%s), still open: %v", err, KindOf(err), l.conn != nil)
	}
	l.line.Serial = "/dev/no-such-port"
	_, err := l.Read(t.Context(), 1, config.Holding, 0, 1)
	if KindOf(err) != KindRefused {
		t.Errorf("no port: %v (%s)", err, KindOf(err))
	}
}

// TestManyFiles: the serial library corrupts memory if a port's file descriptor is 1024 or above, so
// such a port is not opened.
func TestManyFiles(t *testing.T) {
	_, path := terminal(t)
	for range 1100 {
		f, err := os.Open(os.DevNull)
		if err != nil {
			t.Skipf("cannot open 1100 files here: %v", err)
		}
		defer f.Close()
	}
	l := openLink(t, &config.Line{Name: "bus", Serial: path, Baud: 19200, Timeout: time.Second})
	_, err := l.Read(t.Context(), 1, config.Holding, 0, 1)
	if KindOf(err) != KindRefused || !strings.Contains(err.Error(), "a serial port must be among the first 1000") {
		t.Errorf("%v", err)
	}
}
