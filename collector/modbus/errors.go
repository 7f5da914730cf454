package modbus

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"syscall"
	"time"

	goburrow "github.com/goburrow/modbus"
	"github.com/goburrow/serial"

	"luted/config"
)

// Kind sorts errors for counting. Its text is the metric's label value.
type Kind string

// The kinds.
const (
	KindTimeout   Kind = "timeout"   // no answer in time
	KindRefused   Kind = "refused"   // no connection, or no serial port
	KindClosed    Kind = "closed"    // the connection ended before the reply was whole
	KindException Kind = "exception" // the device said why it will not answer
	KindMalformed Kind = "malformed" // an answer that does not match its request
	KindOther     Kind = "other"
)

// ErrSilent is what a Reader that is no network connection returns for a device that does not answer.
var ErrSilent = errors.New("no answer in time")

// Exception is a device's refusal, by its code (MODBUS Application Protocol V1.1b3, chapter 7).
type Exception byte

// The exceptions that change what luted does next.
const (
	IllegalFunction Exception = 1
	IllegalAddress  Exception = 2
	IllegalValue    Exception = 3
	GatewayPath     Exception = 10
	GatewayTarget   Exception = 11
)

var exceptionWords = map[Exception]string{
	1: "illegal function", 2: "illegal data address", 3: "illegal data value",
	4: "server device failure", 5: "acknowledged, not ready yet", 6: "server device busy",
	8: "memory parity error", 10: "gateway path unavailable", 11: "gateway target does not respond",
}

// Error gives the code and its meaning.
func (e Exception) Error() string {
	words, ok := exceptionWords[e]
	if !ok {
		words = "not a code of the specification"
	}
	return fmt.Sprintf("exception %d (%s)", byte(e), words)
}

// Error is a request that failed.
type Error struct {
	Kind       Kind
	Connecting bool // there was no connection to ask on: no device of the line can be reached
	Unit       byte
	Table      config.Table
	Address    uint16
	Count      uint16
	Err        error
}

// Error names device, table and addresses, then what was wrong.
func (e *Error) Error() string {
	if e.Connecting {
		return e.Err.Error()
	}
	last := int(e.Address) + int(e.Count) - 1
	if e.Count <= 1 {
		return fmt.Sprintf("device %d, %s %d: %v", e.Unit, tableName(e.Table), e.Address, e.Err)
	}
	return fmt.Sprintf("device %d, %s %d to %d: %v", e.Unit, tableName(e.Table), e.Address, last, e.Err)
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// malformed is a reply that does not match its request.
type malformed string

func (m malformed) Error() string { return string(m) }

// KindOf sorts an error from a Reader or from the network.
func KindOf(err error) Kind {
	var (
		own       *Error
		refusal   Exception
		library   *goburrow.ModbusError
		nonsense  malformed
		netErr    net.Error
		dnsErr    *net.DNSError
		pathError *os.PathError
	)
	switch {
	case errors.As(err, &own):
		return own.Kind
	case errors.As(err, &refusal), errors.As(err, &library):
		return KindException
	case errors.As(err, &nonsense):
		return KindMalformed
	case errors.Is(err, ErrSilent), errors.Is(err, serial.ErrTimeout),
		errors.Is(err, os.ErrDeadlineExceeded), errors.Is(err, context.DeadlineExceeded):
		return KindTimeout
	case errors.As(err, &dnsErr), errors.Is(err, syscall.ECONNREFUSED), errors.Is(err, syscall.EHOSTUNREACH),
		errors.Is(err, syscall.ENETUNREACH), errors.Is(err, os.ErrNotExist), errors.Is(err, os.ErrPermission),
		errors.As(err, &pathError):
		return KindRefused
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.ErrClosedPipe),
		errors.Is(err, net.ErrClosed), errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE),
		errors.Is(err, syscall.ECONNABORTED), errors.Is(err, syscall.EIO):
		return KindClosed
	case errors.As(err, &netErr) && netErr.Timeout():
		return KindTimeout
	}
	return KindOther
}

// silence is the error for a device that sent nothing within d.
func silence(d time.Duration) error { return fmt.Errorf("%w (%v)", ErrSilent, d) }
