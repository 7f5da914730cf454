package modbus

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"

	goburrow "github.com/goburrow/modbus"

	"luted/config"
)

// What the protocol client leaves unchecked is checked here: that a reply is whole, and that it is the
// reply to this request.

// framing is one of the two ways to put a request on a wire.
type framing struct {
	// receive reads one reply to the request into buf. It reads on until the reply is whole, but never
	// more than one byte past the longest valid reply.
	receive func(r io.Reader, request, buf []byte) (int, error)
	// verify returns nil only for the one reply that matches the request.
	verify func(request, reply []byte) error
}

// exchange is what the protocol client sees of a connection: it packs and unpacks with the client's
// own packager, and sends and checks with luted's framing.
type exchange struct {
	goburrow.Packager
	framing
	conn io.ReadWriter
	buf  [bufferSize]byte
}

// bufferSize is the longest frame, 260 bytes on TCP and 256 on a serial line, and one more to notice
// that there is more.
const bufferSize = 260 + 1

// Encode refuses everything that is not a read.
func (x *exchange) Encode(pdu *goburrow.ProtocolDataUnit) ([]byte, error) {
	if pdu.FunctionCode < byte(config.Coil) || pdu.FunctionCode > byte(config.Input) || len(pdu.Data) != 4 {
		return nil, fmt.Errorf("function %d is not a read: luted only reads", pdu.FunctionCode)
	}
	return x.Packager.Encode(pdu)
}

// Send writes the request and waits for the reply. The deadline is the connection's.
func (x *exchange) Send(request []byte) ([]byte, error) {
	if _, err := x.conn.Write(request); err != nil {
		return nil, err
	}
	n, err := x.receive(x.conn, request, x.buf[:])
	// The echo of a request for 17 to 24 bits at address 768 to 1023 is, byte for byte, a valid reply
	// to it.
	if bytes.HasPrefix(x.buf[:n], request) {
		return nil, malformed("the request itself came back; if the adapter echoes what it sends, switch that off")
	}
	if err != nil {
		if n > 0 && KindOf(err) == KindTimeout {
			err = malformed(fmt.Sprintf("the reply stopped after %d bytes", n))
		}
		return nil, err
	}
	return x.buf[:n], nil
}

// Verify is called before Decode, so Decode only sees frames that are right.
func (x *exchange) Verify(request, reply []byte) error { return x.verify(request, reply) }

// verifyPDU compares the reply's function and length with the request's, both without unit, transaction
// and checksum.
func verifyPDU(request, reply []byte) error {
	function, count := request[0], binary.BigEndian.Uint16(request[3:])
	want := dataBytes(config.Table(function), count)
	switch {
	case len(reply) < 2:
		return malformed(fmt.Sprintf("a reply of %d bytes", len(reply)))
	case reply[0] == function|0x80:
		if len(reply) != 2 {
			return malformed(fmt.Sprintf("an exception of %d bytes instead of 2", len(reply)))
		}
		return nil
	case reply[0] != function:
		return malformed(fmt.Sprintf("a reply to function %d, asked was %d", reply[0], function))
	case int(reply[1]) != want || len(reply) != 2+want:
		return malformed(fmt.Sprintf("a reply of %d data bytes that says it has %d; asked were %d", len(reply)-2, reply[1], want))
	}
	return nil
}

// tcpHeader is the length of the MBAP header: transaction, protocol, length, unit.
const tcpHeader = 7

// tcpFraming is MODBUS Messaging on TCP/IP Implementation Guide V1.0b, 3.1.
var tcpFraming = framing{receive: receiveTCP, verify: verifyTCP}

func receiveTCP(r io.Reader, request, buf []byte) (int, error) {
	n, err := io.ReadAtLeast(r, buf, tcpHeader)
	if err != nil {
		return n, err
	}
	// The length counts unit, function and at least one byte more.
	length := int(binary.BigEndian.Uint16(buf[4:]))
	if length < 3 || length > bufferSize-1-6 {
		return n, malformed(fmt.Sprintf("a frame that says it is %d bytes long", length))
	}
	if whole := 6 + length; n < whole {
		m, err := io.ReadAtLeast(r, buf[n:], whole-n)
		n += m
		return n, err
	}
	return n, nil
}

func verifyTCP(request, reply []byte) error {
	if len(reply) < tcpHeader+2 {
		return malformed(fmt.Sprintf("a frame of %d bytes", len(reply)))
	}
	switch length := int(binary.BigEndian.Uint16(reply[4:])); {
	case reply[0] != request[0] || reply[1] != request[1]:
		return malformed(fmt.Sprintf("a reply to transaction %d, asked was %d",
			binary.BigEndian.Uint16(reply), binary.BigEndian.Uint16(request)))
	case reply[2] != 0 || reply[3] != 0:
		return malformed("not the Modbus protocol")
	case len(reply) != 6+length:
		return malformed(fmt.Sprintf("%d bytes more than the frame", len(reply)-6-length))
	case reply[6] != request[6]:
		return malformed(fmt.Sprintf("a reply from device %d, asked was %d", reply[6], request[6]))
	}
	return verifyPDU(request[tcpHeader:], reply[tcpHeader:])
}

// rtuFraming is MODBUS over Serial Line V1.02, 2.5.1: unit, PDU, CRC. The end of a frame is a silence that
// cannot be timed through a USB adapter or a busy kernel, so the length is taken from the request.
var rtuFraming = framing{receive: receiveRTU, verify: verifyRTU}

func receiveRTU(r io.Reader, request, buf []byte) (int, error) {
	function := request[1]
	n, err := io.ReadAtLeast(r, buf, 2)
	if err != nil {
		return n, err
	}
	whole := 5 // unit, function, code, CRC
	switch {
	case buf[0] != request[0]:
		return n, malformed(fmt.Sprintf("a reply from device %d, asked was %d", buf[0], request[0]))
	case buf[1] == function:
		whole += dataBytes(config.Table(function), binary.BigEndian.Uint16(request[4:]))
	case buf[1] != function|0x80:
		return n, malformed(fmt.Sprintf("a reply to function %d, asked was %d", buf[1], function))
	}
	if n < whole {
		m, err := io.ReadAtLeast(r, buf[n:], whole-n)
		n += m
		return n, err
	}
	return n, nil
}

func verifyRTU(request, reply []byte) error {
	if len(reply) < 5 {
		return malformed(fmt.Sprintf("a frame of %d bytes", len(reply)))
	}
	end := len(reply) - 2
	if got, want := binary.LittleEndian.Uint16(reply[end:]), crc16(reply[:end]); got != want {
		return malformed(fmt.Sprintf("a checksum of %#04x instead of %#04x", got, want))
	}
	if reply[0] != request[0] {
		return malformed(fmt.Sprintf("a reply from device %d, asked was %d", reply[0], request[0]))
	}
	return verifyPDU(request[1:len(request)-2], reply[1:end])
}

// crc16 is the checksum of MODBUS over Serial Line V1.02, 6.2.2: start 0xFFFF, polynomial 0xA001.
func crc16(data []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range data {
		crc ^= uint16(b)
		for range 8 {
			if crc&1 == 1 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}
