package archive

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"luted/analysis"
	"luted/config"
)

// RecordingWriter writes a recording that ReadRecording reads back to the bit: each number is the
// shortest decimal in its column's unit that converts to exactly the stored one.
type RecordingWriter struct {
	csv   *csv.Writer
	cols  []Column
	units []config.Unit
	cells []string
	last  time.Time
}

// NewRecordingWriter writes the header. Call Flush at the end.
func NewRecordingWriter(w io.Writer, l Layout) (*RecordingWriter, error) {
	if err := l.check(); err != nil {
		return nil, fmt.Errorf("recording: %w", err)
	}
	units, err := l.units()
	if err != nil {
		return nil, fmt.Errorf("recording: %w", err)
	}
	rw := &RecordingWriter{csv: csv.NewWriter(w), cols: l.Columns, units: units, cells: make([]string, len(l.Columns)+1)}
	rw.cells[0] = timeColumn
	for i, c := range l.Columns {
		rw.cells[i+1] = formatHeading(c)
	}
	return rw, rw.csv.Write(rw.cells)
}

// Write adds one scan. Scans must be in time order.
func (w *RecordingWriter) Write(s analysis.Scan) error {
	if len(s.Values) != len(w.units) {
		return fmt.Errorf("recording: %d values at %s for %d columns", len(s.Values), s.At.UTC().Format(timeFormat), len(w.units))
	}
	if _, ok := nanos(s.At); !ok {
		return fmt.Errorf("recording: the time %s is not between 1970 and 2262", s.At.UTC().Format(timeFormat))
	}
	if !s.At.After(w.last) {
		return fmt.Errorf("recording: the scan at %s is not later than the one before, %s", s.At.UTC().Format(timeFormat), w.last.UTC().Format(timeFormat))
	}
	w.last = s.At
	w.cells[0] = s.At.UTC().Format(timeFormat)
	for i, v := range s.Values {
		cell, err := formatCell(v, w.units[i])
		if err != nil {
			return fmt.Errorf("recording: %s at %s: %w", w.cols[i].Name, w.cells[0], err)
		}
		w.cells[i+1] = cell
	}
	return w.csv.Write(w.cells)
}

// Flush hands everything on to the underlying writer.
func (w *RecordingWriter) Flush() error {
	w.csv.Flush()
	return w.csv.Error()
}

func formatCell(v analysis.Value, u config.Unit) (string, error) {
	switch {
	case v.Quality == analysis.Missing:
		return "", nil
	case v.Quality != analysis.Good:
		return v.Quality.String(), nil
	case !finite(v.V):
		return "", fmt.Errorf("%g is no number and yet called good", v.V)
	case u.Dimension == analysis.Switch && v.V != 0 && v.V != 1:
		return "", fmt.Errorf("%g for a switch, which is 0 or 1", v.V)
	}
	return formatNumber(v.V, u), nil
}

// formatNumber writes the shortest decimal that the unit converts to exactly inside.
func formatNumber(inside float64, u config.Unit) string {
	x := u.FromInside(inside)
	// FromInside rounds, so the number it came from may be a neighbour in the last bits; rounding to
	// fewer digits finds it if it is a short decimal. Most are: what the instrument sent has few digits.
	from := 1
	if sure(x, u) {
		if y := rounded(x, sureDigits); u.Inside(y) == inside {
			return plain(y)
		}
		from = sureDigits + 1
	}
	for digits := from; digits <= 17; digits++ {
		if y := rounded(x, digits); u.Inside(y) == inside {
			return plain(y)
		}
	}
	// Only a number with no short form in this unit needs the neighbours.
	up, down := x, x
	for range 8 {
		up, down = math.Nextafter(up, math.Inf(1)), math.Nextafter(down, math.Inf(-1))
		for _, y := range [...]float64{up, down} {
			if finite(y) && u.Inside(y) == inside {
				return plain(y)
			}
		}
	}
	return plain(x) // no number in this unit gives it: only possible if it was measured in another
}

// sureDigits is a number of digits to which FromInside is right beyond doubt. If a decimal of at most
// so many digits converts to the stored number, rounding to so many gives that very decimal, and no
// shorter one needs to be tried.
const sureDigits = 12

// sure says whether sureDigits holds: not near zero, where the offset of a unit has eaten digits.
func sure(x float64, u config.Unit) bool {
	a := math.Abs(x)
	return a >= 1e-6 && a < 1e15 && (u.Offset == 0 || a >= 1e-3*math.Abs(u.Offset/u.Factor))
}

func rounded(x float64, digits int) float64 {
	var buf [32]byte
	y, err := strconv.ParseFloat(string(strconv.AppendFloat(buf[:0], x, 'e', digits-1, 64)), 64)
	if err != nil { // rounded up beyond the largest number
		return x
	}
	return y
}

// plain writes a number without an exponent unless it would be very long.
func plain(y float64) string {
	if a := math.Abs(y); a != 0 && (a < 1e-6 || a >= 1e21) {
		return strconv.FormatFloat(y, 'e', -1, 64)
	}
	return strconv.FormatFloat(y, 'f', -1, 64)
}
