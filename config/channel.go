package config

import (
	"slices"
	"strings"

	"luted/analysis"
)

// channelFile is a channel as it is written.
type channelFile struct {
	Channel
	coil, discrete, holding, input *uint16
	words, bytes                   string
	bit                            *int
	scale                          *float64
	raw                            []float64
	span                           []Quantity
	limits                         limitsFile
}

// signalNames are the names with a meaning, in the order of the signal table.
var signalNames = func() []string {
	var out []string
	for _, s := range analysis.Signals {
		out = append(out, string(s.Signal))
	}
	return out
}()

// channelShapes holds the shape of each kind of channel. The name decides: what a temperature can be
// read from and in which units is not what a switch can.
var channelShapes = func() map[analysis.Dimension]shape[Channel] {
	out := map[analysis.Dimension]shape[Channel]{}
	for _, s := range analysis.Signals {
		if _, done := out[s.Dimension]; !done {
			out[s.Dimension] = channelShape(s.Dimension)
		}
	}
	out[analysis.Other] = channelShape(analysis.Other)
	return out
}()

func channelShapeOf(name string) shape[Channel] {
	if s, ok := analysis.LookupSignal(name); ok {
		return channelShapes[s.Dimension]
	}
	return channelShapes[analysis.Other]
}

// channelShape is the shape of the channels of one dimension.
func channelShape(d analysis.Dimension) shape[Channel] {
	type c = channelFile
	fields := []field[c]{
		key("holding", registerAddress, "holding register (function 3), counted from 0", func(c *c) **uint16 { return &c.holding }),
		key("input", registerAddress, "input register (function 4), counted from 0", func(c *c) **uint16 { return &c.input }),
		key("as", encodingsOf(d), encodingDoc(d), func(c *c) *Encoding { return &c.Source.As }),
		key("bytes", choice("high-first", "low-first"), "order of the bytes in each register; high-first if left out, as the protocol says", func(c *c) *string { return &c.bytes }),
	}
	rules := []rule[c]{oneSource("holding", "input", "coil", "discrete")}
	if d != analysis.Switch {
		fields = append(fields,
			key("words", choice("high-first", "low-first"), "order of the registers of a 32- or 64-bit value; high-first if left out", func(c *c) *string { return &c.words }),
			key("scale", notZero, "the value is number × scale + offset; 1 if left out", func(c *c) **float64 { return &c.scale }),
			key("offset", number, "in the channel's unit; 0 if left out", func(c *c) *float64 { return &c.Source.Offset }),
			key("raw", list(number, 2, 2), "two numbers as read ...", func(c *c) *[]float64 { return &c.raw }),
			key("range", list(quantity(d, anySize), 2, 2), "... and the values they mean", func(c *c) *[]Quantity { return &c.span }),
			key("loop", yes, "raw is 4 and 20 mA of a current loop: a broken wire is told by NAMUR NE 43", func(c *c) *bool { return &c.Source.Loop }),
			key("unit", unitShape(d), "unit of the value; not needed with range", func(c *c) *Unit { return &c.Unit }),
			key("limits", limitsShape(d), "alarm limits of this channel", func(c *c) *limitsFile { return &c.limits }),
		)
		rules = append(rules,
			excludes[c]("raw", "write either raw and range, or scale and offset", "scale", "offset"),
			needs[c]("raw", "say which values they mean: range: [..., ...]", "range"),
			needs[c]("range", "say which numbers mean it: raw: [..., ...]", "raw"),
			needs[c]("loop", "say what is read at 4 and at 20 mA: raw: [..., ...], range: [..., ...]", "raw", "range"),
		)
	}
	bitTable := []field[c]{
		key("coil", registerAddress, "coil (function 1), counted from 0", func(c *c) **uint16 { return &c.coil }),
		key("discrete", registerAddress, "discrete input (function 2), counted from 0", func(c *c) **uint16 { return &c.discrete }),
		key("bit", optional(whole[int](0, 15)), "bit of the register, 0 the lowest", func(c *c) **int { return &c.bit }),
		key("invert", yes, "0 means true", func(c *c) *bool { return &c.Source.Invert }),
	}
	switch d {
	case analysis.Switch:
		fields = append(fields, bitTable...)
		for _, k := range numberKeys {
			fields = append(fields, never[c](k, "a switch has no "+k))
		}
		rules = append(rules,
			needsAny[c]("holding", "say which bit of the register, for instance bit: 0, or as: bool for the whole register", "bit", "as"),
			needsAny[c]("input", "say which bit of the register, for instance bit: 0, or as: bool for the whole register", "bit", "as"),
			needsAny[c]("bit", "say which register", "holding", "input", "coil", "discrete"),
			excludes[c]("bit", "one bit is true or false: leave out %s", "as"),
			excludes[c]("coil", "a coil is one bit already: leave out %s", "bit", "as", "bytes"),
			excludes[c]("discrete", "a discrete input is one bit already: leave out %s", "bit", "as", "bytes"),
		)
	case analysis.Other:
		fields = append(fields, bitTable...)
		fields = append(fields, key("log_only", yes, "the name is meant as it is written, however like that of a signal: it is logged and not analysed", func(c *c) *bool { return &c.LogOnly }))
		rules = append(rules, notMisspelt,
			excludes[c]("coil", "a coil is true or false: leave out %s", append([]string{"as", "bit", "bytes"}, numberKeys...)...),
			excludes[c]("discrete", "a discrete input is true or false: leave out %s", append([]string{"as", "bit", "bytes"}, numberKeys...)...),
			excludes[c]("bit", "one bit is true or false: leave out %s", append([]string{"as"}, numberKeys...)...),
		)
		rules = append(rules,
			needsAny[c]("holding", asWant, "as", "bit"),
			needsAny[c]("input", asWant, "as", "bit"),
			needsAny[c]("invert", "only a switch can be inverted: write as: bool or bit: 0 with it", "coil", "discrete", "bit", "as"),
			needsAny[c]("bit", "say which register", "holding", "input", "coil", "discrete"),
		)
	default:
		for _, k := range []string{"coil", "discrete", "bit", "invert"} {
			fields = append(fields, never[c](k, string(d)+" is a number: it cannot be read from one bit"))
		}
		rules = append(rules,
			needs[c]("holding", asWant, "as"),
			needs[c]("input", asWant, "as"),
			rule[c]{func(r *reader, n node, written keys, _ *c) bool {
				if written.has("unit") || written.has("range") || written.has("raw") || written.has("coil") || written.has("discrete") {
					return true
				}
				r.failAt(n.key, "", "no unit", "write for instance unit: "+commonUnits(d)[0]+" "+choices(d))
				return false
			}, func() schema {
				return schema{"anyOf": []any{schema{"required": []string{"unit"}}, schema{"required": []string{"range"}}}}
			}},
		)
	}
	if d != analysis.Other {
		fields = append(fields, never[c]("log_only", "a channel of this name is analysed: give it another name to only log it"))
	}
	rules = append(rules, checked(func(r *reader, n node, written keys, c *channelFile) bool {
		return c.finish(r, n, d, written)
	}))
	return mapped(object(defName("channel", d), fields, rules...), func(_ *reader, _ node, c channelFile) (Channel, bool) { return c.Channel, true })
}

// numberKeys are the keys of a channel that only a number has.
var numberKeys = []string{"words", "scale", "offset", "raw", "range", "loop", "unit", "limits"}

const asWant = "say how it holds the value, for instance as: int16 (int16, uint16, int32, uint32, int64, uint64, float32, float64)"

func unitShape(d analysis.Dimension) shape[Unit] {
	if d == analysis.Other {
		return texts(func(s string) (Unit, error) { return ParseUnit(s, d) }, plainly(schema{"type": "string"}))
	}
	return texts(func(s string) (Unit, error) {
		u, err := parseUnit(s, d)
		if err != nil {
			if o := otherSignal(s, d); o != "" {
				err.want = o
			}
			return Unit{}, err
		}
		return u, nil
	}, unitSchema(d))
}

// otherSignal names the signal that a pressure unit belongs to.
func otherSignal(s string, d analysis.Dimension) string {
	if _, ok := lookupUnit(s, analysis.AbsolutePressure); ok && d == analysis.Vacuum {
		return "an absolute pressure is the channel still_pressure"
	}
	if _, ok := lookupUnit(s, analysis.Vacuum); ok && d == analysis.AbsolutePressure {
		return "a vacuum below the surroundings is the channel still_vacuum"
	}
	return ""
}

// finish puts together what is written and says what does not fit.
func (c *channelFile) finish(r *reader, n node, d analysis.Dimension, written keys) bool {
	f := finisher{channelFile: c, written: written, fail: func(key, found, wrong, want string) bool {
		r.failAt(sub(n.key, key), found, wrong, want)
		return false
	}}
	d, ok := f.source(d)
	ok = f.encoding() && ok
	ok = f.ranges() && ok
	c.Dimension = d
	switch d {
	case analysis.Switch:
		c.Unit = mustUnit("", analysis.Switch)
	case analysis.Other:
		c.Unit.Dimension = analysis.Other
		c.Channel.Channel.Unit = c.Unit.Symbol
	}
	return (!written.good("limits") || c.finishLimits(r, n)) && ok
}

// finisher looks at the parts of a channel together. fail returns false.
type finisher struct {
	*channelFile
	written keys
	fail    func(key, found, wrong, want string) bool
}

// source says where the value is read. A value of one bit makes the channel a switch.
func (f finisher) source(d analysis.Dimension) (analysis.Dimension, bool) {
	s, ok := &f.Source, true
	s.Bit = -1
	for _, t := range []struct {
		Table
		address *uint16
	}{{Coil, f.coil}, {Discrete, f.discrete}, {Holding, f.holding}, {Input, f.input}} {
		if t.address != nil {
			s.Table, s.Address = t.Table, *t.address
		}
	}
	if f.bit != nil {
		s.Bit = *f.bit
	}
	bits := s.Table == Coil || s.Table == Discrete
	if s.As == Bool && d == analysis.Other {
		for _, k := range numberKeys {
			if f.written.has(k) {
				ok = f.fail(k, "", "contradicts as: bool", "true or false has no "+k)
			}
		}
	}
	if d == analysis.Switch && f.written.good("as") && s.As != Bool && !bits {
		ok = f.fail("as", string(s.As), "a switch is true or false", "write as: bool (true unless 0), or bit: 0")
	}
	if bits || f.bit != nil || s.As == Bool || d == analysis.Switch {
		s.As = Bool
		return analysis.Switch, ok
	}
	if s.Invert {
		ok = f.fail("invert", "", "only a switch can be inverted", "for a number write scale: -1")
	}
	return d, ok
}

// encoding says how the registers hold the value.
func (f finisher) encoding() bool {
	s, ok := &f.Source, true
	s.Scale = 1
	if f.scale != nil {
		s.Scale = *f.scale
	}
	s.LowFirst, s.SwapByte = f.words == "low-first", f.bytes == "low-first"
	registers := s.As.Registers()
	if f.written.good("words") && s.As != "" && registers == 1 {
		ok = f.fail("words", f.words, string(s.As)+" is one register: there is no order of words", "leave it out")
	}
	if int(s.Address)+registers > 65536 {
		which := "holding"
		if s.Table == Input {
			which = "input"
		}
		ok = f.fail(which, itoa(int(s.Address)), string(s.As)+" takes "+itoa(registers)+" registers, and the last address is 65535", "")
	}
	return ok
}

// ranges says which values the raw numbers mean.
func (f finisher) ranges() bool {
	s, ok := &f.Source, true
	if f.written.good("raw") {
		s.Raw, s.RawLow, s.RawHigh = true, f.raw[0], f.raw[1]
		if f.raw[0] == f.raw[1] {
			ok = f.fail("raw", "", "both numbers are the same", "write what is read at each end of the range")
		}
	}
	if !f.written.good("range") {
		return ok
	}
	a, b := f.span[0], f.span[1]
	s.Low, s.High = a.Value, b.Value
	switch {
	case a.Unit != b.Unit:
		return f.fail("range", "", "two units, "+a.Unit.Symbol+" and "+b.Unit.Symbol, "write both in one unit")
	case a.Value == b.Value:
		return f.fail("range", "", "both values are the same", "write the value at each end")
	case f.written.good("unit") && f.Unit != a.Unit:
		return f.fail("unit", f.Unit.Symbol, "the range is in "+a.Unit.Symbol, "leave out unit, or write the range in it")
	}
	f.Unit = a.Unit
	return ok
}

// nearSignal is the signal that a channel's name was probably meant to be.
func nearSignal(name string) string {
	if slices.Contains(signalNames, name) {
		return ""
	}
	return nearest(name, signalNames)
}

// slips is how many letters of a signal's name may be wrong for it to be a slip of the pen.
const slips = 2

// misspelt is the signal whose name was meant, but for a slip; "" if there is none. A number behind a
// signal's name is no slip: it is a second sensor.
func misspelt(name string) string {
	near := nearSignal(name)
	if near == "" || editDistance(name, near) > slips || strings.TrimRight(name, "0123456789_") == near {
		return ""
	}
	return near
}

// notMisspelt refuses a channel that would only be logged because of a slip: its still would not be watched
// as people think.
var notMisspelt = checked(func(r *reader, n node, _ keys, c *channelFile) bool {
	name := n.key[strings.LastIndex(n.key, ".")+1:]
	near := misspelt(name)
	if near == "" || c.LogOnly {
		return true
	}
	r.failAt(n.key, "", "no signal has this name, so it would only be logged", "did you mean "+near+"? If not, add log_only: true")
	return false
})
