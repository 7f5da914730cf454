package modbus

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/goburrow/serial"

	"luted/config"
)

// charBits is the length of a character on the wire: start, 8 data, parity or a second stop, stop.
const charBits = 11

// frameSilence is the pause of 3.5 characters that separates frames; above 19200 baud a fixed time
// (MODBUS over Serial Line V1.02, 2.5.1.1).
func frameSilence(baud int) time.Duration {
	if baud = baudOf(baud); baud > 19200 {
		return 1750 * time.Microsecond
	}
	return time.Duration(3.5 * charBits * float64(time.Second) / float64(baud))
}

func baudOf(baud int) int {
	if baud <= 0 {
		return 19200 // the specification's default
	}
	return baud
}

// onTheWire is the time that request and reply themselves take; the timeout is the device's own. Zero
// on TCP.
func (l *Link) onTheWire(table config.Table, count uint16) time.Duration {
	if l.line.Serial == "" {
		return 0
	}
	return wireTime(l.line.Baud, 8+5+dataBytes(table, count))
}

// wireTime is how long so many bytes take.
func wireTime(baud, bytes int) time.Duration {
	return time.Duration(bytes) * charBits * time.Second / time.Duration(baudOf(baud))
}

// drain throws away what is waiting on a serial line until it has been silent for 3.5 characters.
func (l *Link) drain(ctx context.Context) error {
	quiet := frameSilence(l.line.Baud)
	limit := time.Now().Add(l.timeout)
	for ctx.Err() == nil {
		if err := l.conn.SetDeadline(time.Now().Add(quiet)); err != nil {
			return err
		}
		_, err := l.conn.Read(l.x.buf[:])
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded):
			return ctx.Err()
		case err != nil:
			return err
		case time.Now().After(limit):
			return malformed(fmt.Sprintf("bytes without end: the line is never silent for %v", quiet))
		}
	}
	return ctx.Err()
}

// openSerial opens the line's port.
func openSerial(line *config.Line) (conn, error) {
	c := serial.Config{Address: line.Serial, BaudRate: baudOf(line.Baud), DataBits: 8, StopBits: max(1, line.Stop),
		Parity: "N", Timeout: portSlice}
	switch line.Parity {
	case "even":
		c.Parity = "E"
	case "odd":
		c.Parity = "O"
	}
	port, err := serial.Port(nil), descriptorsLeft()
	if err == nil {
		port, err = serial.Open(&c)
	}
	if err != nil {
		return nil, &os.PathError{Op: "open serial port", Path: line.Serial, Err: err}
	}
	return newPort(port), nil
}

// portSlice is how long a read of the port blocks at most, and with it how long closing takes.
const portSlice = 50 * time.Millisecond

// port gives a serial port the deadlines that it lacks: a goroutine reads the port, and hands the
// bytes over through a pipe. The goroutine ends with Close, before the port is closed: closing under a
// blocked read could let it read from whatever gets the same file descriptor next.
type port struct {
	net.Conn // the near end of the pipe
	far      net.Conn
	device   io.ReadWriteCloser
	closed   chan struct{}
	pump     sync.WaitGroup
	once     sync.Once
	fault    atomic.Pointer[error] // why the pump ended by itself
}

func newPort(device io.ReadWriteCloser) *port {
	p := &port{device: device, closed: make(chan struct{})}
	p.Conn, p.far = net.Pipe()
	p.pump.Go(p.run)
	return p
}

// run hands over what the port receives. It ends with Close, or when the port fails; then Read says why.
func (p *port) run() {
	defer p.far.Close()
	var buf [bufferSize]byte
	for {
		select {
		case <-p.closed:
			return
		default:
		}
		n, err := p.device.Read(buf[:])
		if n > 0 { // with an error the library may return -1
			if _, err := p.far.Write(buf[:n]); err != nil {
				return
			}
			continue
		}
		if err == nil {
			err = io.EOF // no bytes and no error: the port was pulled out
		}
		if !errors.Is(err, serial.ErrTimeout) {
			p.fail(err)
			return
		}
	}
}

func (p *port) fail(err error) { p.fault.Store(&err) }

// Read takes what the pump hands over.
func (p *port) Read(b []byte) (int, error) {
	n, err := p.Conn.Read(b)
	if cause := p.fault.Load(); err == io.EOF && cause != nil {
		err = *cause
	}
	return n, err
}

// Write sends to the port itself.
func (p *port) Write(b []byte) (int, error) {
	sent := 0
	for sent < len(b) {
		n, err := p.device.Write(b[sent:])
		sent += max(n, 0)
		if err != nil {
			return sent, err
		}
		if n <= 0 {
			return sent, io.ErrShortWrite
		}
	}
	return sent, nil
}

// Close waits for the reading goroutine, then closes the port.
func (p *port) Close() (err error) {
	p.once.Do(func() {
		close(p.closed)
		p.Conn.Close()
		p.pump.Wait()
		err = p.device.Close()
	})
	return err
}
