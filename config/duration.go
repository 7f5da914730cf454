package config

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// durationUnits, the likely first. A minute is "min": "m" is a metre.
var durationUnits = []struct {
	symbol  string
	aliases []string
	size    time.Duration
	common  bool
}{
	{"s", []string{"sec", "second", "seconds"}, time.Second, true},
	{"min", []string{"minute", "minutes", "mins"}, time.Minute, true},
	{"h", []string{"hour", "hours", "hr", "hrs"}, time.Hour, true},
	{"ms", []string{"millisecond", "milliseconds"}, time.Millisecond, false},
	{"d", []string{"day", "days"}, 24 * time.Hour, true},
	{"weeks", []string{"week", "w"}, 7 * 24 * time.Hour, false},
	{"years", []string{"year"}, year, false},
}

const year = 365 * 24 * time.Hour

// ParseDuration reads a length of time with its unit: "500 ms", "10 min", "1 h 30 min", "2 years". A day
// is 24 h and a year 365 d. The result is rounded to a nanosecond; negative times are refused.
func ParseDuration(s string) (time.Duration, error) {
	refuse := func(wrong, want string) (time.Duration, error) { return 0, &quantityError{s, wrong, want} }
	var total float64
	rest := strings.TrimSpace(s)
	if rest == "" {
		return refuse("no time", "write for instance 10 min")
	}
	for rest != "" {
		n := numberLen(rest)
		if n == 0 {
			return refuse("no number", "write for instance 10 min")
		}
		v, err := strconv.ParseFloat(rest[:n], 64)
		if err != nil {
			return refuse("the number is too large", "")
		}
		if math.Signbit(v) {
			return refuse("a time cannot be negative", "")
		}
		rest = strings.TrimSpace(rest[n:])
		end := strings.IndexAny(rest, "0123456789+-. ")
		if end < 0 {
			end = len(rest)
		}
		size, ok := durationUnit(rest[:end])
		switch {
		case ok:
		case rest[:end] == "":
			return refuse("no unit", fmt.Sprintf("write for instance %s s (s, min, h, d)", strconv.FormatFloat(v, 'f', -1, 64)))
		case rest[:end] == "m":
			return refuse(`"m" is a metre`, "write min for minutes (s, min, h, d)")
		default:
			return refuse("no unit "+quote(rest[:end]), oneOf(rest[:end], durationSymbols(), "s", "min", "h", "d"))
		}
		total += v * float64(size)
		rest = strings.TrimSpace(rest[end:])
	}
	if total = math.Round(total); total >= math.MaxInt64 {
		return refuse("longer than 292 years", "")
	}
	return time.Duration(total), nil
}

func durationUnit(s string) (time.Duration, bool) {
	for _, u := range durationUnits {
		if u.symbol == s {
			return u.size, true
		}
		for _, a := range u.aliases {
			if a == s {
				return u.size, true
			}
		}
	}
	return 0, false
}

func durationSymbols() []string {
	var out []string
	for _, u := range durationUnits {
		out = append(out, u.symbol)
	}
	return out
}

// FormatDuration writes a duration for people, exactly, in the form ParseDuration reads: "1 h 30 min".
func FormatDuration(d time.Duration) string {
	if d == 0 {
		return "0 s"
	}
	var parts []string
	if y := d / year; y > 0 {
		parts = append(parts, count(int(y), "year"))
		d -= y * year
	}
	for _, u := range []struct {
		size time.Duration
		sym  string
	}{{24 * time.Hour, "d"}, {time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}} {
		if n := d / u.size; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u.sym))
			d -= n * u.size
		}
	}
	if d > 0 {
		parts = append(parts, strconv.FormatFloat(float64(d)/1e6, 'f', -1, 64)+" ms")
	}
	return strings.Join(parts, " ")
}
