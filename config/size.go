package config

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
)

var sizeUnits = []struct {
	symbol string
	bytes  int64
}{
	{"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12}, {"kB", 1e3}, {"B", 1},
	{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}, {"TiB", 1 << 40},
}

// ParseSize reads a number of bytes with its unit: "20 GB" (10⁹ bytes each), "512 MiB" (2²⁰ each).
func ParseSize(s string) (int64, error) {
	v, rest, err := splitNumber(s)
	if err != nil {
		err.want = cmp.Or(err.want, "write for instance 20 GB")
		return 0, err
	}
	var symbols []string
	for _, u := range sizeUnits {
		symbols = append(symbols, u.symbol)
		if u.symbol != rest {
			continue
		}
		n := math.Round(v * float64(u.bytes))
		if n < 0 {
			return 0, &quantityError{s, "a size cannot be negative", ""}
		}
		if n >= math.MaxInt64 {
			return 0, &quantityError{s, "the number is too large", ""}
		}
		return int64(n), nil
	}
	if rest == "" {
		return 0, &quantityError{s, "no unit", fmt.Sprintf("write for instance %s GB (MB, GB, TB, MiB, GiB)", strconv.FormatFloat(v, 'f', -1, 64))}
	}
	return 0, &quantityError{s, "no unit " + quote(rest), oneOf(rest, symbols, "MB", "GB", "TB", "MiB", "GiB")}
}

// FormatSize writes a number of bytes for people, to three digits: "1.5 GB".
func FormatSize(n int64) string {
	for _, u := range []struct {
		symbol string
		bytes  float64
	}{{"TB", 1e12}, {"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}} {
		if v := float64(n) / u.bytes; v >= 0.9995 {
			return strings.TrimSuffix(significant(v, 3), ".0") + " " + u.symbol
		}
	}
	return strconv.FormatInt(n, 10) + " B"
}
