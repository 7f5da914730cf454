package modbus

import (
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"strings"
	"testing"

	goburrow "github.com/goburrow/modbus"

	"luted/config"
)

const (
	pduSource = "MODBUS Application Protocol Specification V1.1b3, chapter 6, the examples"
	tcpSource = "MODBUS Messaging on TCP/IP Implementation Guide V1.0b, 3.1"
	rtuSource = "MODBUS over Serial Line V1.02, 6.2.2; checksums recomputed by bitwise division"
)

// specFrames are the specification's own examples, and the same with the checksum of a serial line.
var specFrames = []struct {
	name           string
	table          config.Table
	address, count uint16
	request, reply string // PDU
	crcs           [2]string
	data           string
	exception      Exception
	source         string
}{
	{"MB-1 coils 20 to 38", config.Coil, 0x13, 19, "01 00 13 00 13", "01 03 CD 6B 05",
		[2]string{"8E 92", "40 12"}, "CD 6B 05", 0, pduSource + " 6.1"},
	{"MB-2 inputs 197 to 218", config.Discrete, 0xC4, 22, "02 00 C4 00 16", "02 03 AC DB 35",
		[2]string{"BA A9", "20 18"}, "AC DB 35", 0, pduSource + " 6.2"},
	{"MB-3 holding registers 108 to 110", config.Holding, 0x6B, 3, "03 00 6B 00 03", "03 06 02 2B 00 00 00 64",
		[2]string{"76 87", "C8 BA"}, "02 2B 00 00 00 64", 0, pduSource + " 6.3"},
	{"MB-4 input register 9", config.Input, 8, 1, "04 00 08 00 01", "04 02 00 0A",
		[2]string{"B2 98", "F8 F4"}, "00 0A", 0, pduSource + " 6.4"},
	{"MB-5 illegal data address", config.Coil, 0x4A1, 1, "01 04 A1 00 01", "81 02",
		[2]string{}, "", IllegalAddress, pduSource + " chapter 7"},
}

// TestSpecFramesTCP plays them over a connection, both directions to the byte, for unit 0x11. The third
// is MB-16: transaction 1.
func TestSpecFramesTCP(t *testing.T) {
	for _, tt := range specFrames {
		t.Run(tt.name, func(t *testing.T) {
			reply := "00 01 00 00 00 " + hexByte(1+len(unhex(t, tt.reply))) + " 11 " + tt.reply
			if tt.table == config.Holding && reply != "00 01 00 00 00 09 11 03 06 02 2B 00 00 00 64" {
				t.Fatalf("%s is not MB-16 (%s)", reply, tcpSource)
			}
			for _, pieces := range [][]string{{reply}, single(reply)} {
				s := &script{steps: []step{{want: "00 01 00 00 00 06 11 " + tt.request, reply: pieces}}}
				data, err := scripted(t, false, s).Read(t.Context(), 0x11, tt.table, tt.address, tt.count)
				checkSpec(t, data, err, tt.data, tt.exception, tt.source)
				if s.closed {
					t.Error("the connection was closed after a right reply")
				}
			}
		})
	}
}

// TestSpecFramesRTU plays them over a serial line, with the checksums MB-10 to MB-14.
func TestSpecFramesRTU(t *testing.T) {
	for _, tt := range specFrames {
		t.Run(tt.name, func(t *testing.T) {
			request, reply := "11 "+tt.request+" "+tt.crcs[0], "11 "+tt.reply+" "+tt.crcs[1]
			if tt.exception != 0 { // no published checksums
				request, reply = withCRC("11 "+tt.request), withCRC("11 "+tt.reply)
			}
			for _, pieces := range [][]string{{reply}, single(reply)} {
				s := &script{steps: []step{{want: request, reply: pieces}}}
				data, err := scripted(t, true, s).Read(t.Context(), 0x11, tt.table, tt.address, tt.count)
				checkSpec(t, data, err, tt.data, tt.exception, rtuSource)
			}
		})
	}
}

func checkSpec(t *testing.T, data []byte, err error, want string, exception Exception, source string) {
	t.Helper()
	if exception != 0 {
		var e Exception
		if !errors.As(err, &e) || e != exception || data != nil {
			t.Errorf("got % x, %v; want exception %d (%s)", data, err, exception, source)
		}
		return
	}
	if err != nil || !bytes.Equal(data, unhex(t, want)) {
		t.Errorf("got % x, %v; want %s (%s)", data, err, want, source)
	}
}

func hexByte(n int) string {
	const digits = "0123456789ABCDEF"
	return string([]byte{digits[n>>4], digits[n&15]})
}

// TestCRC has the published vectors. The check value 0x4B37 of CRC-16/MODBUS is the usual one for
// "123456789".
func TestCRC(t *testing.T) {
	for _, tt := range []struct {
		id, data string
		want     uint16
	}{
		{"MB-9", "02 07", 0x1241}, // the document's own example, 6.2.2
		{"MB-10", "11 03 00 6B 00 03", 0x8776},
		{"MB-11", "11 03 06 02 2B 00 00 00 64", 0xBAC8},
		{"MB-12 request", "11 01 00 13 00 13", 0x928E},
		{"MB-12 reply", "11 01 03 CD 6B 05", 0x1240},
		{"MB-13 request", "11 02 00 C4 00 16", 0xA9BA},
		{"MB-13 reply", "11 02 03 AC DB 35", 0x1820},
		{"MB-14 request", "11 04 00 08 00 01", 0x98B2},
		{"MB-14 reply", "11 04 02 00 0A", 0xF4F8},
		{"MB-15", "31 32 33 34 35 36 37 38 39", 0x4B37},
	} {
		if got := crc16(unhex(t, tt.data)); got != tt.want {
			t.Errorf("%s: checksum of %s is %#04x, want %#04x (%s)", tt.id, tt.data, got, tt.want, rtuSource)
		}
	}
}

// TestLimits is MB-6 to MB-8: what the protocol has no room for is refused before anything is sent.
func TestLimits(t *testing.T) {
	for _, tt := range []struct {
		name           string
		table          config.Table
		address, count uint16
	}{
		{"no registers", config.Holding, 0, 0},
		{"126 registers", config.Input, 0, 126},
		{"no bits", config.Coil, 0, 0},
		{"2001 bits", config.Discrete, 0, 2001},
		{"past the last address", config.Holding, 65535, 2},
		{"no such table", 5, 0, 1},
		{"no table", 0, 0, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, serial := range []bool{false, true} {
				if _, err := scripted(t, serial).Read(t.Context(), 1, tt.table, tt.address, tt.count); err == nil {
					t.Error("accepted")
				}
			}
		})
	}
	// The longest replies fit the specification's 260 bytes on TCP and 256 on a serial line, and the buffer.
	if pdu := 2 + dataBytes(config.Holding, MaxRegisters); pdu > 253 || 7+pdu > bufferSize-1 || 3+pdu > 256 {
		t.Errorf("a reply of %d bytes of PDU does not fit (%s 4.1)", pdu, pduSource)
	}
}

// TestBadReplies: whatever is not the one reply to the request is an error, and on TCP the end of the
// connection. Asked is MB-3, three holding registers of device 0x11, transaction 1.
func TestBadReplies(t *testing.T) {
	const good = "00 01 00 00 00 09 11 03 06 02 2B 00 00 00 64"
	for _, tt := range []struct {
		name, reply, says string
		end               error
		kind              Kind
	}{
		{"nothing", "", "no answer in time", nil, KindTimeout},
		{"closed", "", "EOF", io.EOF, KindClosed},
		{"closed in the header", "00 01 00", "EOF", io.EOF, KindClosed},
		{"closed in the data", "00 01 00 00 00 09 11 03 06 02 2B", "EOF", io.EOF, KindClosed},
		{"stops in the header", "00 01 00", "stopped after 3 bytes", nil, KindMalformed},
		{"stops in the data", "00 01 00 00 00 09 11 03 06 02 2B", "stopped after 11 bytes", nil, KindMalformed},
		{"another transaction", "00 02" + good[5:], "transaction 2", nil, KindMalformed},
		{"another protocol", "00 01 00 01" + good[11:], "not the Modbus protocol", nil, KindMalformed},
		{"another device", "00 01 00 00 00 09 12 03 06 02 2B 00 00 00 64", "device 18", nil, KindMalformed},
		{"another function", "00 01 00 00 00 09 11 04 06 02 2B 00 00 00 64", "function 4", nil, KindMalformed},
		{"a write's reply", "00 01 00 00 00 06 11 10 00 6B 00 03", "function 16", nil, KindMalformed},
		{"one register short", "00 01 00 00 00 07 11 03 04 02 2B 00 00", "asked were 6", nil, KindMalformed},
		{"one register long", "00 01 00 00 00 0B 11 03 08 02 2B 00 00 00 64 00 00", "asked were 6", nil, KindMalformed},
		{"byte count too small", "00 01 00 00 00 09 11 03 04 02 2B 00 00 00 64", "says it has 4", nil, KindMalformed},
		{"byte count too large", "00 01 00 00 00 09 11 03 FF 02 2B 00 00 00 64", "says it has 255", nil, KindMalformed},
		{"header length short", "00 01 00 00 00 08 11 03 06 02 2B 00 00 00 64", "more than the frame", nil, KindMalformed},
		{"bytes after the frame", good + " 00", "1 bytes more", nil, KindMalformed},
		{"two frames", good + good, "15 bytes more", nil, KindMalformed},
		{"length 0", "00 01 00 00 00 00 11 03 06 02 2B 00 00 00 64", "0 bytes long", nil, KindMalformed},
		{"length 2", "00 01 00 00 00 02 11 03", "2 bytes long", nil, KindMalformed},
		{"length 65535", "00 01 00 00 FF FF 11 03 06 02 2B 00 00 00 64", "65535 bytes long", nil, KindMalformed},
		{"length 255", "00 01 00 00 00 FF 11 03 06 02 2B 00 00 00 64", "255 bytes long", nil, KindMalformed},
		{"exception of another function", "00 01 00 00 00 03 11 84 02", "function 132", nil, KindMalformed},
		{"exception with more", "00 01 00 00 00 04 11 83 02 00", "exception of 3 bytes", nil, KindMalformed},
		{"a page of text", "48 54 54 50 2F 31 2E 31 20 34 30 30 20 42 61 64", "12081 bytes long", nil, KindMalformed},
		{"the request itself", "00 01 00 00 00 06 11 03 00 6B 00 03", "itself came back", nil, KindMalformed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			first := &script{steps: []step{{want: "00 01 00 00 00 06 11 03 00 6B 00 03", end: tt.end}}}
			if tt.reply != "" {
				first.steps[0].reply = []string{tt.reply}
			}
			// The next request has the next transaction number, on a new connection.
			second := &script{steps: []step{{want: "00 02 00 00 00 06 11 03 00 6B 00 03", reply: []string{"00 02" + good[5:]}}}}
			l := scripted(t, false, first, second)
			data, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3)
			if data != nil || KindOf(err) != tt.kind || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got % x, %q (%s), want %s with %q", data, err, KindOf(err), tt.kind, tt.says)
			}
			if !first.closed {
				t.Error("the connection is still open")
			}
			if _, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3); err != nil {
				t.Errorf("after it: %v", err)
			}
		})
	}
}

// TestBadRepliesRTU is the same for a serial line, which stays open.
func TestBadRepliesRTU(t *testing.T) {
	for _, tt := range []struct {
		name, reply, says string
		kind              Kind
	}{
		{"nothing", "", "no answer in time", KindTimeout},
		{"one byte", "11", "stopped after 1 bytes", KindMalformed},
		{"stops in the data", "11 03 06 02 2B", "stopped after 5 bytes", KindMalformed},
		{"checksum wrong", "11 03 06 02 2B 00 00 00 64 C8 BB", "checksum", KindMalformed},
		{"a bit turned", "11 03 06 02 2A 00 00 00 64 C8 BA", "checksum", KindMalformed},
		{"checksum bytes exchanged", "11 03 06 02 2B 00 00 00 64 BA C8", "checksum", KindMalformed},
		{"another device", withCRC("12 03 06 02 2B 00 00 00 64"), "device 18", KindMalformed},
		{"another function", withCRC("11 04 06 02 2B 00 00 00 64"), "function 4", KindMalformed},
		{"byte count wrong", withCRC("11 03 08 02 2B 00 00 00 64"), "says it has 8", KindMalformed},
		// A zero after a frame leaves the checksum right: only the length gives it away.
		{"a zero after the frame", "11 03 06 02 2B 00 00 00 64 C8 BA 00", "a reply of 7 data bytes", KindMalformed},
		{"noise after the frame", "11 03 06 02 2B 00 00 00 64 C8 BA FF", "checksum", KindMalformed},
		{"exception of another function", withCRC("11 84 02"), "function 132", KindMalformed},
		{"echo alone", "11 03 00 6B 00 03 76 87", "switch that off", KindMalformed},
		{"echo, then the reply", "11 03 00 6B 00 03 76 87 11 03 06 02 2B 00 00 00 64 C8 BA", "switch that off", KindMalformed},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := &script{steps: []step{{want: "11 03 00 6B 00 03 76 87"}}}
			if tt.reply != "" {
				s.steps[0].reply = []string{tt.reply}
			}
			data, err := scripted(t, true, s).Read(t.Context(), 0x11, config.Holding, 0x6B, 3)
			if data != nil || KindOf(err) != tt.kind || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got % x, %q (%s), want %s with %q", data, err, KindOf(err), tt.kind, tt.says)
			}
		})
	}
}

func withCRC(s string) string {
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		panic(err)
	}
	c := crc16(b)
	return s + " " + hexByte(int(c&255)) + " " + hexByte(int(c>>8))
}

// TestEcho: the echo of this request is, byte for byte, a valid reply to it, checksum and all.
func TestEcho(t *testing.T) {
	for _, serial := range []bool{false, true} {
		frame := "00 01 00 00 00 06 11 01 03 40 00 13"
		if serial {
			frame = withCRC("11 01 03 40 00 13")
		}
		s := &script{steps: []step{{want: frame, reply: []string{frame}}}}
		data, err := scripted(t, serial, s).Read(t.Context(), 0x11, config.Coil, 0x340, 19)
		if data != nil || KindOf(err) != KindMalformed {
			t.Errorf("serial %v: got % x, %v", serial, data, err)
		}
	}
}

// TestOnlyReads: even handed a write, the last step before the wire refuses it.
func TestOnlyReads(t *testing.T) {
	for _, serial := range []bool{false, true} {
		l := scripted(t, serial)
		for f := range 256 {
			_, err := l.x.Encode(&goburrow.ProtocolDataUnit{FunctionCode: byte(f), Data: []byte{0, 0, 0, 1}})
			if read := f >= 1 && f <= 4; (err == nil) != read {
				t.Errorf("function %d: %v", f, err)
			}
		}
		if _, err := l.x.Encode(&goburrow.ProtocolDataUnit{FunctionCode: 3, Data: []byte{0, 0, 0, 1, 2, 0, 0}}); err == nil {
			t.Error("a read with data to write was accepted")
		}
	}
}
