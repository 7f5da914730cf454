package modbus

import (
	"bytes"
	"context"
	"encoding/hex"
	"io"
	"net"
	"os"
	"strings"
	"testing"
	"time"

	"luted/config"
)

// script is a connection in memory that knows what will be said on it: each step is a request, to the
// byte, and what comes back, in the pieces in which it arrives. A read beyond that ends at once, with
// a timeout or as told.
type script struct {
	t      testing.TB
	steps  []step
	reply  [][]byte
	end    error
	closed bool
}

type step struct {
	want  string   // request, hex
	reply []string // pieces, hex
	end   error    // after the pieces; nil: os.ErrDeadlineExceeded
}

func (s *script) Write(b []byte) (int, error) {
	s.t.Helper()
	if s.closed {
		return 0, net.ErrClosed
	}
	if len(s.steps) == 0 {
		s.t.Fatalf("sent % x, nothing was expected", b)
	}
	st := s.steps[0]
	s.steps = s.steps[1:]
	if want := unhex(s.t, st.want); !bytes.Equal(b, want) {
		s.t.Errorf("sent % x, want % x", b, want)
	}
	s.reply, s.end = nil, st.end
	for _, p := range st.reply {
		s.reply = append(s.reply, unhex(s.t, p))
	}
	return len(b), nil
}

func (s *script) Read(b []byte) (int, error) {
	if s.closed {
		return 0, net.ErrClosed
	}
	if len(s.reply) == 0 {
		if s.end != nil {
			return 0, s.end
		}
		return 0, os.ErrDeadlineExceeded
	}
	n := copy(b, s.reply[0])
	if s.reply[0] = s.reply[0][n:]; len(s.reply[0]) == 0 {
		s.reply = s.reply[1:]
	}
	return n, nil
}

func (s *script) Close() error                     { s.closed = true; return nil }
func (s *script) SetDeadline(time.Time) error      { return nil }
func (s *script) SetReadDeadline(time.Time) error  { return nil }
func (s *script) SetWriteDeadline(time.Time) error { return nil }
func (s *script) LocalAddr() net.Addr              { return nil }
func (s *script) RemoteAddr() net.Addr             { return nil }

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// single cuts hex into pieces of one byte.
func single(s string) []string { return strings.Fields(s) }

// scripted makes a link whose connections are the scripts, one after the other.
func scripted(t testing.TB, serial bool, scripts ...*script) *Link {
	t.Helper()
	for _, s := range scripts {
		s.t = t
	}
	next := func() (*script, error) {
		if len(scripts) == 0 {
			return nil, io.ErrUnexpectedEOF
		}
		s := scripts[0]
		scripts = scripts[1:]
		return s, nil
	}
	line := &config.Line{Name: "plc", TCP: "plc:502", Timeout: time.Second}
	if serial {
		line = &config.Line{Name: "bus", Serial: "/dev/bus", Baud: 115200, Timeout: time.Second}
	}
	l, err := NewLink(line, LinkOptions{
		Dial: func(context.Context, string, string) (net.Conn, error) { return next() },
		open: func(*config.Line) (conn, error) { return next() },
	})
	if err != nil {
		t.Fatal(err)
	}
	return l
}
