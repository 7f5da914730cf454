package modbus

import (
	"context"
	"io"
	"net"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"luted/analysis"
	"luted/config"
)

// Over real sockets, where bytes can wait to be read and a connection can end while nobody looks.

// listen serves connections on loopback until the test ends.
func listen(t testing.TB, serve func(net.Conn)) *config.Line {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			serve(c)
			c.Close()
		}
	}()
	t.Cleanup(func() { ln.Close(); <-done })
	return &config.Line{Name: "plc", TCP: ln.Addr().String(), Timeout: 10 * time.Second}
}

func openLink(t testing.TB, line *config.Line) *Link {
	t.Helper()
	l, err := NewLink(line, LinkOptions{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// readReply reads a request and returns its right reply.
func readReply(c net.Conn) ([]byte, error) {
	request := make([]byte, 12)
	if _, err := io.ReadFull(c, request); err != nil {
		return nil, err
	}
	return new(server).reply(request), nil
}

// TestIdleClose: a device that closes the connection after every reply, as small ones do, costs
// neither a value nor an error.
func TestIdleClose(t *testing.T) {
	var conns atomic.Int32
	closed := make(chan struct{}, 1)
	line := listen(t, func(c net.Conn) {
		conns.Add(1)
		if reply, err := readReply(c); err == nil {
			c.Write(reply)
			c.Close()
			closed <- struct{}{}
		}
	})
	l := openLink(t, line)
	p := planOf(t, still("north", 1, time.Second), PlanOptions{})
	for i := range 5 {
		var v [1]analysis.Value
		if res := p.Sweep(t.Context(), l, v[:]); res.Err != nil || v[0] != good(1000) {
			t.Errorf("sweep %d: %v, %v", i, v, res.Err)
		}
		<-closed
	}
	if conns.Load() != 5 {
		t.Errorf("%d connections for 5 sweeps", conns.Load())
	}
}

// TestUnasked: bytes that arrive after a reply, late or doubled, are never taken for the next reply,
// even if they carry its transaction number.
func TestUnasked(t *testing.T) {
	send, sent := make(chan struct{}), make(chan struct{})
	line := listen(t, func(c net.Conn) {
		reply, err := readReply(c)
		if err != nil {
			return
		}
		c.Write(reply)
		reply[1]++ // the next transaction
		reply[9] = 99
		<-send
		c.Write(reply)
		sent <- struct{}{}
		io.Copy(io.Discard, c)
	})
	l := openLink(t, line)
	p := planOf(t, still("north", 1, time.Second), PlanOptions{})
	var v [1]analysis.Value
	for i := range 3 {
		if res := p.Sweep(t.Context(), l, v[:]); res.Err != nil || v[0] != good(1000) {
			t.Fatalf("sweep %d: %v, %v", i, v, res.Err)
		}
		send <- struct{}{}
		<-sent // on loopback, what was written has arrived
		if res := p.Sweep(t.Context(), l, v[:]); res.Errors["malformed"] != 1 || v[0] != bad(analysis.Exception) {
			t.Errorf("sweep %d after an unasked frame: %v, %v", i, v, res.Err)
		}
	}
}

// TestFlood: a server that never stops sending is given up at once, every time.
func TestFlood(t *testing.T) {
	junk := make([]byte, 1<<16)
	for i := range junk {
		junk[i] = byte(i * 7)
	}
	line := listen(t, func(c net.Conn) {
		for {
			if _, err := c.Write(junk); err != nil {
				return
			}
		}
	})
	l := openLink(t, line)
	p := planOf(t, still("north", 1, time.Second), PlanOptions{})
	for range 10 {
		var v [1]analysis.Value
		res := p.Sweep(t.Context(), l, v[:])
		if v[0].Quality == analysis.Good || res.Err == nil {
			t.Fatalf("%v, %+v", v, res)
		}
	}
}

// TestSlowBytes: a reply that comes byte by byte is a reply.
func TestSlowBytes(t *testing.T) {
	line := listen(t, func(c net.Conn) {
		for {
			reply, err := readReply(c)
			if err != nil {
				return
			}
			for i := range reply {
				c.Write(reply[i : i+1])
				runtime.Gosched()
			}
		}
	})
	l := openLink(t, line)
	st := holding(seq(0, 100)...)
	p := planOf(t, st, PlanOptions{})
	for range 20 {
		values := make([]analysis.Value, len(st.Channels))
		if res := p.Sweep(t.Context(), l, values); res.Err != nil || values[99] != good(1099) {
			t.Fatalf("%v, %v", values[99], res.Err)
		}
	}
}

// TestHalfFrame: the connection ends in the middle of every other reply.
func TestHalfFrame(t *testing.T) {
	n := 0
	line := listen(t, func(c net.Conn) {
		for {
			reply, err := readReply(c)
			if err != nil {
				return
			}
			if n++; n%2 == 1 {
				c.Write(reply[:len(reply)-1])
				return
			}
			c.Write(reply)
		}
	})
	l := openLink(t, line)
	p := planOf(t, still("north", 1, time.Second), PlanOptions{})
	for i := range 10 {
		var v [1]analysis.Value
		res := p.Sweep(t.Context(), l, v[:])
		if want := i%2 == 1; (v[0] == good(1000)) != want || !want && res.Errors["closed"] != 1 {
			t.Errorf("sweep %d: %v, %+v", i, v, res)
		}
	}
}

// TestRefused: nobody listens.
func TestRefused(t *testing.T) {
	line := listen(t, func(net.Conn) {})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	line.TCP = ln.Addr().String()
	ln.Close()
	var v [1]analysis.Value
	res := planOf(t, still("north", 1, time.Second), PlanOptions{}).Sweep(t.Context(), openLink(t, line), v[:])
	if res.Errors["refused"] != 1 || v[0] != bad(analysis.Silent) {
		t.Errorf("%v, %+v", v, res)
	}
}

// TestCancelSocket: the end of the context ends a read that waits, long before the timeout of 10 s.
func TestCancelSocket(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	line := listen(t, func(c net.Conn) {
		readReply(c)
		cancel()
		io.Copy(io.Discard, c) // until the link closes the connection
	})
	l := openLink(t, line)
	began := time.Now()
	_, err := l.Read(ctx, 1, config.Holding, 0, 1)
	if err == nil || ctx.Err() == nil || time.Since(began) > 5*time.Second {
		t.Errorf("%v after %v", err, time.Since(began))
	}
	if l.conn != nil {
		t.Error("the connection is still open")
	}
}
