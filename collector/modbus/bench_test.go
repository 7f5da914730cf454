package modbus

import (
	"context"
	"fmt"
	"io"
	"net"
	"slices"
	"testing"
	"time"

	goburrow "github.com/goburrow/modbus"

	"luted/analysis"
	"luted/config"
)

// benchStill is a still as in a shop: n channels of mixed kinds, in blocks with gaps.
func benchStill(n int) *config.Still {
	st := &config.Still{Name: "north", Device: 1, Every: time.Second}
	kinds := []config.Encoding{config.Int16, config.Float32, config.Uint16, config.Float64, config.Int32}
	for i := range n {
		ch := wide(config.Holding, i*7, kinds[i%len(kinds)])
		ch.Source.Scale, ch.Source.LowFirst = 0.1, i%2 == 1
		st.Channels = append(st.Channels, ch)
	}
	return st
}

// BenchmarkPolling compares sweeps (requests, checks and decoding) with a bare loop of the protocol client
// that sends the same requests and does nothing with the replies. The two take turns, so that both see
// the same machine, and medians are compared, so that other programs' bursts do not count. The ratio is
// bare time over luted's time: 1 is as fast, more is faster.
func BenchmarkPolling(b *testing.B) {
	for _, n := range []int{1, 20, 200} {
		for _, peer := range []string{"plain", "simonvetter"} {
			b.Run(fmt.Sprintf("channels=%d/server=%s", n, peer), func(b *testing.B) {
				var line *config.Line
				if peer == "plain" {
					line = listenMany(b)
				} else if line = startGoPeer(b); n > 50 {
					b.Skip("its image has 400 registers")
				}
				l := openLink(b, line)
				st := benchStill(n)
				p := planOf(b, st, PlanOptions{})
				values := make([]analysis.Value, n)
				h := goburrow.NewTCPClientHandler(line.TCP)
				h.Timeout, h.SlaveId = line.Timeout, 1
				defer h.Close()
				bare := goburrow.NewClient(h)
				requests := p.Requests()

				ctx, cancel := context.WithCancel(context.Background()) // as the poller's: one that can end
				defer cancel()
				luted := func() {
					if res := p.Sweep(ctx, l, values); res.Err != nil {
						b.Fatal(res.Err)
					}
				}
				loop := func() {
					for _, r := range requests {
						if _, err := bare.ReadHoldingRegisters(r.Address, r.Count); err != nil {
							b.Fatal(err)
						}
					}
				}
				var ours, theirs []time.Duration
				for b.Loop() {
					if len(ours)%2 == 0 { // neither always goes first
						ours, theirs = append(ours, timed(luted)), append(theirs, timed(loop))
					} else {
						theirs, ours = append(theirs, timed(loop)), append(ours, timed(luted))
					}
				}
				a, c := median(ours), median(theirs)
				b.ReportMetric(float64(c)/float64(a), "ratio")
				b.ReportMetric(1/a.Seconds(), "sweeps/s")
				b.ReportMetric(float64(len(requests))/a.Seconds(), "requests/s")
				b.ReportMetric(0, "ns/op") // of both together: says nothing
			})
		}
	}
}

func timed(f func()) time.Duration {
	began := time.Now()
	f()
	return time.Since(began)
}

func median(d []time.Duration) time.Duration {
	slices.Sort(d)
	return d[len(d)/2]
}

// listenMany is a server that does no more than it must, for several connections at once.
func listenMany(b *testing.B) *config.Line {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { ln.Close() })
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go func() {
				defer c.Close()
				var request [12]byte
				for {
					if _, err := io.ReadFull(c, request[:]); err != nil {
						return
					}
					if _, err := c.Write(new(server).reply(request[:])); err != nil {
						return
					}
				}
			}()
		}
	}()
	return &config.Line{Name: "plc", TCP: ln.Addr().String(), Timeout: 10 * time.Second}
}

// BenchmarkPlan is the cost of planning, once at the start.
func BenchmarkPlan(b *testing.B) {
	for _, n := range []int{1, 20, 200} {
		b.Run(fmt.Sprintf("channels=%d", n), func(b *testing.B) {
			st := benchStill(n)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := NewPlan(st, PlanOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkDecode is a sweep of a device in memory: all that is luted's own, without the network.
func BenchmarkDecode(b *testing.B) {
	for _, n := range []int{1, 20, 200} {
		b.Run(fmt.Sprintf("channels=%d", n), func(b *testing.B) {
			p := planOf(b, benchStill(n), PlanOptions{})
			values := make([]analysis.Value, n)
			var data [2 * MaxRegisters]byte
			for i := range data {
				data[i] = byte(i)
			}
			r := readerFunc(func(table config.Table, _, count uint16) ([]byte, error) { return data[:dataBytes(table, count)], nil })
			b.ReportAllocs()
			for b.Loop() {
				p.Sweep(context.Background(), r, values)
			}
			b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(b.N*n), "ns/value")
		})
	}
}
