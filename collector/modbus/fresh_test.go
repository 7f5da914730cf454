package modbus

import (
	"context"
	"encoding/binary"
	"math/rand/v2"
	"net"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/config"
)

// The promise tested here: a good value is never older than its request, and belongs to the address
// asked for, however late, lost, doubled or mixed up the answers are. Every register pair at address a
// holds the milliseconds since the start at which the device got the request, times 1000, plus a.

// Blocks of one length, or of several: with the first every late answer looks like the next one.
func stampedStill(unit uint8, alike bool) *config.Still {
	st := &config.Still{Name: "north", Device: unit, Every: time.Second}
	addresses := []int{0, 20, 40, 60, 62, 80, 100, 102, 104}
	if alike {
		addresses = []int{0, 20, 40, 60, 80, 100}
	}
	for _, a := range addresses {
		st.Channels = append(st.Channels, wide(config.Holding, a, config.Uint32))
	}
	return st
}

// stamp is the PDU that answers a request for registers. A busy device answers with an exception.
func stamp(start time.Time, busy bool, pdu []byte) []byte {
	address, count := int(binary.BigEndian.Uint16(pdu[1:])), int(binary.BigEndian.Uint16(pdu[3:]))
	if busy {
		return []byte{pdu[0] | 0x80, 6}
	}
	if address%2 == 1 || address > 104 {
		return []byte{pdu[0] | 0x80, byte(IllegalAddress)}
	}
	out := []byte{pdu[0], byte(2 * count)}
	for a := address; a < address+count; a += 2 {
		var v [4]byte
		binary.BigEndian.PutUint32(v[:], uint32(time.Since(start).Milliseconds()*1000+int64(a)))
		out = append(out, v[:min(4, 2*(address+count-a))]...)
	}
	return out
}

// sweepFresh sweeps for so long, at most once a beat, and checks every good value. It returns how many
// there were.
func sweepFresh(t *testing.T, seed uint64, l *Link, start time.Time, beat, d time.Duration) (goods int) {
	t.Helper()
	stills := []*config.Still{stampedStill(1, seed%2 == 0), stampedStill(2, seed%3 == 0)}
	var plans []*Plan
	for _, st := range stills {
		plans = append(plans, planOf(t, st, PlanOptions{Gap: -1}))
	}
	for time.Since(start) < d {
		for i, p := range plans {
			values := make([]analysis.Value, p.channels)
			began := time.Since(start).Milliseconds()
			p.Sweep(context.Background(), l, values)
			for c, v := range values {
				if v.Quality != analysis.Good {
					continue
				}
				goods++
				at, address := int64(v.V)/1000, int(v.V)%1000
				if want := int(stills[i].Channels[c].Source.Address); at < began || address != want {
					t.Fatalf("seed %d: at %d ms asked for %d, got the value of %d from %d ms", seed, began, want, address, at)
				}
			}
			time.Sleep(beat)
		}
	}
	return goods
}

// moods are latencies, as a share of the timeout.
var moods = []struct {
	name string
	draw func(r *rand.Rand) float64 // negative: lost
}{
	{"always a little late", func(*rand.Rand) float64 { return 1.2 }},
	{"always very late", func(*rand.Rand) float64 { return 3.3 }},
	{"around the timeout", func(r *rand.Rand) float64 { return 0.8 + 0.4*r.Float64() }},
	{"anything", func(r *rand.Rand) float64 { return 4*r.Float64() - 0.5 }},
	{"mostly well", func(r *rand.Rand) float64 {
		if r.IntN(4) == 0 {
			return 3 * r.Float64()
		}
		return 0.1
	}},
	{"mostly well, some lost", func(r *rand.Rand) float64 {
		if r.IntN(5) == 0 {
			return -1
		}
		return 0.1
	}},
}

func TestNeverStaleSerial(t *testing.T) {
	for _, mood := range moods {
		t.Run(mood.name, func(t *testing.T) {
			for seed := range uint64(8) {
				synctest.Test(t, func(t *testing.T) {
					start := time.Now()
					var mu sync.Mutex
					rnd := rand.New(rand.NewPCG(seed, 1))
					b := &bus{
						latency: func(byte) time.Duration {
							mu.Lock()
							defer mu.Unlock()
							return time.Duration(mood.draw(rnd) * float64(200*time.Millisecond))
						},
						reply: func(unit byte, request []byte) []byte {
							mu.Lock()
							defer mu.Unlock()
							return append([]byte{unit}, stamp(start, rnd.IntN(6) == 0, request[1:6])...)
						},
					}
					l := busLink(t, b, 200*time.Millisecond)
					goods := sweepFresh(t, seed, l, start, 100*time.Millisecond, 3*time.Minute)
					if goods == 0 && !strings.HasPrefix(mood.name, "always") {
						t.Errorf("seed %d: nothing was ever read", seed)
					}
					l.Close()
					b.wg.Wait()
				})
			}
		})
	}
}

// mixer is a TCP gateway of the worst kind: it answers late, sometimes twice, and on whichever
// connection is open by then, but with the transaction number of the request.
type mixer struct {
	start time.Time
	draw  func() float64

	mu      sync.Mutex
	current chan []byte // what is written on the connection that was opened last
	wg      sync.WaitGroup
}

func (m *mixer) dial(context.Context, string, string) (net.Conn, error) {
	near, far := net.Pipe()
	out, ended := make(chan []byte, 1000), make(chan struct{})
	m.mu.Lock()
	m.current = out
	m.mu.Unlock()
	m.wg.Go(func() { // one writer: a lock that is waited for would stop the bubble's clock
		for {
			select {
			case b := <-out:
				far.Write(b)
			case <-ended:
				return
			}
		}
	})
	m.wg.Go(func() {
		defer close(ended)
		defer far.Close()
		for {
			q := make([]byte, 12)
			if _, err := far.Read(q); err != nil { // a pipe hands over a write whole
				return
			}
			m.mu.Lock()
			wait, busy := m.draw(), int(m.draw()*1000)%6 == 0
			m.mu.Unlock()
			pdu := stamp(m.start, busy, q[7:])
			reply := append(append([]byte{}, q[:7]...), pdu...)
			binary.BigEndian.PutUint16(reply[4:], uint16(1+len(pdu)))
			for n := 0; wait >= 0 && n < 1+int(wait*10)%2; n++ {
				m.wg.Go(func() {
					time.Sleep(time.Duration(wait * float64(200*time.Millisecond)))
					m.mu.Lock()
					defer m.mu.Unlock()
					m.current <- reply
				})
			}
		}
	})
	return near, nil
}

func TestNeverStaleTCP(t *testing.T) {
	for _, mood := range moods {
		t.Run(mood.name, func(t *testing.T) {
			for seed := range uint64(8) {
				synctest.Test(t, func(t *testing.T) {
					rnd := rand.New(rand.NewPCG(seed, 2))
					m := &mixer{start: time.Now(), draw: func() float64 { return mood.draw(rnd) }}
					line := testLine()
					line.Timeout = 200 * time.Millisecond
					l, err := NewLink(line, LinkOptions{Dial: m.dial})
					if err != nil {
						t.Fatal(err)
					}
					goods := sweepFresh(t, seed, l, m.start, 100*time.Millisecond, 3*time.Minute)
					if goods == 0 && !strings.HasPrefix(mood.name, "always") {
						t.Errorf("seed %d: nothing was ever read", seed)
					}
					l.Close()
					m.wg.Wait()
				})
			}
		})
	}
}
