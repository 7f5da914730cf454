package archive

import (
	"encoding/binary"
	"errors"
	"math"
	"time"

	"luted/analysis"
)

// A fresh scan is kept as one flag byte (0: all values are good; 1: qualities follow, two to a byte,
// the first in the low half), then the good values as little-endian float64, in the order of the
// columns. A bad value has no number, so none is stored.

func appendRow(b []byte, values []analysis.Value) []byte {
	good := true
	for _, v := range values {
		good = good && v.Quality == analysis.Good
	}
	if good {
		b = append(b, 0)
	} else {
		b = append(b, 1)
		for i := 0; i < len(values); i += 2 {
			q := byte(values[i].Quality)
			if i+1 < len(values) {
				q |= byte(values[i+1].Quality) << 4
			}
			b = append(b, q)
		}
	}
	for _, v := range values {
		if v.Quality == analysis.Good {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v.V))
		}
	}
	return b
}

var errRow = errors.New("a scan is damaged")

// readRow fills values, whose length is the number of columns.
func readRow(b []byte, values []analysis.Value) error {
	if len(b) < 1 || b[0] > 1 {
		return errRow
	}
	mixed := b[0] == 1
	b = b[1:]
	var qs []byte
	if mixed {
		n := (len(values) + 1) / 2
		if len(b) < n {
			return errRow
		}
		qs, b = b[:n], b[n:]
	}
	for i := range values {
		q := analysis.Good
		if mixed {
			q = analysis.Quality(qs[i/2] >> (i % 2 * 4) & 15)
		}
		if !known(q) {
			return errRow
		}
		values[i] = analysis.Value{Quality: q}
		if q != analysis.Good {
			continue
		}
		if len(b) < 8 {
			return errRow
		}
		values[i].V = math.Float64frombits(binary.LittleEndian.Uint64(b))
		b = b[8:]
	}
	if len(b) != 0 {
		return errRow
	}
	return nil
}

func known(q analysis.Quality) bool { return q <= analysis.Implausible }

// Times from 1970 to 2262 fit. The first hour of 1970 is left out: it is what a computer without a
// clock believes when it starts, and 0 means none.
var latest = time.Unix(0, math.MaxInt64)

const earliest = int64(time.Hour) // ns

func nanos(t time.Time) (int64, bool) {
	if t.Unix() < earliest/int64(time.Second) || t.After(latest) {
		return 0, false
	}
	return t.UnixNano(), true
}

// moment is the inverse of nanos; 0 gives the zero time.
func moment(ns int64) time.Time {
	if ns == 0 {
		return time.Time{}
	}
	return time.Unix(0, ns).UTC()
}
