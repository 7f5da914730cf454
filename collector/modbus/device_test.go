package modbus

import (
	"context"
	"fmt"
	"testing"

	"luted/analysis"
	"luted/config"
)

// device is a Reader in memory. Register a of every table holds a; bit a is set if a is odd.
type device struct {
	refuse func(r Request) error // nil: answers everything
	asked  []Request
	buf    [2 * MaxRegisters]byte
}

func (d *device) Read(_ context.Context, _ byte, table config.Table, address, count uint16) ([]byte, error) {
	r := Request{table, address, count}
	d.asked = append(d.asked, r)
	if d.refuse != nil {
		if err := d.refuse(r); err != nil {
			return nil, err
		}
	}
	data := d.buf[:dataBytes(table, count)]
	clear(data)
	for i := range int(count) {
		a := int(address) + i
		if bits(table) {
			data[i/8] |= byte(a&1) << (i % 8)
		} else {
			data[2*i], data[2*i+1] = byte(a>>8), byte(a)
		}
	}
	return data, nil
}

// without refuses every request that touches one of the addresses of a table.
func without(table config.Table, addresses ...int) func(Request) error {
	return func(r Request) error {
		for _, a := range addresses {
			if r.Table == table && a >= int(r.Address) && a < int(r.Address)+int(r.Count) {
				return IllegalAddress
			}
		}
		return nil
	}
}

// at makes a channel of one register at an address.
func at(table config.Table, address int) *config.Channel {
	src := config.Source{Table: table, Address: uint16(address), As: config.Uint16, Bit: -1}
	if bits(table) {
		src.As = config.Bool
	}
	return &config.Channel{Channel: analysis.NewChannel(fmt.Sprintf("%s_%d", tableName(table), address)), Source: src}
}

// wide is at, for a value of several registers.
func wide(table config.Table, address int, e config.Encoding) *config.Channel {
	ch := at(table, address)
	ch.Source.As = e
	return ch
}

// holding makes a still that reads single holding registers.
func holding(addresses ...int) *config.Still {
	st := &config.Still{Name: "north", Device: 1}
	for _, a := range addresses {
		st.Channels = append(st.Channels, at(config.Holding, a))
	}
	return st
}

func planOf(t testing.TB, st *config.Still, o PlanOptions) *Plan {
	t.Helper()
	p, err := NewPlan(st, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// sweepOnce sweeps and returns the values and what was asked.
func sweepOnce(t testing.TB, p *Plan, d *device) ([]analysis.Value, SweepResult, []Request) {
	t.Helper()
	d.asked = nil
	values := make([]analysis.Value, p.channels)
	res := p.Sweep(t.Context(), d, values)
	return values, res, d.asked
}

// wantValues compares the values of single registers: each is its address, or a quality.
func wantValues(t testing.TB, st *config.Still, got []analysis.Value, bad map[int]analysis.Quality) {
	t.Helper()
	for i, ch := range st.Channels {
		a := int(ch.Source.Address)
		want := analysis.Value{V: float64(a)}
		if bits(ch.Source.Table) {
			want.V = float64(a & 1)
		}
		if q, ok := bad[a]; ok {
			want = analysis.Value{Quality: q}
		}
		if got[i] != want {
			t.Errorf("%s is %v (%v), want %v (%v)", ch.Name, got[i], got[i].Quality, want, want.Quality)
		}
	}
}
