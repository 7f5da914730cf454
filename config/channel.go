package config

import (
	"slices"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

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

type limitsFile struct {
	low, high, deadband *Quantity
	on, off             time.Duration
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
		key("as", encodingsOf(d), "how the registers hold the value; bool: a register is true unless it is 0", func(c *c) *Encoding { return &c.Source.As }),
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
		rules = append(rules,
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
	rules = append(rules, checked(func(r *reader, n node, written keys, c *channelFile) bool {
		return c.finish(r, n, d, written)
	}))
	return mapped(object(defName("channel", d), fields, rules...), func(_ *reader, _ node, c channelFile) (Channel, bool) { return c.Channel, true })
}

// numberKeys are the keys of a channel that only a number has.
var numberKeys = []string{"words", "scale", "offset", "raw", "range", "loop", "unit", "limits"}

// encodingsOf are the encodings that a channel of the dimension may have.
func encodingsOf(d analysis.Dimension) shape[Encoding] {
	numbers := []Encoding{Int16, Uint16, Int32, Uint32, Int64, Uint64, Float32, Float64}
	switch d {
	case analysis.Switch:
		// Any encoding is read, so that finish can say what is wrong with it here.
		return shape[Encoding]{choice(append(numbers, Bool)...).read, choice(Bool).schema}
	case analysis.Other:
		return choice(append(numbers, Bool)...)
	}
	return choice(numbers...)
}

const asWant = "say how it holds the value, for instance as: int16 (int16, uint16, int32, uint32, int64, uint64, float32, float64)"

// registerAddress is an address of the protocol.
var registerAddress = optional(shape[uint16]{
	func(r *reader, n node) (uint16, bool) {
		var v int
		if n.Kind == yaml.ScalarNode && n.ShortTag() == "!!int" && n.Decode(&v) == nil && v > 65535 && v <= 465536 {
			r.fail(n, "out of range", "write the address itself, 0 to 65535: the register printed as 400011 is holding: 10")
			return 0, false
		}
		return whole[uint16](0, 65535).read(r, n)
	},
	func(defs) schema { return schema{"type": "integer", "minimum": 0, "maximum": 65535} },
})

var notZero = optional(shape[float64]{
	func(r *reader, n node) (float64, bool) {
		v, ok := number.read(r, n)
		if ok && v == 0 {
			r.fail(n, "every value would be the same", "write a factor that is not 0")
			return 0, false
		}
		return v, ok
	},
	func(defs) schema { return schema{"type": "number", "not": schema{"const": 0}} },
})

// oneSource refuses two registers for one channel. Whether one is needed depends on the still: without a
// line there is nothing to read.
func oneSource(names ...string) rule[channelFile] {
	return rule[channelFile]{
		func(r *reader, n node, written keys, _ *channelFile) bool {
			var got []string
			for _, k := range names {
				if written.has(k) {
					got = append(got, k)
				}
			}
			if len(got) < 2 {
				return true
			}
			r.failAt(sub(n.key, got[1]), "", strings.Join(got, " and ")+" contradict each other", "write one of them")
			return false
		},
		func() schema {
			one := []any{schema{"not": schema{"anyOf": required(names)}}}
			return schema{"oneOf": append(one, required(names)...)}
		},
	}
}

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

func limitsShape(d analysis.Dimension) shape[limitsFile] {
	// The delays that stand when none are written keep one noisy reading from calling anybody (common
	// practice, no source).
	type l = limitsFile
	band := d
	if d == analysis.Temperature {
		band = TemperatureDifference
	}
	return object(defName("limits", d), []field[l]{
		key("low", optional(quantity(d, anySize)), "alarm below this", func(l *l) **Quantity { return &l.low }),
		key("high", optional(quantity(d, anySize)), "alarm above this", func(l *l) **Quantity { return &l.high }),
		key("deadband", optional(quantity(band, notNegative)), "how far back inside before it counts as returned", func(l *l) **Quantity { return &l.deadband }),
		key("on_delay", duration(0, 24*time.Hour), "how long beyond the limit before it is raised", func(l *l) *time.Duration { return &l.on }).otherwise("5 s"),
		key("off_delay", duration(0, 24*time.Hour), "how long back inside before it is cleared", func(l *l) *time.Duration { return &l.off }).otherwise("30 s"),
	}, rule[l]{
		func(r *reader, n node, written keys, v *l) bool {
			if !written.has("low") && !written.has("high") {
				r.failAt(n.key, "", "neither low nor high", "write at least one of them")
				return false
			}
			if written.good("low", "high") && v.low.Inside() >= v.high.Inside() {
				r.failAt(sub(n.key, "high"), v.high.String(), "not above low, "+v.low.String(), "")
				return false
			}
			if written.good("low", "high", "deadband") && v.deadband.Inside() >= v.high.Inside()-v.low.Inside() {
				r.failAt(sub(n.key, "deadband"), v.deadband.String(), "as wide as the way from low to high: the alarm could never return", "")
				return false
			}
			return true
		},
		func() schema {
			return schema{"anyOf": required([]string{"low", "high"})}
		},
	})
}

// finish puts together what is written and says what does not fit. The name is not known yet.
func (c *channelFile) finish(r *reader, n node, d analysis.Dimension, written keys) bool {
	ok := true
	fail := func(key, found, wrong, want string) { r.failAt(sub(n.key, key), found, wrong, want); ok = false }
	s := &c.Source
	s.Bit, s.Scale = -1, 1
	for t, a := range map[Table]*uint16{Coil: c.coil, Discrete: c.discrete, Holding: c.holding, Input: c.input} {
		if a != nil {
			s.Table, s.Address = t, *a
		}
	}
	if c.bit != nil {
		s.Bit = *c.bit
	}
	if s.As == Bool && d == analysis.Other {
		for _, k := range numberKeys {
			if written.has(k) {
				fail(k, "", "contradicts as: bool", "true or false has no "+k)
			}
		}
	}
	if d == analysis.Switch && written.good("as") && s.As != Bool && s.Table != Coil && s.Table != Discrete {
		fail("as", string(s.As), "a switch is true or false", "write as: bool (true unless 0), or bit: 0")
	}
	if s.Table == Coil || s.Table == Discrete || c.bit != nil || s.As == Bool || d == analysis.Switch {
		s.As, d = Bool, analysis.Switch
	} else if s.Invert {
		fail("invert", "", "only a switch can be inverted", "for a number write scale: -1")
	}
	if c.scale != nil {
		s.Scale = *c.scale
	}
	s.LowFirst, s.SwapByte = c.words == "low-first", c.bytes == "low-first"
	registers := s.As.Registers()
	if written.good("words") && s.As != "" && registers == 1 {
		fail("words", c.words, string(s.As)+" is one register: there is no order of words", "leave it out")
	}
	if int(s.Address)+registers > 65536 {
		which := "holding"
		if s.Table == Input {
			which = "input"
		}
		fail(which, itoa(int(s.Address)), string(s.As)+" takes "+itoa(registers)+" registers, and the last address is 65535", "")
	}
	if written.good("raw") {
		s.Raw, s.RawLow, s.RawHigh = true, c.raw[0], c.raw[1]
		if c.raw[0] == c.raw[1] {
			fail("raw", "", "both numbers are the same", "write what is read at each end of the range")
		}
	}
	if written.good("range") {
		a, b := c.span[0], c.span[1]
		s.Low, s.High = a.Value, b.Value
		switch {
		case a.Unit != b.Unit:
			fail("range", "", "two units, "+a.Unit.Symbol+" and "+b.Unit.Symbol, "write both in one unit")
		case a.Value == b.Value:
			fail("range", "", "both values are the same", "write the value at each end")
		case written.good("unit") && c.Unit != a.Unit:
			fail("unit", c.Unit.Symbol, "the range is in "+a.Unit.Symbol, "leave out unit, or write the range in it")
		default:
			c.Unit = a.Unit
		}
	}
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

func (c *channelFile) finishLimits(r *reader, n node) bool {
	l, ok := &c.Limits, true
	inside := func(q *Quantity, key string) *float64 {
		if q == nil {
			return nil
		}
		if c.Dimension == analysis.Other && q.Unit.Symbol != c.Unit.Symbol {
			unit := c.Unit.Symbol
			if unit == "" {
				r.failAt(sub(n.key, "limits."+key), q.String(), "the channel has no unit", "write the number alone, or give the channel a unit")
			} else {
				r.failAt(sub(n.key, "limits."+key), q.String(), "the channel is in "+unit, "write "+Quantity{q.Value, Unit{Symbol: unit}}.String())
			}
			ok = false
		}
		v := q.Inside()
		return &v
	}
	l.Low, l.High = inside(c.limits.low, "low"), inside(c.limits.high, "high")
	if d := inside(c.limits.deadband, "deadband"); d != nil {
		l.Deadband = *d
	}
	l.OnDelay, l.OffDelay = c.limits.on, c.limits.off
	return ok
}

// nearSignal is the signal that a channel's name was probably meant to be.
func nearSignal(name string) string {
	if slices.Contains(signalNames, name) {
		return ""
	}
	return nearest(name, signalNames)
}
