package modbus

import (
	"encoding/binary"
	"errors"
	"io"
	"net"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/goburrow/serial"

	"luted/config"
)

// memoryPort is a serial port in memory, with the library's manner of timing out.
type memoryPort struct{ net.Conn }

func (p memoryPort) Read(b []byte) (int, error) {
	p.SetReadDeadline(time.Now().Add(portSlice))
	n, err := p.Conn.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return -1, serial.ErrTimeout
	}
	return n, err
}

// bus is a serial line in memory. Each device on it answers in the order in which it was asked, one at a
// time, each request after the latency that it draws; negative: never. Nobody waits for a free line.
type bus struct {
	latency func(unit byte) time.Duration
	reply   func(unit byte, request []byte) []byte // without checksum
	mangle  func(frame []byte) [][]byte            // what goes over the wire; nil: the frame

	mu     sync.Mutex
	queues map[byte]chan []byte
	opened int
	wg     sync.WaitGroup
}

func (b *bus) open(*config.Line) (conn, error) {
	near, far := net.Pipe()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.opened++
	b.queues = map[byte]chan []byte{}
	b.wg.Go(func() { b.serve(far) })
	return newPort(memoryPort{near}), nil
}

func (b *bus) serve(far net.Conn) {
	out := make(chan []byte, 1000)
	b.wg.Go(func() { // the wire, so that a device never waits for a reader
		for frame := range out {
			far.Write(frame)
		}
	})
	var devices sync.WaitGroup
	queues := map[byte]chan []byte{}
	for {
		request := make([]byte, 8)
		if _, err := io.ReadFull(far, request); err != nil {
			break
		}
		if crc16(request[:6]) != binary.LittleEndian.Uint16(request[6:]) {
			continue
		}
		unit := request[0]
		if queues[unit] == nil {
			q := make(chan []byte, 1000)
			queues[unit] = q
			devices.Go(func() {
				for frame := range q {
					wait := b.latency(unit)
					if wait < 0 {
						continue
					}
					time.Sleep(wait)
					frames := [][]byte{frame}
					if b.mangle != nil {
						frames = b.mangle(frame)
					}
					for _, f := range frames {
						out <- f
					}
				}
			})
		}
		// The reply holds what was true when the request arrived.
		frame := b.reply(unit, request)
		queues[unit] <- binary.LittleEndian.AppendUint16(frame, crc16(frame))
	}
	far.Close()
	for _, q := range queues {
		close(q)
	}
	devices.Wait()
	close(out)
}

// busLink is a link on the bus; closing it and waiting for the bus ends everything.
func busLink(t testing.TB, b *bus, timeout time.Duration) *Link {
	t.Helper()
	l, err := NewLink(&config.Line{Name: "bus", Serial: "/dev/bus", Baud: 19200, Timeout: timeout}, LinkOptions{open: b.open})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// pipePair is a port in memory and the wire's other end.
func pipePair() (memoryPort, net.Conn) {
	near, far := net.Pipe()
	return memoryPort{near}, far
}
