package simstill

import (
	"context"
	"encoding/binary"
	"slices"

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
		regs, n := p.registers(s.reading(i), s.sensors[i].broken)
		for j, v := range regs[:n] {
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

// covers reports whether the device has all these addresses.
func (s *Still) covers(table config.Table, address, count uint16) bool {
	if int(table) >= len(s.areas) {
		return false
	}
	a := &s.areas[table]
	first, last := int(address)-a.low, int(address)+int(count)-a.low
	if first < 0 || last > len(a.used) {
		return false
	}
	return s.o.Sensors.Map != strictMap || !slices.Contains(a.used[first:last], false)
}

// area is the part of a table that a device has: from its first to its last register or bit in use.
type area struct {
	low  int
	used []bool
}

func areasOf(points []Point) (areas [5]area) {
	for t := range areas {
		a := &areas[t]
		high := 0
		for i := range points {
			if p := &points[i]; p.Table == config.Table(t) {
				if a.used == nil {
					a.low, a.used = int(p.Address), []bool{}
				}
				a.low = min(a.low, int(p.Address))
				high = max(high, int(p.Address)+p.size())
			}
		}
		if a.used == nil {
			continue
		}
		a.used = make([]bool, high-a.low)
		for i := range points {
			for j := range points[i].size() {
				if points[i].Table == config.Table(t) {
					a.used[int(points[i].Address)+j-a.low] = true
				}
			}
		}
	}
	return areas
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
