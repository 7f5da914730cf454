package archive

import (
	"bytes"
	"math"
	"strconv"
	"time"

	"luted/analysis"
	"luted/config"
)

// A recording of a year is thirty million lines, nearly all of them alike: a time on the same day as the
// line before, decimals, no quotes. Such plain rows are read here, without allocating. A row with anything
// else in it is left to csv, time.Parse and parseCell, and so is every mistake, for its words. Both ways
// give the same scans to the bit (FuzzPlainRow).

// plainBuffer is read at once, bytes; the line across its end is not plain, for it is in two pieces.
const plainBuffer = 64 << 10

// plainRow reads the next line if it is there as a whole and plain. Nothing is consumed otherwise.
func (r *RecordingReader) plainRow(into *analysis.Scan) bool {
	buffered, _ := r.in.Peek(r.in.Buffered())
	end := bytes.IndexByte(buffered, '\n')
	if end < 0 || !r.plainCells(bytes.TrimSuffix(buffered[:end], []byte("\r")), into) {
		return false
	}
	r.in.Discard(end + 1)
	r.plain++
	return true
}

func (r *RecordingReader) plainCells(line []byte, into *analysis.Scan) bool {
	end := bytes.IndexByte(line, ',')
	if end < 0 {
		return false
	}
	at, ok := r.day.time(line[:end])
	if !ok || !at.After(r.last) {
		return false
	}
	if _, ok := nanos(at); !ok {
		return false
	}
	for i := range r.units {
		if end == len(line) {
			return false // too few cells
		}
		line = line[end+1:]
		if into.Values[i], end, ok = plainCell(line, &r.units[i]); !ok {
			return false
		}
	}
	if end < len(line) {
		return false // too many
	}
	into.At, r.last = at, at
	return true
}

// plainCell is parseCell for a cell at the beginning of b that has no spaces and no mistake. end is where
// the cell ends.
func plainCell(b []byte, u *config.Unit) (v analysis.Value, end int, ok bool) {
	x, end, ok := plainNumber(b)
	if !ok {
		if end = bytes.IndexByte(b, ','); end < 0 {
			end = len(b)
		}
		if end == 0 {
			return analysis.Value{Quality: analysis.Missing}, 0, true
		}
		q, word := analysis.ParseQuality(string(b[:end]))
		return analysis.Value{Quality: q}, end, word && q != analysis.Good
	}
	if u.Dimension == analysis.Switch && x != 0 && x != 1 {
		return analysis.Value{}, end, false
	}
	x = u.Inside(x)
	return analysis.Value{V: x}, end, finite(x)
}

// plainNumber is ParseFloat for digits with at most a minus and a point, up to a comma or the end of b.
func plainNumber(b []byte) (x float64, end int, ok bool) {
	i := 0
	if len(b) > 0 && b[0] == '-' {
		i = 1
	}
	var whole uint64 // the digits without the point
	digits, point := 0, -1
	first := i
	for ; i < len(b); i++ {
		c := b[i]
		if c-'0' <= 9 {
			whole = whole*10 + uint64(c-'0') // wraps when there are too many, and is not used then
			if whole != 0 {
				digits++ // that count
			}
			continue
		}
		if c == ',' {
			break
		}
		if c != '.' || point >= 0 {
			return 0, 0, false
		}
		point = i
	}
	after := 0
	if point >= 0 {
		after = i - 1 - point
	}
	if i == first || i == first+1 && point >= 0 {
		return 0, 0, false // no digit at all
	}
	if x, ok = ratio(whole, digits, after); !ok {
		var err error
		if x, err = strconv.ParseFloat(string(b[first:i]), 64); err != nil {
			return 0, 0, false
		}
	}
	if first > 0 {
		x = -x
	}
	return x, i, true
}

// tens are exact: the powers of ten up to 10²² are.
var tens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
	1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// ratio is whole/10^after, correctly rounded as ParseFloat's result is; digits are those of whole. It is
// not ok where that takes more than this.
//
// Up to 15 digits are an exact integer over an exact power of ten, and a quotient of two floats is rounded
// correctly (W. D. Clinger, How to read floating point numbers accurately, PLDI 1990). Up to 18 digits are
// the sum of two floats; the remainder of the first quotient is a float (fused multiply-add gives it), and
// with it comes a correction good to 2⁻⁵⁰ of itself. Where that little decides nothing, the sum is right.
func ratio(whole uint64, digits, after int) (float64, bool) {
	if digits > 18 || after >= len(tens) {
		return 0, false
	}
	x, ten := float64(whole), tens[after]
	if digits <= 15 {
		return x / ten, true
	}
	const doubt = 1. / (1 << 50)
	rest := float64(int64(whole) - int64(x))
	q := x / ten
	more := (math.FMA(-q, ten, x) + rest) / ten
	low, high := q+more*(1-doubt), q+more*(1+doubt)
	return low, low == high
}

// plainDay is the day and the zone of the latest line that time.Parse has read: another time on it is a
// matter of six digits.
type plainDay struct {
	date     string // "2026-03-02T"; empty: none
	zone     string // "Z", "+01:00"
	midnight int64  // Unix time of its beginning there
}

const dateLen = len("2026-03-02T")

// learn takes a cell that time.Parse has read as at.
func (d *plainDay) learn(cell string, at time.Time) {
	b := []byte(cell)
	if sec, _, zone, ok := timeOfDay(b); ok {
		*d = plainDay{date: cell[:dateLen], zone: string(zone), midnight: at.Unix() - int64(sec)}
	}
}

// time is the time in a cell, if it is on the day.
func (d *plainDay) time(cell []byte) (time.Time, bool) {
	sec, nsec, zone, ok := timeOfDay(cell)
	if !ok || string(cell[:dateLen]) != d.date || string(zone) != d.zone {
		return time.Time{}, false
	}
	return time.Unix(d.midnight+int64(sec), int64(nsec)).UTC(), true
}

// timeOfDay reads the time of day of "2026-03-02T08:00:05.25Z" and what follows it.
func timeOfDay(b []byte) (sec, nsec int, zone []byte, ok bool) {
	if len(b) < len("2026-03-02T08:00:05Z") || b[10] != 'T' || b[13] != ':' || b[16] != ':' {
		return 0, 0, nil, false
	}
	h, m, s := two(b[11:]), two(b[14:]), two(b[17:])
	if h > 23 || m > 59 || s > 59 {
		return 0, 0, nil, false
	}
	sec, b = h*3600+m*60+s, b[19:]
	if b[0] != '.' {
		return sec, 0, b, true
	}
	i, worth := 1, int(1e9)
	for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
		worth /= 10
		nsec += int(b[i]-'0') * worth
	}
	if i == 1 || i > 10 { // no digit, or more than there are nanoseconds
		return 0, 0, nil, false
	}
	return sec, nsec, b[i:], true
}

// two is a number of two digits, or more than 99.
func two(b []byte) int {
	tens, ones := int(b[0])-'0', int(b[1])-'0'
	if uint(tens) > 9 || uint(ones) > 9 {
		return 100
	}
	return 10*tens + ones
}
