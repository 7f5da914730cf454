package modbus

import (
	"context"
	"encoding/binary"
	"io"
	"net"
	"sync"
	"syscall"
	"testing"
	"time"

	"luted/config"
)

// server is a Modbus TCP server in memory for tests inside a synctest bubble. Register a of unit u holds
// 1000·u + a, plus what Values says. Behave may misbehave in any way.
type server struct {
	// behave sends the answer to one request, whose right reply is given. Nil: sends the reply.
	behave func(c net.Conn, unit byte, request, reply []byte)
	value  func(unit byte, address int) uint16
	down   bool // connections are refused

	mu       sync.Mutex
	dials    int
	requests [][]byte
	conns    []net.Conn
	wg       sync.WaitGroup
}

func (s *server) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.dials++
	if s.down {
		return nil, &net.OpError{Op: "dial", Net: "tcp", Err: syscall.ECONNREFUSED}
	}
	near, far := net.Pipe()
	s.conns = append(s.conns, far)
	s.wg.Go(func() { s.serve(far) })
	return near, nil
}

func (s *server) setDown(down bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.down = down
	if down {
		for _, c := range s.conns {
			c.Close()
		}
		s.conns = nil
	}
}

func (s *server) dialled() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.dials
}

func (s *server) serve(c net.Conn) {
	defer c.Close()
	for {
		request := make([]byte, 12)
		if _, err := io.ReadFull(c, request); err != nil {
			return
		}
		s.mu.Lock()
		s.requests = append(s.requests, request)
		s.mu.Unlock()
		unit := request[6]
		reply := s.reply(request)
		if s.behave != nil {
			s.behave(c, unit, request, reply)
		} else if _, err := c.Write(reply); err != nil {
			return
		}
	}
}

// reply is the right answer to a read of registers.
func (s *server) reply(request []byte) []byte {
	address, count := int(binary.BigEndian.Uint16(request[8:])), int(binary.BigEndian.Uint16(request[10:]))
	reply := append([]byte{}, request[:8]...)
	binary.BigEndian.PutUint16(reply[4:], uint16(3+2*count))
	reply = append(reply, byte(2*count))
	for i := range count {
		v := uint16(1000*int(request[6]) + address + i)
		if s.value != nil {
			v = s.value(request[6], address+i)
		}
		reply = binary.BigEndian.AppendUint16(reply, v)
	}
	return reply
}

// line is a TCP line with the default timeout of one second.
func testLine() *config.Line { return &config.Line{Name: "plc", TCP: "plc:502", Timeout: time.Second} }

// still reads register 0 of a device.
func still(name string, unit uint8, every time.Duration) *config.Still {
	return &config.Still{Name: name, Device: unit, Every: every, Channels: []*config.Channel{at(config.Holding, 0)}}
}

// poll runs a poller in the bubble for so long and returns its sweeps.
func poll(t *testing.T, d time.Duration, o PollerOptions, stills ...*config.Still) []Sweep {
	t.Helper()
	if o.Log == nil {
		o.Log = discard
	}
	if o.Rand == nil {
		o.Rand = func() float64 { return 0 }
	}
	p, err := NewPoller(testLine(), stills, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var sweeps []Sweep
	done := make(chan error)
	go func() { done <- p.Run(ctx, func(s Sweep) { sweeps = append(sweeps, s) }) }()
	time.Sleep(d)
	before := time.Now()
	cancel()
	if err := <-done; err != nil {
		t.Errorf("Run: %v", err)
	}
	if took := time.Since(before); took > 0 {
		t.Errorf("Run took %v to end", took)
	}
	return sweeps
}

// of picks the sweeps of one still.
func of(sweeps []Sweep, name string) (own []Sweep) {
	for _, s := range sweeps {
		if s.Still == name {
			own = append(own, s)
		}
	}
	return own
}
