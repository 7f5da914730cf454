package simstill

import (
	"bytes"
	"encoding/binary"
	"errors"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	goburrow "github.com/goburrow/modbus"

	"luted/config"
)

// client is a Modbus TCP client that nobody here wrote.
func client(t *testing.T, addr string, unit byte, timeout time.Duration) goburrow.Client {
	t.Helper()
	h := goburrow.NewTCPClientHandler(addr)
	h.SlaveId, h.Timeout = unit, timeout
	t.Cleanup(func() { h.Close() })
	return goburrow.NewClient(h)
}

func listen(t *testing.T, now func() time.Time, stills ...*Still) *Server {
	t.Helper()
	srv, err := Listen("127.0.0.1:0", now, stills...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { srv.Close() })
	return srv
}

func TestServerServesTheImage(t *testing.T) {
	a := newStill(t, Options{Name: "a", Seed: 1, Sensors: Sensors{Set: Full, Map: 1}})
	b := newStill(t, Options{Name: "b", Seed: 2, Sensors: Sensors{Set: Typical, Map: 3}})
	start(t, a, Batch{Solvent: one("toluene")})
	var now atomic.Int64
	srv := listen(t, func() time.Time { return monday.Add(time.Duration(now.Load())) }, a, b)
	ca, cb := client(t, srv.Addr(), 1, 5*time.Second), client(t, srv.Addr(), 2, 5*time.Second)
	for _, at := range []time.Duration{0, 3 * time.Minute, time.Hour} {
		now.Store(int64(at))
		for _, tt := range []struct {
			name string
			read func() ([]byte, error)
			of   *Still
			tab  config.Table
			addr uint16
			n    uint16
		}{
			{"holding", func() ([]byte, error) { return ca.ReadHoldingRegisters(0, 20) }, a, config.Holding, 0, 20},
			{"input", func() ([]byte, error) { return ca.ReadInputRegisters(5, 2) }, a, config.Input, 5, 2},
			{"discrete", func() ([]byte, error) { return ca.ReadDiscreteInputs(3, 4) }, a, config.Discrete, 3, 4},
			{"coils of the other unit", func() ([]byte, error) { return cb.ReadCoils(16, 3) }, b, config.Coil, 16, 3},
			{"loops of the other unit", func() ([]byte, error) { return cb.ReadInputRegisters(0, 2) }, b, config.Input, 0, 2},
		} {
			got, err := tt.read()
			if err != nil {
				t.Fatalf("%s after %v: %v", tt.name, at, err)
			}
			want, err := tt.of.Read(t.Context(), 1, tt.tab, tt.addr, tt.n)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%s after %v: % x over the wire, % x in process", tt.name, at, got, want)
			}
			if tt.of.Now() != monday.Add(at) {
				t.Errorf("%s: the still is at %v, want %v", tt.name, tt.of.Now().Sub(monday), at)
			}
		}
	}
	// Int16 tenths: an hour into a run, the oil is hot.
	data, err := ca.ReadHoldingRegisters(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	if oil := float64(int16(binary.BigEndian.Uint16(data))) / 10; oil < 130 || oil > 160 {
		t.Errorf("oil at %.1f °C after an hour of heating", oil)
	}
}

// Nothing can be written: functions 5, 6, 15 and 16 are refused as illegal functions (exception 1).
func TestServerRefusesWrites(t *testing.T) {
	s := newStill(t, Options{Sensors: Sensors{Map: 3}})
	c := client(t, listen(t, func() time.Time { return monday }, s).Addr(), 1, 5*time.Second)
	for _, tt := range []struct {
		name  string
		write func() ([]byte, error)
		want  byte
	}{
		{"5 write single coil", func() ([]byte, error) { return c.WriteSingleCoil(16, 0xff00) }, 1},
		{"6 write single register", func() ([]byte, error) { return c.WriteSingleRegister(1000, 1) }, 1},
		{"15 write multiple coils", func() ([]byte, error) { return c.WriteMultipleCoils(16, 2, []byte{3}) }, 1},
		{"16 write multiple registers", func() ([]byte, error) { return c.WriteMultipleRegisters(1000, 1, []byte{0, 1}) }, 1},
		{"22 mask write register", func() ([]byte, error) { return c.MaskWriteRegister(1000, 1, 1) }, 1},
		{"3 outside the map", func() ([]byte, error) { return c.ReadHoldingRegisters(0, 1) }, 2},
	} {
		_, err := tt.write()
		var e *goburrow.ModbusError
		if !errors.As(err, &e) || e.ExceptionCode != tt.want {
			t.Errorf("%s: %v, want exception %d", tt.name, err, tt.want)
		}
	}
}

func TestServerUnitsAndFaults(t *testing.T) {
	s := newStill(t, Options{})
	srv := listen(t, func() time.Time { return monday }, s)
	var e *goburrow.ModbusError
	if _, err := client(t, srv.Addr(), 2, 5*time.Second).ReadHoldingRegisters(0, 1); !errors.As(err, &e) || e.ExceptionCode != 11 {
		t.Errorf("unit that is not there: %v, want exception 11", err)
	}
	if err := s.Set(DeviceException, 6); err != nil {
		t.Fatal(err)
	}
	if _, err := client(t, srv.Addr(), 1, 5*time.Second).ReadHoldingRegisters(0, 1); !errors.As(err, &e) || e.ExceptionCode != 6 {
		t.Errorf("busy device: %v, want exception 6", err)
	}
	s.Clear(DeviceException)
	if err := s.Set(DeviceSilent, 0); err != nil {
		t.Fatal(err)
	}
	_, err := client(t, srv.Addr(), 1, 50*time.Millisecond).ReadHoldingRegisters(0, 1)
	var netErr net.Error
	if !errors.As(err, &netErr) || !netErr.Timeout() {
		t.Errorf("silent device: %v, want a timeout", err)
	}
	if err := srv.Close(); err != nil {
		t.Error(err)
	}
	if err := srv.Close(); err != nil {
		t.Errorf("closing twice: %v", err)
	}
}

// Many clients at once, the clock running: no reply is torn or lost. Worth running with -race.
func TestServerConcurrentClients(t *testing.T) {
	s := newStill(t, Options{Sensors: Sensors{Set: Full, Map: 1}})
	start(t, s, Batch{Solvent: one("toluene")})
	var now atomic.Int64
	srv := listen(t, func() time.Time { return monday.Add(time.Duration(now.Add(int64(time.Second)))) }, s)
	var wg sync.WaitGroup
	for range 8 {
		c := client(t, srv.Addr(), 1, 5*time.Second)
		wg.Go(func() {
			for range 50 {
				data, err := c.ReadHoldingRegisters(0, 20)
				if err != nil || len(data) != 40 {
					t.Errorf("%d bytes, %v", len(data), err)
					return
				}
			}
		})
	}
	wg.Wait()
	if got := s.Now().Sub(monday); got != 400*time.Second {
		t.Errorf("400 requests, each a second later: the still is at %v", got)
	}
}

func TestListenRefuses(t *testing.T) {
	now := func() time.Time { return monday }
	if _, err := Listen("127.0.0.1:0", now); err == nil {
		t.Error("a server without stills")
	}
	if _, err := Listen("nowhere", now, newStill(t, Options{})); err == nil {
		t.Error("an address without a port")
	}
	srv := listen(t, now, newStill(t, Options{}))
	if _, err := Listen(srv.Addr(), now, newStill(t, Options{})); err == nil {
		t.Error("an address that is in use")
	}
}
