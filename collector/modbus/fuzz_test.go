package modbus

import (
	"bytes"
	"context"
	"io"
	"net"
	"os"
	"testing"
	"time"

	"luted/analysis"
	"luted/config"
)

// babble is a connection that answers every request with the same bytes, in pieces of a size, and
// then ends or goes silent.
type babble struct {
	script
	bytes []byte
	piece int
	rest  []byte
	end   error
}

func (b *babble) Write(p []byte) (int, error) { b.rest = b.bytes; return len(p), nil }

func (b *babble) Read(p []byte) (int, error) {
	if len(b.rest) == 0 {
		return 0, b.end
	}
	n := copy(p, b.rest[:min(b.piece, len(b.rest))])
	b.rest = b.rest[n:]
	return n, nil
}

// FuzzReply: whatever comes back, nothing panics, and the values are good only if what came is the one
// valid reply to the request. What is valid is said here in another way than in frame.go: the whole
// frame is spelt out, and only the data are taken from what came.
func FuzzReply(f *testing.F) {
	for _, tt := range specFrames {
		pdu := unhex(f, tt.reply)
		f.Add(append([]byte{0, 1, 0, 0, 0, byte(1 + len(pdu)), 0x11}, pdu...), byte(tt.table), tt.address, tt.count, byte(0), false)
		f.Add(unhex(f, withCRC("11 "+tt.reply)), byte(tt.table), tt.address, tt.count, byte(3), true)
	}
	f.Add(unhex(f, "00 01 00 00 00 06 11 01 03 40 00 13"), byte(1), uint16(0x340), uint16(19), byte(0), false)
	f.Add(unhex(f, "00 01 00 00 FF FF 11 03"), byte(3), uint16(0), uint16(1), byte(0), false)
	f.Fuzz(func(t *testing.T, reply []byte, table byte, address, count uint16, piece byte, serial bool) {
		tb := config.Table(table%4 + 1)
		count = max(1, count%126)
		if int(address)+int(count) > 1<<16 {
			address = 0
		}
		c := &babble{bytes: reply, piece: int(piece), end: os.ErrDeadlineExceeded}
		if c.piece == 0 {
			c.piece = len(reply)
		}
		if len(reply)%2 == 1 && !serial {
			c.end = io.EOF
		}
		l := scripted(t, serial)
		l.o.Dial = func(context.Context, string, string) (net.Conn, error) { return c, nil }
		l.o.open = func(*config.Line) (conn, error) { return c, nil }

		st := &config.Still{Name: "north", Device: 0x11}
		for a := range int(count) {
			st.Channels = append(st.Channels, at(tb, int(address)+a))
		}
		p, err := NewPlan(st, PlanOptions{})
		if err != nil {
			t.Fatal(err)
		}
		values := make([]analysis.Value, count)
		res := p.Sweep(t.Context(), l, values)
		want, data, more := validReply(reply, serial, byte(tb), address, count)
		if more && c.piece < len(reply) {
			return // the reply is right; what follows it may come too late to be seen with it
		}
		for i, v := range values {
			if !want {
				if v.Quality == analysis.Good {
					t.Fatalf("value %d is %v from % x", i, v, reply)
				}
				continue
			}
			number := 0.0
			if bits(tb) {
				number = float64(data[i/8] >> (i % 8) & 1)
			} else {
				number = float64(data[2*i])*256 + float64(data[2*i+1])
			}
			if v != good(number) {
				t.Fatalf("value %d is %v (%v), want %g from % x: %v", i, v, v.Quality, number, reply, res.Err)
			}
		}
		if bad := !want; bad != (res.Err != nil) {
			t.Fatalf("valid %v, %+v", want, res)
		}
	})
}

// validReply spells out the one reply that matches, and compares. more says that it is that reply with
// something after it.
func validReply(reply []byte, serial bool, table byte, address, count uint16) (valid bool, data []byte, more bool) {
	n := int(count) * 2
	if table <= 2 {
		n = int(count) / 8
		if count%8 > 0 {
			n++
		}
	}
	head := []byte{0, 1, 0, 0, 0, byte(n + 3), 0x11, table, byte(n)}
	tail := 0
	if serial {
		head, tail = head[6:], 2
	}
	end := len(head) + n
	if len(reply) < end+tail || !bytes.Equal(reply[:len(head)], head) {
		return false, nil, false
	}
	data = reply[len(head):end]
	if serial {
		c := crc16(reply[:end])
		if reply[end] != byte(c) || reply[end+1] != byte(c>>8) {
			return false, nil, false
		}
	}
	if n == 3 && byte(address>>8) == 3 && data[0] == byte(address) && data[1] == byte(count>>8) && data[2] == byte(count) {
		return false, nil, false // the echo of the request
	}
	return len(reply) == end+tail, data, len(reply) > end+tail
}

// The rest of a connection.
func (b *babble) Close() error                { return nil }
func (b *babble) SetDeadline(time.Time) error { return nil }
