package config

import (
	"strings"

	"gopkg.in/yaml.v3"

	"luted/analysis"
)

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

// encodingDoc says what as means for the dimension.
func encodingDoc(d analysis.Dimension) string {
	if d == analysis.Switch || d == analysis.Other {
		return "how the registers hold the value; bool: a register is true unless it is 0"
	}
	return "how the registers hold the value"
}

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

// notZero is a factor.
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
			got := written.among(names)
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
