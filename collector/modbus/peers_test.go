package modbus

import (
	"bufio"
	"fmt"
	"io"
	"log"
	"math"
	"net"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	simonvetter "github.com/simonvetter/modbus"

	"luted/analysis"
	"luted/config"
)

// The same registers, read from servers that nobody here wrote: pymodbus and libmodbus, on TCP and on a
// serial line, and a server in Go. Each puts the numbers into registers by its own means. The image is
// described in testdata/peer.c.

const peerUnit = 17

// peerRows are the numbers of the image in its order, each in four versions: high word first, the same
// with the bytes of each register swapped, low word first, the same with bytes swapped.
var peerRows = []struct {
	as    config.Encoding
	value float64
}{
	{config.Int16, -12345},
	{config.Uint16, 54321},
	{config.Int32, -1234567890},
	{config.Uint32, 3456789012},
	{config.Int64, -1234567890123456},
	{config.Uint64, 9007199254740991},
	{config.Float32, float64(float32(-123.456))},
	{config.Float64, -98765.4321},
}

// peerStill reads the whole image from holding and input registers, some bits, and single bits of
// registers; and, where nothing is, two values that must be refused alone.
func peerStill(line *config.Line) (*config.Still, []analysis.Value) {
	st := &config.Still{Name: "peer", Line: line, Device: peerUnit}
	var want []analysis.Value
	add := func(src config.Source, v analysis.Value) {
		ch := &config.Channel{Channel: analysis.NewChannel(fmt.Sprintf("%s_%d_%s_%v_%v", tableName(src.Table), src.Address, src.As, src.LowFirst, src.SwapByte)), Source: src}
		st.Channels = append(st.Channels, ch)
		want = append(want, v)
	}
	for _, table := range []config.Table{config.Holding, config.Input} {
		address := uint16(0)
		for _, row := range peerRows {
			for o := range 4 {
				add(config.Source{Table: table, Address: address, As: row.as, Bit: -1, LowFirst: o&2 != 0, SwapByte: o&1 != 0}, good(row.value))
				address += 4
			}
		}
	}
	for bit := range 16 { // of 54321, the second number
		add(config.Source{Table: config.Holding, Address: 16, As: config.Bool, Bit: bit}, good(truth(uint16(54321)>>bit&1 == 1)))
	}
	for _, a := range []uint16{0, 1, 2, 3, 7, 8, 9, 15, 300, 1000, 1995, 1999} {
		add(config.Source{Table: config.Coil, Address: a, As: config.Bool}, good(truth(a%3 == 0)))
		add(config.Source{Table: config.Discrete, Address: a, As: config.Bool}, good(truth(a%5 == 0)))
	}
	add(config.Source{Table: config.Holding, Address: 399, As: config.Int16, Bit: -1}, good(0))
	add(config.Source{Table: config.Holding, Address: 399, As: config.Int32, Bit: -1}, bad(analysis.Exception))
	add(config.Source{Table: config.Input, Address: 420, As: config.Int16, Bit: -1}, bad(analysis.Exception))
	return st, want
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// checkPeer sweeps the image several times over one link.
func checkPeer(t *testing.T, line *config.Line) {
	t.Helper()
	l := openLink(t, line)
	st, want := peerStill(line)
	p := planOf(t, st, PlanOptions{})
	for sweep := range 3 {
		values := make([]analysis.Value, len(want))
		res := p.Sweep(t.Context(), l, values)
		for i, ch := range st.Channels {
			if values[i] != want[i] {
				t.Errorf("sweep %d, %s: %v (%v), want %v (%v)", sweep, ch.Name, values[i], values[i].Quality, want[i], want[i].Quality)
			}
		}
		for kind, n := range res.Errors {
			if kind != string(KindException) {
				t.Errorf("sweep %d: %d errors %s: %v", sweep, n, kind, res.Err)
			}
		}
		if sweep > 0 && res.Errors["exception"] != 2 {
			t.Errorf("sweep %d: %v, want the 2 exceptions of the values that are not there", sweep, res.Errors)
		}
	}
	if t.Failed() {
		t.FailNow()
	}
	t.Logf("%d channels in %d requests", len(st.Channels), len(p.Requests()))
}

func TestPeerPymodbus(t *testing.T)  { checkPeerProgram(t, pymodbusPeer(t)) }
func TestPeerLibmodbus(t *testing.T) { checkPeerProgram(t, libmodbusPeer(t)) }

func checkPeerProgram(t *testing.T, command []string) {
	t.Run("tcp", func(t *testing.T) {
		port := startPeer(t, append(command, "tcp"))
		checkPeer(t, &config.Line{Name: "plc", TCP: "127.0.0.1:" + port, Timeout: 10 * time.Second})
	})
	t.Run("rtu", func(t *testing.T) {
		ours, theirs := wire(t)
		if got := startPeer(t, append(command, "rtu", theirs)); got != "ready" {
			t.Fatalf("the peer says %q", got)
		}
		checkPeer(t, &config.Line{Name: "bus", Serial: ours, Baud: 19200, Timeout: 10 * time.Second})
	})
}

func pymodbusPeer(t *testing.T) []string {
	const python = "/usr/bin/python3" // Debian's, which has python3-pymodbus
	out, err := exec.Command(python, "-c", "import pymodbus.framer.rtu_framer").CombinedOutput()
	need(t, err == nil, fmt.Sprintf("python3-pymodbus for %s (%v %s)", python, err, out))
	return []string{python, filepath.Join("testdata", "peer.py")}
}

func libmodbusPeer(t *testing.T) []string {
	gcc, err := exec.LookPath("gcc")
	need(t, err == nil, "gcc")
	program := filepath.Join(t.TempDir(), "peer")
	out, err := exec.Command(gcc, "-O1", "-Wall", "-I/usr/include/modbus", "-o", program, filepath.Join("testdata", "peer.c"), "-lmodbus").CombinedOutput()
	need(t, err == nil, fmt.Sprintf("libmodbus-dev (%v)\n%s", err, out))
	return []string{program}
}

// startPeer starts a program that runs until the test ends, and returns the first line it prints.
func startPeer(t *testing.T, command []string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), command[0], command[1:]...)
	var complaints strings.Builder
	cmd.Stderr = &complaints
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		cmd.Wait()
		t.Fatalf("%s: %v\n%s", command, err, complaints.String())
	}
	return strings.TrimSpace(line)
}

// wire joins two pseudo-terminals: what is sent on one arrives on the other.
func wire(t *testing.T) (a, b string) {
	t.Helper()
	var copies sync.WaitGroup
	t.Cleanup(copies.Wait) // which runs after the terminals are closed
	farA, a := terminal(t)
	farB, b := terminal(t)
	copies.Go(func() { io.Copy(farA, farB) })
	copies.Go(func() { io.Copy(farB, farA) })
	return a, b
}

// goPeer is the image behind the server in Go.
type goPeer struct{ registers [400]uint16 }

func newGoPeer() *goPeer {
	p := &goPeer{}
	address := 0
	for _, row := range peerRows {
		n := row.as.Registers()
		var pattern uint64
		switch row.as {
		case config.Float32:
			pattern = uint64(math.Float32bits(float32(row.value)))
		case config.Float64:
			pattern = math.Float64bits(row.value)
		default:
			pattern = uint64(int64(row.value))
		}
		for o := range 4 {
			for i := range n {
				w := uint16(pattern >> (16 * (n - 1 - i)))
				if o&1 != 0 {
					w = w<<8 | w>>8
				}
				if o&2 != 0 {
					p.registers[address+n-1-i] = w
				} else {
					p.registers[address+i] = w
				}
			}
			address += 4
		}
	}
	return p
}

func (p *goPeer) words(address, count uint16) ([]uint16, error) {
	if int(address)+int(count) > len(p.registers) {
		return nil, simonvetter.ErrIllegalDataAddress
	}
	return p.registers[address : address+count], nil
}

func peerBits(address, count uint16, every int) ([]bool, error) {
	if int(address)+int(count) > 2000 {
		return nil, simonvetter.ErrIllegalDataAddress
	}
	out := make([]bool, count)
	for i := range out {
		out[i] = (int(address)+i)%every == 0
	}
	return out, nil
}

func (p *goPeer) HandleCoils(q *simonvetter.CoilsRequest) ([]bool, error) {
	return peerBits(q.Addr, q.Quantity, 3)
}
func (p *goPeer) HandleDiscreteInputs(q *simonvetter.DiscreteInputsRequest) ([]bool, error) {
	return peerBits(q.Addr, q.Quantity, 5)
}
func (p *goPeer) HandleHoldingRegisters(q *simonvetter.HoldingRegistersRequest) ([]uint16, error) {
	return p.words(q.Addr, q.Quantity)
}
func (p *goPeer) HandleInputRegisters(q *simonvetter.InputRegistersRequest) ([]uint16, error) {
	return p.words(q.Addr, q.Quantity)
}

// startGoPeer listens on a port of loopback. The library does not tell which port it got, so one that
// was free a moment ago is tried.
func startGoPeer(t testing.TB) *config.Line {
	t.Helper()
	var err error
	for range 10 {
		var ln net.Listener
		if ln, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			continue
		}
		address := ln.Addr().String()
		ln.Close()
		var s *simonvetter.ModbusServer
		s, err = simonvetter.NewServer(&simonvetter.ServerConfiguration{URL: "tcp://" + address, Logger: log.New(io.Discard, "", 0)}, newGoPeer())
		if err != nil {
			continue
		}
		if err = s.Start(); err == nil {
			t.Cleanup(func() { s.Stop() })
			return &config.Line{Name: "plc", TCP: address, Timeout: 10 * time.Second}
		}
	}
	t.Fatal(err)
	return nil
}

func TestPeerGo(t *testing.T) { checkPeer(t, startGoPeer(t)) }
