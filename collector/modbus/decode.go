package modbus

import (
	"encoding/binary"
	"fmt"
	"math"

	"luted/analysis"
	"luted/config"
)

// Decoder turns the registers or the bit of one channel into its value. It is made once and costs no
// memory to use.
//
// The steps, in order: bytes and words to a number; the number, scaled, to the channel's unit; that to
// the inside unit, once, by config.Unit.Inside; last, is it a number that can be true. A reading that
// fails on the way has no number:
//
//	broken-wire   the current loop is at 3.6 mA or below, or at 21.0 mA or above (see loop.go)
//	out-of-range  the current loop is in the bands between measurement and failure
//	implausible   not a number, infinite, outside the signal's plausible range, or a switch that is
//	              neither 0 nor 1
//
// 64-bit integers beyond 2^53 are rounded to the nearest float64.
type Decoder struct {
	form     form
	words    int // registers that the value takes
	lowFirst bool
	swap     bool
	bit      int // -1: not a bit
	invert   bool
	isSwitch bool

	scale   scaling
	loop    currentLoop
	unit    config.Unit
	min     float64 // plausible range, inside unit
	max     float64
	bounded bool
}

// NewDecoder makes the decoder of a channel. The error says what about its source makes no sense.
func NewDecoder(ch *config.Channel) (Decoder, error) {
	src := ch.Source
	d := Decoder{form: forms[src.As], words: src.As.Registers(), lowFirst: src.LowFirst, swap: src.SwapByte, bit: -1, invert: src.Invert,
		isSwitch: ch.Dimension == analysis.Switch, unit: ch.Unit}
	switch {
	case src.Table < config.Coil || src.Table > config.Input:
		return d, fmt.Errorf("channel %s: no table %d; the tables are coil, discrete, holding, input", ch.Name, src.Table)
	case bits(src.Table):
		if src.As != config.Bool && src.As != "" {
			return d, fmt.Errorf("channel %s: a %s holds one bit, not %s", ch.Name, tableName(src.Table), src.As)
		}
		d.form = flag
	case d.form == flag:
		if src.Bit > 15 {
			return d, fmt.Errorf("channel %s: no bit %d in a register; the bits are 0 to 15", ch.Name, src.Bit)
		}
		d.bit = src.Bit
	case d.form == unknown:
		return d, fmt.Errorf("channel %s: no encoding %q", ch.Name, src.As)
	}
	if int(src.Address)+d.words > 1<<16 {
		return d, fmt.Errorf("channel %s: a value of %d registers at address %d runs past the last address, 65535", ch.Name, d.words, src.Address)
	}
	var err error
	if d.scale, err = newScaling(src); err != nil {
		return d, fmt.Errorf("channel %s: %w", ch.Name, err)
	}
	if src.Loop {
		if !src.Raw {
			return d, fmt.Errorf("channel %s: current-loop limits need the raw readings at 4 mA and 20 mA", ch.Name)
		}
		d.loop = newCurrentLoop(src.RawLow, src.RawHigh)
	}
	if s, ok := analysis.LookupSignal(string(ch.Signal)); ok && ch.Signal != "" {
		d.min, d.max, d.bounded = s.Min, s.Max, true
	}
	return d, nil
}

// form is an encoding without its width: what the bits of the registers, put in order, are.
type form uint8

const (
	unknown form = iota
	flag
	signed
	unsigned
	float
)

var forms = map[config.Encoding]form{
	config.Bool: flag, config.Int16: signed, config.Int32: signed, config.Int64: signed,
	config.Uint16: unsigned, config.Uint32: unsigned, config.Uint64: unsigned,
	config.Float32: float, config.Float64: float,
}

// Bit is the value of one coil or discrete input.
func (d *Decoder) Bit(on bool) analysis.Value {
	v := 0.0
	if on != d.invert {
		v = 1
	}
	return d.finish(v)
}

// Registers is the value held by data, two bytes a register as they came over the wire. If data is
// shorter than the encoding, there is no value: missing.
func (d *Decoder) Registers(data []byte) analysis.Value {
	if len(data) < 2*d.words {
		return analysis.Value{Quality: analysis.Missing}
	}
	if d.form == flag {
		w := d.word(data, 0)
		if d.bit >= 0 {
			return d.Bit(w>>uint(d.bit)&1 == 1)
		}
		return d.Bit(w != 0) // a whole register as a switch: PLCs write 1, 255 or 65535 for true
	}
	raw := d.number(data)
	if math.IsNaN(raw) || math.IsInf(raw, 0) {
		return analysis.Value{Quality: analysis.Implausible}
	}
	if q := d.loop.judge(raw); q != analysis.Good {
		return analysis.Value{Quality: q}
	}
	v := d.scale.apply(raw)
	if d.isSwitch {
		if v != 0 && v != 1 {
			return analysis.Value{Quality: analysis.Implausible}
		}
		return d.Bit(v == 1)
	}
	return d.finish(v)
}

// finish converts a number in the channel's unit and asks whether it can be true.
func (d *Decoder) finish(v float64) analysis.Value {
	v = d.unit.Inside(v)
	if math.IsNaN(v) || math.IsInf(v, 0) || d.bounded && (v < d.min || v > d.max) {
		return analysis.Value{Quality: analysis.Implausible}
	}
	if v == 0 {
		v = 0 // no negative zero: it would be written as "-0"
	}
	return analysis.Value{V: v}
}

// word is register i of the value, bytes put right.
func (d *Decoder) word(data []byte, i int) uint16 {
	if d.swap {
		return binary.LittleEndian.Uint16(data[2*i:])
	}
	return binary.BigEndian.Uint16(data[2*i:])
}

// pattern joins the value's registers into one bit pattern.
func (d *Decoder) pattern(data []byte) (p uint64) {
	if d.lowFirst {
		for i := d.words - 1; i >= 0; i-- {
			p = p<<16 | uint64(d.word(data, i))
		}
		return p
	}
	for i := range d.words {
		p = p<<16 | uint64(d.word(data, i))
	}
	return p
}

// number reads the bit pattern as the encoding says.
func (d *Decoder) number(data []byte) float64 {
	p := d.pattern(data)
	switch d.form {
	case unsigned:
		return float64(p)
	case signed:
		unused := 64 - 16*d.words
		return float64(int64(p<<unused) >> unused)
	}
	if d.words == 2 {
		return float64(math.Float32frombits(uint32(p)))
	}
	return math.Float64frombits(p)
}
