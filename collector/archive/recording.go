package archive

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"luted/analysis"
	"luted/config"
)

// timeColumn is the name of a recording's first column.
const timeColumn = "time"

// RecordingReader reads a recording: CSV with the times (RFC 3339) in the first column and a channel in
// each other one, headed `name [unit]`. Its scans are in inside units, as every scan is.
//
// It also takes what spreadsheets and other programs make of such a file: a byte order mark, CRLF line ends, blank
// lines, true and false for switches, NaN for a number that is missing, a line written twice.
// What it cannot take it names by file, line and column. Not for use by several goroutines at once.
type RecordingReader struct {
	name   string
	in     *bufio.Reader // csv reads from it a line at a time; plainRow those between
	csv    *csv.Reader
	layout Layout
	units  []config.Unit
	last   time.Time
	before []analysis.Value // of the scan at last
	day    plainDay
	plain  int   // lines that csv has not seen
	err    error // sticky
}

// RecordingError is a mistake in a recording.
type RecordingError struct {
	File         string
	Line, Column int // from 1; Column counts bytes
	Text         string
}

// Error gives file, line, column and what to write instead.
func (e *RecordingError) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Text)
}

// ReadRecording reads the header. name is the file's name, for messages.
func ReadRecording(r io.Reader, name string) (*RecordingReader, error) {
	in := bufio.NewReaderSize(&lineReader{r: r, name: name}, plainBuffer)
	head, _ := in.Peek(3) // a shorter file fails below, with a better message
	switch {
	case string(head) == "\ufeff":
		in.Discard(3)
	case len(head) >= 2 && (string(head[:2]) == "\xff\xfe" || string(head[:2]) == "\xfe\xff"):
		return nil, &RecordingError{name, 1, 1, "the file is in UTF-16; save it as CSV in UTF-8"}
	}
	rr := &RecordingReader{name: name, in: in, csv: csv.NewReader(in)} // csv takes a bufio.Reader as it is
	rr.csv.ReuseRecord = true
	rr.csv.FieldsPerRecord = -1 // counted here, for the message
	if err := rr.header(); err != nil {
		return nil, err
	}
	return rr, nil
}

func (r *RecordingReader) header() error {
	cells, err := r.record()
	if err == io.EOF {
		return &RecordingError{r.name, 1, 1, `the file is empty; the first line should be like: time,jacket_temperature [°C],still_vacuum [inHg]`}
	}
	if err != nil {
		return err
	}
	if cells[0] != timeColumn {
		text := fmt.Sprintf("the first column is %q; it should be %q", cells[0], timeColumn)
		if len(cells) == 1 && strings.ContainsAny(cells[0], ";\t") {
			text = "the columns should be separated by commas"
		}
		return r.wrong(0, "%s", text)
	}
	if len(cells) == 1 {
		return r.wrong(0, "there are no channels after %q; write name [unit] for each, such as jacket_temperature [°C]", timeColumn)
	}
	if len(cells)-1 > maxColumns {
		return r.wrong(maxColumns+1, "%d channels; at most %d", len(cells)-1, maxColumns)
	}
	seen := make(map[string]bool, len(cells))
	for i, cell := range cells[1:] {
		c, u, err := parseHeading(cell)
		if err != nil {
			return r.wrong(i+1, "%s", err)
		}
		if seen[c.Name] {
			return r.wrong(i+1, "a second column for %s; a channel has one", c.Name)
		}
		seen[c.Name] = true
		r.layout.Columns = append(r.layout.Columns, c)
		r.units = append(r.units, u)
	}
	return nil
}

// parseHeading reads `name [unit]`.
func parseHeading(cell string) (Column, config.Unit, error) {
	name, unit := strings.TrimSpace(cell), ""
	if rest, ok := strings.CutSuffix(name, "]"); ok {
		i := strings.LastIndex(rest, "[")
		if i < 0 {
			return Column{}, config.Unit{}, fmt.Errorf("%q: a ] without a [; write name [unit]", cell)
		}
		name, unit = strings.TrimSpace(rest[:i]), strings.TrimSpace(rest[i+1:])
	}
	if err := checkName(name); err != nil {
		return Column{}, config.Unit{}, err
	}
	c := Column{Name: name, Dimension: analysis.NewChannel(name).Dimension, Unit: unit}
	u, err := c.unit()
	if err != nil {
		return Column{}, config.Unit{}, fmt.Errorf("%s: %w", name, err)
	}
	c.Unit = u.Symbol // one spelling of each
	return c, u, c.check()
}

func formatHeading(c Column) string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + " [" + c.Unit + "]"
}

// Channels are the recording's channels in the order of its columns.
func (r *RecordingReader) Channels() []analysis.Channel { return r.layout.Channels() }

// Layout is the recording's columns.
func (r *RecordingReader) Layout() Layout {
	return Layout{Columns: slices.Clone(r.layout.Columns)}
}

// Next reads the next scan into into, whose Values it uses again if they are large enough. io.EOF says
// that there are no more; any other error is a *RecordingError or comes from the file, and stays.
func (r *RecordingReader) Next(into *analysis.Scan) error {
	if r.err == nil {
		r.err = r.next(into)
	}
	return r.err
}

func (r *RecordingReader) next(into *analysis.Scan) error {
	for {
		again, err := r.line(into)
		if err != nil || !again {
			return err
		}
	}
}

// line reads the next line. again says that it repeats the one before and is to be passed over.
func (r *RecordingReader) line(into *analysis.Scan) (again bool, err error) {
	into.Values = slices.Grow(into.Values[:0], len(r.units))[:len(r.units)]
	if r.plainRow(into) {
		r.before = append(r.before[:0], into.Values...)
		return false, nil
	}
	cells, err := r.record()
	if err != nil {
		return false, err
	}
	if n := len(r.units) + 1; len(cells) != n {
		return false, r.wrong(min(len(cells), n+1)-1, "%d cells, but the header has %d columns", len(cells), n)
	}
	at, err := time.Parse(time.RFC3339Nano, cells[0])
	if err != nil {
		return false, r.wrong(0, "%q is not a time; write it like 2026-03-02T08:00:05Z", cells[0])
	}
	at = at.UTC()
	if _, ok := nanos(at); !ok {
		return false, r.wrong(0, "the time %s is not between 1970 and 2262", cells[0])
	}
	if !at.After(r.last) && !at.Equal(r.last) {
		return false, r.wrong(0, "the time %s is not later than the one before, %s; put the lines in order, each time once", cells[0], r.last.Format(timeFormat))
	}
	r.day.learn(cells[0], at)
	into.At = at
	for i, cell := range cells[1:] {
		v, err := parseCell(cell, r.units[i])
		if err != nil {
			return false, r.wrong(i+1, "%s: %s", r.layout.Columns[i].Name, err)
		}
		into.Values[i] = v
	}
	if at.Equal(r.last) {
		if !slices.Equal(into.Values, r.before) {
			return false, r.wrong(0, "a second line for the time %s, with other values; each time belongs to one scan", cells[0])
		}
		return true, nil
	}
	r.last = at
	r.before = append(r.before[:0], into.Values...)
	return false, nil
}

// record returns the cells of the next line that has any.
func (r *RecordingReader) record() ([]string, error) {
	for {
		cells, err := r.csv.Read()
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			text := pe.Err.Error()
			if errors.Is(pe.Err, csv.ErrBareQuote) || errors.Is(pe.Err, csv.ErrQuote) {
				text = `a quotation mark (") where none belongs; a cell that has one inside is put in quotation marks and the mark is doubled`
			}
			return nil, &RecordingError{r.name, r.plain + pe.Line, pe.Column, text}
		}
		if err == io.EOF {
			return nil, io.EOF
		}
		if err != nil {
			return nil, r.named(err)
		}
		if len(cells) == 1 && strings.TrimSpace(cells[0]) == "" {
			continue // a line of spaces: csv itself skips only empty ones
		}
		return cells, nil
	}
}

// named puts the file's name before an error of reading it, unless that has it already.
func (r *RecordingReader) named(err error) error {
	if _, ok := errors.AsType[*RecordingError](err); ok {
		return err
	}
	if pe, ok := errors.AsType[*fs.PathError](err); ok && pe.Path == r.name {
		err = pe.Err
	}
	return fmt.Errorf("%s: %w", r.name, err)
}

func (r *RecordingReader) wrong(cell int, format string, args ...any) error {
	line, col := r.csv.FieldPos(cell)
	return &RecordingError{r.name, r.plain + line, col, fmt.Sprintf(format, args...)}
}

// parseCell reads a number, a quality word, or nothing.
func parseCell(cell string, u config.Unit) (analysis.Value, error) {
	cell = strings.TrimSpace(cell)
	if cell == "" {
		return analysis.Value{Quality: analysis.Missing}, nil
	}
	if q, ok := analysis.ParseQuality(cell); ok && q != analysis.Good {
		return analysis.Value{Quality: q}, nil
	}
	if v, ok := written(cell, u.Dimension); ok {
		return v, nil
	}
	if !decimal(cell) {
		if strings.Contains(cell, ",") && decimal(strings.Replace(cell, ",", ".", 1)) {
			return analysis.Value{}, fmt.Errorf("%q has a decimal comma; write a decimal point", cell)
		}
		return analysis.Value{}, fmt.Errorf("%q is neither a number nor a quality (%s); leave the cell empty if nothing was measured", cell, qualityWords())
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return analysis.Value{}, fmt.Errorf("%q is beyond the numbers that can be kept", cell)
	}
	if u.Dimension == analysis.Switch && v != 0 && v != 1 {
		return analysis.Value{}, fmt.Errorf("%q for a switch; write 0 or 1, or true or false", cell)
	}
	v = u.Inside(v)
	if !finite(v) {
		return analysis.Value{}, fmt.Errorf("%q is beyond the numbers that can be kept", cell)
	}
	return analysis.Value{V: v}, nil
}

// written reads the words that other programs write for a state, and for a number that they have not got.
func written(cell string, d analysis.Dimension) (analysis.Value, bool) {
	switch {
	case strings.EqualFold(cell, "nan"):
		return analysis.Value{Quality: analysis.Missing}, true
	case d == analysis.Switch && strings.EqualFold(cell, "true"):
		return analysis.Value{V: 1}, true
	case d == analysis.Switch && strings.EqualFold(cell, "false"):
		return analysis.Value{}, true
	}
	return analysis.Value{}, false
}

// decimal: digits with at most a sign, a point and an exponent. ParseFloat also takes words for what is
// no number, hexadecimal and underscores, none of which an instrument writes.
func decimal(s string) bool {
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9', c == '.', c == '-', c == '+', c == 'e', c == 'E':
		default:
			return false
		}
	}
	_, err := strconv.ParseFloat(s, 64)
	return err == nil || errors.Is(err, strconv.ErrRange)
}

func qualityWords() string {
	var words []string
	for q := analysis.Missing; known(q); q++ {
		words = append(words, q.String())
	}
	return strings.Join(words, ", ")
}
