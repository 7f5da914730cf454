package simstill

import (
	"fmt"
	"math"
	"strings"

	"luted/analysis"
	"luted/config"
)

// Point is one channel in the register map of a still: where it is and how it is written there.
type Point struct {
	Name    string
	Signal  analysis.Signal
	Table   config.Table
	Address uint16 // from 0
	As      config.Encoding

	LowFirst bool // low word first
	SwapByte bool // bytes of each register swapped
	Bit      int  // bit of the register; -1: not a bit
	Invert   bool // switches: 0 means true

	Unit            config.Unit // of Scale, Low and High
	Scale           float64     // the value in Unit is number·Scale; unused with Loop
	Loop            bool        // RawLow..RawHigh is 4..20 mA and means Low..High
	RawLow, RawHigh float64
	Low, High       float64

	Step float64 // the instrument's own steps, inside unit; 0: none
}

// isBits reports whether the point is in a table of single bits.
func (p *Point) isBits() bool { return p.Table == config.Coil || p.Table == config.Discrete }

// registers gives the registers of the point for a value in the inside unit, and how many they are.
func (p *Point) registers(inside float64, broken bool) (regs [4]uint16, n int) {
	if p.Bit >= 0 {
		regs[0] = boolBit(inside >= 0.5, p.Invert) << p.Bit
		return regs, 1
	}
	var number float64
	switch v := p.Unit.FromInside(inside); {
	case p.Loop && broken:
		// 0 mA on the same scale as 4 and 20 mA.
		number = p.RawLow - (p.RawHigh-p.RawLow)/4
	case p.Loop:
		number = p.RawLow + (v-p.Low)/(p.High-p.Low)*(p.RawHigh-p.RawLow)
		// A transmitter drives 3.8 to 20.5 mA (NAMUR NE 43).
		mA := (p.RawHigh - p.RawLow) / 16
		number = min(max(number, p.RawLow-0.2*mA), p.RawHigh+0.5*mA)
	case broken:
		number = math.Inf(1) // inputs report an open circuit as their largest number
	default:
		number = v / p.Scale
	}
	return p.encode(number)
}

func boolBit(on, invert bool) uint16 {
	if on != invert {
		return 1
	}
	return 0
}

// encode lays a number out in registers. Numbers that do not fit become the largest or smallest that does;
// a float of a broken sensor is not a number.
func (p *Point) encode(number float64) (regs [4]uint16, n int) {
	clamp := func(low, high float64) float64 { return min(max(math.Round(number), low), high) }
	var pattern uint64
	switch p.As {
	case config.Int16:
		pattern = uint64(uint16(int16(clamp(math.MinInt16, math.MaxInt16))))
	case config.Uint16:
		pattern = uint64(clamp(0, math.MaxUint16))
	case config.Int32:
		pattern = uint64(uint32(int32(clamp(math.MinInt32, math.MaxInt32))))
	case config.Uint32:
		pattern = uint64(clamp(0, math.MaxUint32))
	case config.Uint64:
		pattern = uint64(clamp(0, 1<<62))
	case config.Float32:
		if math.IsInf(number, 0) {
			number = math.NaN()
		}
		pattern = uint64(math.Float32bits(float32(number)))
	case config.Float64:
		if math.IsInf(number, 0) {
			number = math.NaN()
		}
		pattern = math.Float64bits(number)
	}
	n = p.As.Registers()
	for i := range n {
		v := uint16(pattern >> (16 * (n - 1 - i)))
		if p.SwapByte {
			v = v<<8 | v>>8
		}
		if p.LowFirst {
			regs[n-1-i] = v
		} else {
			regs[i] = v
		}
	}
	return regs, n
}

// size is the number of registers or bits of the point.
func (p *Point) size() int {
	if p.isBits() || p.Bit >= 0 {
		return 1
	}
	return p.As.Registers()
}

var tableWords = map[config.Table]string{config.Coil: "coil", config.Discrete: "discrete", config.Holding: "holding", config.Input: "input"}

// yaml is the point as one line of a channels block, without indent.
func (p *Point) yaml() string {
	f := []string{fmt.Sprintf("%s: %d", tableWords[p.Table], p.Address)}
	add := func(format string, a ...any) { f = append(f, fmt.Sprintf(format, a...)) }
	switch {
	case p.isBits():
	case p.Bit >= 0:
		add("bit: %d", p.Bit)
	default:
		add("as: %s", p.As)
	}
	if p.LowFirst {
		add("words: low-first")
	}
	if p.SwapByte {
		add("bytes: low-first")
	}
	if p.Invert {
		add("invert: true")
	}
	if p.Loop {
		add("raw: [%g, %g]", p.RawLow, p.RawHigh)
		add("range: [%g %s, %g %s]", p.Low, p.Unit.Symbol, p.High, p.Unit.Symbol)
		add("loop: true")
	} else if p.Unit.Symbol != "" {
		if p.Scale != 1 {
			add("scale: %g", p.Scale)
		}
		add("unit: %s", quoted(p.Unit.Symbol))
	}
	return p.Name + ": {" + strings.Join(f, ", ") + "}"
}

// quoted puts quotes around what YAML would not take as plain text.
func quoted(s string) string {
	if strings.HasPrefix(s, "%") {
		return `"` + s + `"`
	}
	return s
}
