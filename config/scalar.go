package config

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"gopkg.in/yaml.v3"

	"luted/analysis"
)

func itoa(i int) string { return strconv.Itoa(i) }

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return itoa(n) + " " + what + "s"
}

func listOf(least, most int) string {
	if least == most {
		return "a list of " + itoa(least)
	}
	return "a list of at least " + itoa(least)
}

// text is a line of words. A number or true is not text unless it is in quotes.
var text = shape[string]{
	func(r *reader, n node) (string, bool) {
		if n.Kind != yaml.ScalarNode {
			r.fail(n, article(n)+" where text belongs", "")
			return "", false
		}
		switch n.ShortTag() {
		case "!!str":
		case "!!null":
			r.fail(n, "nothing is written", "write a text or leave the key out")
			return "", false
		default:
			r.fail(n, article(n)+" where text belongs", "put it in quotes: "+strconv.Quote(n.Value))
			return "", false
		}
		if strings.TrimSpace(n.Value) == "" {
			r.fail(n, "nothing is written", "write a text or leave the key out")
			return "", false
		}
		for _, c := range n.Value {
			if !strconv.IsPrint(c) {
				r.fail(n, "the text has a line break or a character that cannot be printed", "write it in one line")
				return "", false
			}
		}
		return strings.TrimSpace(n.Value), true
	},
	func(defs) schema { return schema{"type": "string", "pattern": `\S`} },
}

// texts narrows text: parse says what the words mean, or what is wrong with them.
func texts[T any](parse func(string) (T, error), describe func(defs) schema) shape[T] {
	return shape[T]{
		func(r *reader, n node) (T, bool) {
			// A number passes here: what it should have been, parse knows better.
			s, ok := n.Value, n.Kind == yaml.ScalarNode && (n.ShortTag() == "!!int" || n.ShortTag() == "!!float")
			if !ok {
				s, ok = text.read(r, n)
			}
			if !ok {
				var zero T
				return zero, false
			}
			v, err := parse(s)
			if err != nil {
				r.failWith(n, err)
			}
			return v, err == nil
		},
		describe,
	}
}

// plainly is a schema that needs no definitions.
func plainly(s schema) func(defs) schema { return func(defs) schema { return s } }

// choice is one of a few words.
func choice[T ~string](words ...T) shape[T] {
	var all []string
	for _, w := range words {
		all = append(all, string(w))
	}
	s := texts(func(s string) (T, error) {
		if slices.Contains(all, s) {
			return T(s), nil
		}
		return "", &quantityError{s, "no such choice", oneOf(s, all)}
	}, plainly(schema{"enum": all}))
	return s
}

// yes is true or false.
var yes = shape[bool]{
	func(r *reader, n node) (bool, bool) {
		if n.Kind == yaml.ScalarNode && n.ShortTag() == "!!bool" {
			return strings.EqualFold(n.Value, "true"), true
		}
		r.fail(n, article(n)+" where true or false belongs", "write true or false")
		return false, false
	},
	func(defs) schema { return schema{"type": "boolean"} },
}

// octal is a number that YAML 1.1 takes as octal and YAML 1.2 as decimal: 010 is 8 or 10.
var octal = regexp.MustCompile(`^[+-]?0[0-9_]+$`)

// whole is a whole number from least to most.
func whole[T ~int | ~uint8 | ~uint16](least, most int) shape[T] {
	want := fmt.Sprintf("write a whole number from %d to %d", least, most)
	return shape[T]{
		func(r *reader, n node) (T, bool) {
			if n.Kind != yaml.ScalarNode || n.ShortTag() != "!!int" {
				r.fail(n, article(n)+" where a whole number belongs", want)
				return 0, false
			}
			if octal.MatchString(n.Value) {
				r.fail(n, "a number with a leading zero, which some read as octal", "write it without the zero")
				return 0, false
			}
			var v int64
			if err := n.Decode(&v); err != nil || v < int64(least) || v > int64(most) {
				r.fail(n, "out of range", want)
				return 0, false
			}
			return T(v), true
		},
		func(defs) schema { return schema{"type": "integer", "minimum": least, "maximum": most} },
	}
}

// number is a plain number: a count or a factor, something without a unit.
var number = shape[float64]{
	func(r *reader, n node) (float64, bool) {
		if n.Kind != yaml.ScalarNode || (n.ShortTag() != "!!int" && n.ShortTag() != "!!float") {
			r.fail(n, article(n)+" where a plain number belongs", "write a number without a unit")
			return 0, false
		}
		v, rest, err := splitNumber(n.Value)
		if err != nil || rest != "" || math.IsInf(v, 0) {
			r.fail(n, "not a decimal number", "write for instance 0.1")
			return 0, false
		}
		return v, true
	},
	func(defs) schema { return schema{"type": "number"} },
}

// bound refuses quantities that cannot be.
type bound struct {
	ok  func(inside float64) bool
	why string
}

var (
	anySize     = bound{func(float64) bool { return true }, ""}
	positive    = bound{func(v float64) bool { return v > 0 }, "must be more than zero"}
	notNegative = bound{func(v float64) bool { return v >= 0 }, "cannot be negative"}
	notFrozen   = bound{func(v float64) bool { return v > -273.15 }, "below absolute zero"}
)

func between(lo, hi float64, why string) bound {
	return bound{func(v float64) bool { return v >= lo && v <= hi }, why}
}

// quantity is a number with a unit.
func quantity(d analysis.Dimension, b bound) shape[Quantity] {
	return quantities(func(s string) (Quantity, error) { return ParseQuantity(s, d) }, quantitySchema(d), b, example(d))
}

func quantities(parse func(string) (Quantity, error), describe func(defs) schema, b bound, eg string) shape[Quantity] {
	return shape[Quantity]{
		func(r *reader, n node) (Quantity, bool) {
			s, ok := measured(r, n, eg)
			if !ok {
				return Quantity{}, false
			}
			q, err := parse(s)
			if err == nil && !b.ok(q.Inside()) {
				err = &quantityError{s, b.why, ""}
			}
			if err != nil {
				r.failWith(n, err)
			}
			return q, err == nil
		},
		describe,
	}
}

// measured is the text of a value with a unit. A bare number passes: the parser says which unit is missing.
func measured(r *reader, n node, eg string) (string, bool) {
	if n.Kind == yaml.ScalarNode {
		switch n.ShortTag() {
		case "!!str", "!!int", "!!float":
			return n.Value, true
		case "!!null":
			r.fail(n, "nothing is written", "write for instance "+eg)
			return "", false
		}
	}
	r.fail(n, article(n)+" where a number with its unit belongs", "write for instance "+eg)
	return "", false
}

// inside is a quantity of which only the inside value is kept.
func inside(d analysis.Dimension, b bound) shape[float64] {
	q := quantity(d, b)
	return shape[float64]{
		func(r *reader, n node) (float64, bool) {
			v, ok := q.read(r, n)
			return v.Inside(), ok
		}, q.schema,
	}
}

// duration is a length of time from least to most.
func duration(least, most time.Duration) shape[time.Duration] {
	return shape[time.Duration]{
		func(r *reader, n node) (time.Duration, bool) {
			s, ok := measured(r, n, "10 min")
			if !ok {
				return 0, false
			}
			d, err := ParseDuration(s)
			switch {
			case err != nil:
				r.failWith(n, err)
				return 0, false
			case d < least:
				r.fail(n, "too short", "write at least "+FormatDuration(least))
				return 0, false
			case d > most:
				r.fail(n, "too long", "write at most "+FormatDuration(most))
				return 0, false
			}
			return d, true
		},
		func(defs) schema { return durationSchema() },
	}
}
