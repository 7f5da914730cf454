package simstill

import (
	"context"
	"encoding/binary"

	"luted/analysis"
	"luted/collector/modbus"
	"luted/config"
)

// Read answers a Modbus request in process: the data bytes of the reply, registers big-endian, bits
// lowest first. It shows the still as Advance left it. Errors are those of a device: modbus.Exception
// for what it refuses, modbus.ErrSilent while it does not answer. Any unit identifier is taken.
func (s *Still) Read(ctx context.Context, unit byte, table config.Table, address, count uint16) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.effects.silent {
		return nil, modbus.ErrSilent
	}
	if table == config.Coil || table == config.Discrete {
		on, err := s.bits(table, address, count)
		if err != nil {
			return nil, err
		}
		b := make([]byte, (len(on)+7)/8)
		for i, v := range on {
			if v {
				b[i/8] |= 1 << (i % 8)
			}
		}
		return b, nil
	}
	regs, err := s.registers(table, address, count)
	if err != nil {
		return nil, err
	}
	b := make([]byte, 0, 2*len(regs))
	for _, r := range regs {
		b = binary.BigEndian.AppendUint16(b, r)
	}
	return b, nil
}

// registers reads count registers from address on.
func (s *Still) registers(table config.Table, address, count uint16) ([]uint16, error) {
	if s.effects.exception != 0 {
		return nil, modbus.Exception(s.effects.exception)
	}
	if count == 0 || count > 125 {
		return nil, modbus.IllegalValue
	}
	if !s.covers(table, address, count) {
		return nil, modbus.IllegalAddress
	}
	out := make([]uint16, count)
	first, last := int(address), int(address)+int(count)
	for i := range s.points {
		p := &s.points[i]
		at := int(p.Address)
		if p.Table != table || at+p.size() <= first || at >= last {
			continue
		}
		for j, v := range p.registers(s.reading(i), s.sensors[i].broken) {
			if k := at + j - first; k >= 0 && k < len(out) {
				out[k] |= v // bits of one register come from several points
			}
		}
	}
	return out, nil
}

// bits reads count coils or discrete inputs from address on.
func (s *Still) bits(table config.Table, address, count uint16) ([]bool, error) {
	if s.effects.exception != 0 {
		return nil, modbus.Exception(s.effects.exception)
	}
	if count == 0 || count > 2000 {
		return nil, modbus.IllegalValue
	}
	if !s.covers(table, address, count) {
		return nil, modbus.IllegalAddress
	}
	out := make([]bool, count)
	for i := range s.points {
		p := &s.points[i]
		if k := int(p.Address) - int(address); p.Table == table && k >= 0 && k < len(out) {
			out[k] = (s.reading(i) >= 0.5) != p.Invert
		}
	}
	return out, nil
}

// covers reports whether the device has all these addresses: those between its first and last of the
// table, but for map 2, which has only the ones in use.
func (s *Still) covers(table config.Table, address, count uint16) bool {
	first, last := int(address), int(address)+int(count)
	low, high := 1<<16, -1
	used := 0
	seen := map[int]bool{}
	for i := range s.points {
		p := &s.points[i]
		if p.Table != table {
			continue
		}
		low, high = min(low, int(p.Address)), max(high, int(p.Address)+p.size())
		for a := int(p.Address); a < int(p.Address)+p.size(); a++ {
			if a >= first && a < last && !seen[a] {
				seen[a] = true
				used++
			}
		}
	}
	if s.o.Sensors.Map == 2 {
		return used == int(count)
	}
	return first >= low && last <= high
}

// Value is what a channel shows now: the reading a perfect decoder would get, in the inside unit. The
// quality is what the reader would find out by itself.
func (s *Still) Value(channel string) (analysis.Value, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := s.point(channel)
	if i < 0 {
		return analysis.Value{}, false
	}
	switch c := &s.sensors[i]; {
	case s.effects.silent:
		return analysis.Value{Quality: analysis.Silent}, true
	case s.effects.exception != 0:
		return analysis.Value{Quality: analysis.Exception}, true
	case c.broken && s.points[i].Loop:
		return analysis.Value{Quality: analysis.BrokenWire}, true
	case c.broken:
		return analysis.Value{Quality: analysis.OutOfRange}, true
	}
	return analysis.Value{V: s.reading(i)}, true
}
