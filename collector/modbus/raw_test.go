package modbus

import (
	"context"
	"slices"
	"testing"

	"luted/analysis"
	"luted/config"
)

type fixed map[config.Table][]byte

func (f fixed) Read(_ context.Context, _ byte, t config.Table, _, _ uint16) ([]byte, error) {
	return f[t], nil
}

// TestRaw: what is shown as read is what the device sent, register by register. The replies are those of
// MODBUS Application Protocol Specification V1.1b3, 6.3 (registers 108 to 110: 022B 0000 0064 hex) and 6.2
// (discrete inputs 197 to 218: AC DB 35; input 204 is the highest bit of AC).
func TestRaw(t *testing.T) {
	channel := func(name string, table config.Table, address uint16, as config.Encoding) *config.Channel {
		ch := &config.Channel{Channel: analysis.NewChannel(name), Source: config.Source{Table: table, Address: address, As: as, Scale: 1, Bit: -1}}
		return ch
	}
	st := &config.Still{Name: "s", Device: 17, Channels: []*config.Channel{
		channel("a", config.Holding, 107, config.Uint16), channel("b", config.Holding, 108, config.Uint32),
		channel("c", config.Discrete, 196, config.Bool), channel("d", config.Discrete, 203, config.Bool), channel("e", config.Discrete, 217, config.Bool),
	}}
	p := planOf(t, st, PlanOptions{})
	for i, r := range p.Raw() {
		if r.N != 0 {
			t.Errorf("channel %d is known before it was read", i)
		}
	}
	res := p.Sweep(t.Context(), fixed{config.Holding: {0x02, 0x2B, 0x00, 0x00, 0x00, 0x64}, config.Discrete: {0xAC, 0xDB, 0x35}}, make([]analysis.Value, len(st.Channels)))
	if res.Err != nil {
		t.Fatal(res.Err)
	}
	want := [][]uint16{{0x022B}, {0, 0x64}, {0}, {1}, {1}}
	for i, r := range p.Raw() {
		if !slices.Equal(r.Registers(), want[i]) || r.Bit != (i >= 2) {
			t.Errorf("%s: %04X (a bit: %v), want %04X", st.Channels[i].Name, r.Registers(), r.Bit, want[i])
		}
	}
}
