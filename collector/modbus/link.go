package modbus

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	goburrow "github.com/goburrow/modbus"

	"luted/config"
)

// LinkOptions are for tests; the zero value reaches real devices.
type LinkOptions struct {
	// Dial opens TCP connections. Nil: a net.Dialer.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
	// open opens the serial port. Nil: openSerial.
	open func(line *config.Line) (conn, error)
}

// conn is what a Link needs of a connection; net.Conn has it.
type conn interface {
	Read([]byte) (int, error)
	Write([]byte) (int, error)
	Close() error
	SetDeadline(time.Time) error
}

// reads is the part of the protocol client that luted uses. The rest is out of reach.
type reads interface {
	ReadCoils(address, quantity uint16) ([]byte, error)
	ReadDiscreteInputs(address, quantity uint16) ([]byte, error)
	ReadHoldingRegisters(address, quantity uint16) ([]byte, error)
	ReadInputRegisters(address, quantity uint16) ([]byte, error)
}

// Link is the Reader for one line. It connects when it is first read, and again when it is read after
// the connection was lost or given up. Not safe for concurrent use; the slice that Read returns is
// overwritten by the next.
type Link struct {
	line    *config.Line
	timeout time.Duration
	pause   time.Duration // at least this long between a reply and the next request
	o       LinkOptions

	client reads
	x      *exchange
	unit   *byte // where the packager keeps it

	conn  conn // nil: not connected
	peek  func() (pending int, err error)
	ended time.Time // of the last exchange
	late  lateReplies
}

// defaultTimeout is used for a line that states none.
const defaultTimeout = time.Second

// NewLink prepares a line; nothing is opened before the first Read.
func NewLink(line *config.Line, o LinkOptions) (*Link, error) {
	l := &Link{line: line, timeout: line.Timeout, pause: line.Pause, o: o}
	if l.timeout <= 0 {
		l.timeout = defaultTimeout
	}
	switch {
	case line.TCP != "" && line.Serial != "":
		return nil, fmt.Errorf("line %s: has both tcp and serial; give one", line.Name)
	case line.TCP != "":
		// One packager for the life of the link: transaction numbers go on over reconnections, so a
		// gateway that mixes up connections cannot make an old reply look new.
		h := goburrow.NewTCPClientHandler(line.TCP)
		l.x, l.unit = &exchange{Packager: h, framing: tcpFraming}, &h.SlaveId
	case line.Serial != "":
		h := goburrow.NewRTUClientHandler(line.Serial)
		l.x, l.unit = &exchange{Packager: h, framing: rtuFraming}, &h.SlaveId
		l.pause -= frameSilence(line.Baud) // which drain waits for anyway
		l.late = lateReplies{}
	default:
		return nil, fmt.Errorf("line %s: has neither tcp nor serial; give one", line.Name)
	}
	if l.o.Dial == nil {
		l.o.Dial = (&net.Dialer{}).DialContext
	}
	if l.o.open == nil {
		l.o.open = openSerial
	}
	l.client = goburrow.NewClient(l.x)
	return l, nil
}

// Read asks a device on the line. Requests beyond the protocol's limits are refused before anything is
// sent. An error that is no exception of the device ends the connection.
func (l *Link) Read(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error) {
	data, err := l.read(ctx, unit, table, address, count)
	if err == nil {
		return data, nil
	}
	var own *Error
	if !errors.As(err, &own) {
		own = &Error{Kind: KindOf(err), Err: err}
	}
	own.Unit, own.Table, own.Address, own.Count = unit, table, address, count
	return nil, own
}

// Close ends the connection, if there is one. The link may be read again.
func (l *Link) Close() error {
	if l.conn == nil {
		return nil
	}
	err := l.conn.Close()
	l.conn, l.peek, l.x.conn = nil, nil, nil
	return err
}

func (l *Link) read(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error) {
	if err := checkRequest(table, address, count); err != nil {
		return nil, err
	}
	if err := l.connect(ctx); err != nil {
		return nil, err
	}
	if l.late != nil {
		if err := l.resync(ctx, unit, table, address, count); err != nil {
			return nil, err
		}
	}
	return l.ask(ctx, unit, table, address, count)
}

// ask sends one request over the open connection and returns the data of its reply.
func (l *Link) ask(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error) {
	if err := sleep(ctx, time.Until(l.ended.Add(l.pause))); err != nil {
		return nil, err
	}
	limit := l.timeout + l.onTheWire(table, count)
	if err := l.clear(ctx, limit); err != nil {
		l.Close()
		return nil, err
	}
	c := l.conn
	stop := context.AfterFunc(ctx, func() { c.SetDeadline(time.Unix(1, 0)) })
	*l.unit = unit
	data, err := l.call(table, address, count)
	if !stop() { // the deadline is spoilt, now or in a moment
		l.Close()
	}
	l.ended = time.Now()
	err = cause(ctx, err, limit)
	if l.late != nil {
		l.late.note(unit, table, count, err, l.ended)
	}
	if err != nil && KindOf(err) != KindException {
		l.giveUp(err)
	}
	return data, err
}

func (l *Link) call(table config.Table, address, count uint16) ([]byte, error) {
	switch table {
	case config.Coil:
		return l.client.ReadCoils(address, count)
	case config.Discrete:
		return l.client.ReadDiscreteInputs(address, count)
	case config.Holding:
		return l.client.ReadHoldingRegisters(address, count)
	}
	return l.client.ReadInputRegisters(address, count)
}

// cause puts an error of the exchange into luted's words.
func cause(ctx context.Context, err error, limit time.Duration) error {
	var refusal *goburrow.ModbusError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.As(err, &refusal):
		return Exception(refusal.ExceptionCode)
	case KindOf(err) == KindTimeout:
		return silence(limit)
	}
	return err
}

// giveUp is what follows an exchange that failed: on TCP the connection is closed, so nothing that
// comes late can ever be read. A serial port stays open, unless it is the port that failed; what
// comes late there is thrown away before the next request.
func (l *Link) giveUp(err error) {
	kind := KindOf(err)
	if l.line.Serial != "" && (kind == KindTimeout || kind == KindMalformed) {
		return
	}
	l.Close()
}

// connect opens the connection if there is none.
func (l *Link) connect(ctx context.Context) error {
	if l.conn != nil {
		return nil
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	c, err := l.open(ctx)
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return &Error{Kind: KindOf(err), Connecting: true, Err: err}
	}
	l.conn, l.x.conn, l.peek = c, c, peeker(c)
	return nil
}

func (l *Link) open(ctx context.Context) (conn, error) {
	if l.line.Serial != "" {
		return l.o.open(l.line)
	}
	ctx, cancel := context.WithTimeout(ctx, l.timeout)
	defer cancel()
	c, err := l.o.Dial(ctx, "tcp", l.line.TCP)
	if err != nil {
		return nil, err
	}
	return c, nil
}

// clear makes sure that nothing from before is waiting to be taken for the next reply, and leaves the
// connection with limit to go.
func (l *Link) clear(ctx context.Context, limit time.Duration) error {
	if l.line.Serial != "" {
		if err := l.drain(ctx); err != nil {
			return err
		}
		return l.conn.SetDeadline(time.Now().Add(limit))
	}
	if err := l.conn.SetDeadline(time.Now().Add(limit)); err != nil {
		return err
	}
	if l.peek == nil {
		return nil // a connection in memory: the transaction number alone decides
	}
	pending, err := l.peek()
	if err != nil {
		// The device has closed the connection while it was idle, as many do: no error, dial again.
		l.Close()
		if err := l.connect(ctx); err != nil {
			return err
		}
		return l.conn.SetDeadline(time.Now().Add(limit))
	}
	if pending > 0 {
		return malformed("bytes that nobody asked for")
	}
	return nil
}
