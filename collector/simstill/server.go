package simstill

import (
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"sync"
	"time"

	simonvetter "github.com/simonvetter/modbus"

	"luted/collector/modbus"
	"luted/config"
)

// Server serves stills over Modbus TCP, unit identifiers 1, 2, ... in the order given. Every request
// first brings its still up to now. Writing functions (5, 6, 15, 16) are refused as illegal functions.
type Server struct {
	addr   string
	now    func() time.Time
	stills []*Still
	server *simonvetter.ModbusServer
	closed chan struct{}
	once   sync.Once
}

// holdBack is how long a silent device keeps a request before its gateway gives up. The server library
// cannot leave a request without an answer; a client that waits less sees silence.
const holdBack = 5 * time.Second

const maxClients = 64

// Listen serves the stills at addr (host:port; port 0 picks a free one) until Close. now is the clock of
// the simulation.
func Listen(addr string, now func() time.Time, stills ...*Still) (*Server, error) {
	if len(stills) == 0 || len(stills) > 247 {
		return nil, fmt.Errorf("a server carries 1 to 247 stills, not %d", len(stills))
	}
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("simulated stills: address %q: %w", addr, err)
	}
	s := &Server{now: now, stills: stills, closed: make(chan struct{})}
	// The library does not tell which port it got, so a free one is found first; should someone else take
	// it in between, try again.
	for try := range 10 {
		s.addr = addr
		if port == "0" {
			if s.addr, err = freeAddr(host); err != nil {
				return nil, fmt.Errorf("simulated stills: %w", err)
			}
		}
		s.server, err = simonvetter.NewServer(&simonvetter.ServerConfiguration{
			URL: "tcp://" + s.addr, Timeout: 10 * time.Minute, MaxClients: maxClients, Logger: log.New(io.Discard, "", 0)}, handler{s})
		if err != nil {
			return nil, fmt.Errorf("simulated stills: address %q: %w", addr, err)
		}
		if err = s.server.Start(); err == nil {
			return s, nil
		}
		if port != "0" || try == 9 {
			break
		}
	}
	return nil, fmt.Errorf("simulated stills: %w", err)
}

func freeAddr(host string) (string, error) {
	l, err := net.Listen("tcp", net.JoinHostPort(host, "0"))
	if err != nil {
		return "", err
	}
	defer l.Close()
	return l.Addr().String(), nil
}

// Addr is host:port of the server.
func (s *Server) Addr() string { return s.addr }

// Close stops serving and closes all connections. Requests being held back end at once.
func (s *Server) Close() error {
	var err error
	s.once.Do(func() {
		close(s.closed)
		err = s.server.Stop()
	})
	return err
}

// still finds the still of a unit and brings it up to now.
func (s *Server) still(unit uint8) (*Still, error) {
	if unit < 1 || int(unit) > len(s.stills) {
		return nil, simonvetter.ErrGWTargetFailedToRespond
	}
	st := s.stills[unit-1]
	st.mu.Lock()
	st.advance(s.now())
	silent := st.effects.silent
	st.mu.Unlock()
	if silent {
		t := time.NewTimer(holdBack)
		defer t.Stop()
		select {
		case <-t.C:
		case <-s.closed:
		}
		return nil, simonvetter.ErrGWTargetFailedToRespond
	}
	return st, nil
}

// handler answers the library's callbacks. They come from one goroutine a connection.
type handler struct{ s *Server }

// HandleCoils answers function 1 and refuses 5 and 15.
func (h handler) HandleCoils(r *simonvetter.CoilsRequest) ([]bool, error) {
	if r.IsWrite {
		return nil, simonvetter.ErrIllegalFunction
	}
	return h.bits(r.UnitId, config.Coil, r.Addr, r.Quantity)
}

// HandleDiscreteInputs answers function 2.
func (h handler) HandleDiscreteInputs(r *simonvetter.DiscreteInputsRequest) ([]bool, error) {
	return h.bits(r.UnitId, config.Discrete, r.Addr, r.Quantity)
}

// HandleHoldingRegisters answers function 3 and refuses 6 and 16.
func (h handler) HandleHoldingRegisters(r *simonvetter.HoldingRegistersRequest) ([]uint16, error) {
	if r.IsWrite {
		return nil, simonvetter.ErrIllegalFunction
	}
	return h.registers(r.UnitId, config.Holding, r.Addr, r.Quantity)
}

// HandleInputRegisters answers function 4.
func (h handler) HandleInputRegisters(r *simonvetter.InputRegistersRequest) ([]uint16, error) {
	return h.registers(r.UnitId, config.Input, r.Addr, r.Quantity)
}

func (h handler) bits(unit uint8, table config.Table, address, count uint16) ([]bool, error) {
	st, err := h.s.still(unit)
	if err != nil {
		return nil, err
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	on, err := st.bits(table, address, count)
	return on, libraryError(err)
}

func (h handler) registers(unit uint8, table config.Table, address, count uint16) ([]uint16, error) {
	st, err := h.s.still(unit)
	if err != nil {
		return nil, err
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	regs, err := st.registers(table, address, count)
	return regs, libraryError(err)
}

var libraryErrors = map[modbus.Exception]error{
	1: simonvetter.ErrIllegalFunction, 2: simonvetter.ErrIllegalDataAddress, 3: simonvetter.ErrIllegalDataValue,
	4: simonvetter.ErrServerDeviceFailure, 5: simonvetter.ErrAcknowledge, 6: simonvetter.ErrServerDeviceBusy,
	8: simonvetter.ErrMemoryParityError, 10: simonvetter.ErrGWPathUnavailable, 11: simonvetter.ErrGWTargetFailedToRespond,
}

// libraryError turns a refusal into the library's word for it.
func libraryError(err error) error {
	var e modbus.Exception
	if !errors.As(err, &e) {
		return err
	}
	if known, ok := libraryErrors[e]; ok {
		return known
	}
	return simonvetter.ErrServerDeviceFailure
}
