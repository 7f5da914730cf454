package config

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"luted/analysis"
)

// Quantity is a number with its unit, as people write it.
type Quantity struct {
	Value float64 // in Unit
	Unit  Unit
}

// String writes the quantity so that ParseQuantity gives it back exactly: the shortest decimal that is
// the same float64, a space, the unit.
func (q Quantity) String() string {
	n := strconv.FormatFloat(q.Value, 'g', -1, 64)
	if a := math.Abs(q.Value); a == 0 || (a >= 1e-4 && a < 1e15) {
		n = strconv.FormatFloat(q.Value, 'f', -1, 64)
	}
	if q.Unit.Symbol == "" {
		return n
	}
	return n + " " + q.Unit.Symbol
}

// Inside is the quantity in the inside unit of its dimension.
func (q Quantity) Inside() float64 { return q.Unit.Inside(q.Value) }

// quantityError says what is wrong with a quantity and what to write; the caller adds the place.
type quantityError struct{ found, wrong, want string }

func (e *quantityError) Error() string { return render(e.found, e.wrong, e.want) }

// ParseQuantity reads a number with its unit, such as "60 L", "300 °F" or "24 inHg". The unit is never
// guessed: a number without one is refused. The dimension decides which units there are.
// The error names the units that would do.
func ParseQuantity(s string, d analysis.Dimension) (Quantity, error) {
	v, rest, err := splitNumber(s)
	if err != nil {
		err.want = cmp.Or(err.want, "write a number and its unit, for instance "+example(d))
		return Quantity{}, err
	}
	if rest == "" && d != analysis.Other && d != analysis.Switch {
		return Quantity{}, &quantityError{s, "no unit", "write for instance " + Quantity{v, Unit{Symbol: commonUnits(d)[0]}}.String() + " " + choices(d)}
	}
	u, uerr := parseUnit(rest, d)
	if uerr != nil {
		return Quantity{}, &quantityError{s, uerr.wrong, uerr.want}
	}
	if math.IsInf(u.Inside(v), 0) {
		return Quantity{}, &quantityError{s, "the number is too large", ""}
	}
	return Quantity{v, u}, nil
}

// splitNumber takes the number off the front of s and returns the rest, both trimmed. Only plain
// decimal numbers: no hexadecimal, no infinity, no digit grouping, because a separator means
// something else in the next country.
func splitNumber(s string) (v float64, rest string, err *quantityError) {
	t := strings.TrimSpace(strings.ReplaceAll(s, "\u2212", "-")) // − is what a word processor makes of -
	n := numberLen(t)
	if n == 0 {
		return 0, "", &quantityError{s, "no number", ""}
	}
	v, perr := strconv.ParseFloat(t[:n], 64)
	if perr != nil {
		return 0, "", &quantityError{s, "the number is too large", ""}
	}
	rest = strings.TrimSpace(t[n:])
	if strings.HasPrefix(rest, ",") {
		return 0, "", &quantityError{s, "a comma in the number", "write a decimal point and no digit grouping"}
	}
	if rest != "" && rest[0] >= '0' && rest[0] <= '9' && !strings.HasPrefix(rest, per) {
		return 0, "", &quantityError{s, "two numbers", "write one, without spaces between the digits"}
	}
	return v, rest, nil
}

// numberLen is the length of the decimal number at the start of s; 0 if there is none.
func numberLen(s string) int {
	digits := func(i int) int {
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		return i
	}
	i := 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	end := digits(i)
	count := end - i
	if end < len(s) && s[end] == '.' {
		frac := digits(end + 1)
		count += frac - end - 1
		end = frac
	}
	if count == 0 {
		return 0
	}
	if end < len(s) && (s[end] == 'e' || s[end] == 'E') {
		j := end + 1
		if j < len(s) && (s[j] == '-' || s[j] == '+') {
			j++
		}
		if k := digits(j); k > j {
			end = k
		}
	}
	return end
}

// render puts found, wrong and want into one sentence.
func render(found, wrong, want string) string {
	var b strings.Builder
	if found != "" {
		fmt.Fprintf(&b, "%s: ", quote(found))
	}
	b.WriteString(wrong)
	if want != "" {
		b.WriteString("; " + want)
	}
	return b.String()
}

// quote quotes what was found and cuts what nobody would read to the end.
func quote(s string) string {
	const most = 60
	if r := []rune(s); len(r) > most {
		return strconv.Quote(string(r[:most])) + "..."
	}
	return strconv.Quote(s)
}
