package archive

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

// readBoth reads a recording as it is, and again so that csv, time.Parse and ParseFloat read every line, and
// fails where the two differ in a scan, a time or the words of a mistake.
func readBoth(t *testing.T, text string) (scans, plain int) {
	t.Helper()
	quick, err1 := ReadRecording(strings.NewReader(text), "x.csv")
	slow, err2 := ReadRecording(strings.NewReader(text), "x.csv")
	if fmt.Sprint(err1) != fmt.Sprint(err2) {
		t.Fatalf("headers: %v, %v", err1, err2)
	}
	if err1 != nil {
		return 0, 0
	}
	for {
		var a, b analysis.Scan
		slow.day = plainDay{} // nothing is plain
		err1, err2 := quick.Next(&a), slow.Next(&b)
		if fmt.Sprint(err1) != fmt.Sprint(err2) {
			t.Fatalf("%q: quick %v, slow %v", text, err1, err2)
		}
		if err1 != nil {
			var wrong *RecordingError
			if err1 != io.EOF && !errors.As(err1, &wrong) {
				t.Fatalf("%q: %v names no line", text, err1)
			}
			return scans, quick.plain
		}
		if a.At != b.At || !slices.EqualFunc(a.Values, b.Values, sameValue) {
			t.Fatalf("%q: quick %v, slow %v", text, a, b)
		}
		scans++
	}
}

// sameValue is equality to the bit: minus nothing is not nothing.
func sameValue(a, b analysis.Value) bool {
	return math.Float64bits(a.V) == math.Float64bits(b.V) && a.Quality == b.Quality
}

func TestPlainRows(t *testing.T) {
	const head = "time,jacket_temperature [°F],lid_closed,note [x]\n2026-03-02T08:00:05Z,70,1,0\n"
	for _, tt := range []struct {
		name, rows   string
		scans, plain int
	}{
		{"ordinary", "2026-03-02T08:00:06Z,70.1,1,-0.25\n2026-03-02T08:00:07.5Z,,0,silent\n", 3, 2},
		{"carriage returns", "2026-03-02T08:00:06Z,70.1,1,-0.25\r\n2026-03-02T08:00:07Z,70.1,1,5.\r\n", 3, 2},
		{"no last line end", "2026-03-02T08:00:06Z,70.1,1,.5", 2, 0},
		{"next day", "2026-03-03T08:00:06Z,70.1,1,1\n2026-03-03T08:00:07Z,70.1,1,1\n", 3, 1},
		{"another zone", "2026-03-02T10:00:06+02:00,70.1,1,1\n2026-03-02T10:00:07+02:00,70.1,1,1\n", 3, 1},
		{"nine decimals of a second", "2026-03-02T08:00:05.123456789Z,70,1,0\n", 2, 1},
		{"ten decimals of a second", "2026-03-02T08:00:05.1234567891Z,70,1,0\n", 2, 0},
		{"quotes", "2026-03-02T08:00:06Z,\"70.1\",1,1\n2026-03-02T08:00:07Z,70.1,1,1\n", 3, 1},
		{"blank lines: csv passes over them to the next row", "\n  \n2026-03-02T08:00:07Z,70.1,1,1\n", 2, 0},
		{"exponents and plus signs are for ParseFloat", "2026-03-02T08:00:06Z,7e1,1,+1\n", 2, 0},
		{"minus nothing", "2026-03-02T08:00:06Z,70,1,-0\n", 2, 1},
		{"many digits", "2026-03-02T08:00:06Z,70.123456789012345,1,0.00000000000000000000000012345\n", 2, 1},
		{"very many digits", "2026-03-02T08:00:06Z,70.1234567890123456789,1,123456789012345678901234567890\n", 2, 1},
		{"a mistake after plain rows", "2026-03-02T08:00:06Z,70,1,0\n2026-03-02T08:00:07Z,70,2,0\n", 2, 1},
		{"a time twice", "2026-03-02T08:00:06Z,70,1,0\n2026-03-02T08:00:06Z,70,1,0\n", 2, 1},
		{"a cell too many", "2026-03-02T08:00:06Z,70,1,0,\n", 1, 0},
		{"a cell too few", "2026-03-02T08:00:06Z,70,1\n", 1, 0},
		{"no digits", "2026-03-02T08:00:06Z,70,1,.\n", 1, 0},
		{"two points", "2026-03-02T08:00:06Z,70,1,1.2.3\n", 1, 0},
		{"an hour that is none", "2026-03-02T24:00:06Z,70,1,1\n", 1, 0},
		{"no zone", "2026-03-02T08:00:06,70,1,1\n", 1, 0},
		{"good is no word for a value", "2026-03-02T08:00:06Z,70,1,good\n", 1, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			scans, plain := readBoth(t, head+tt.rows)
			if scans != tt.scans || plain != tt.plain {
				t.Errorf("%d scans, %d of them plain; want %d, %d", scans, plain, tt.scans, tt.plain)
			}
		})
	}
}

// TestPlainRowsAcrossBuffers: lines that do not fit the buffer as a whole, and a mistake far down.
func TestPlainRowsAcrossBuffers(t *testing.T) {
	var text strings.Builder
	text.WriteString("time,jacket_temperature [°C]\n")
	at := t0
	for i := range 20000 {
		fmt.Fprintf(&text, "%s,%d.5\n", at.Format(timeFormat), i%300)
		at = at.Add(time.Second)
	}
	text.WriteString("2031-01-01T00:00:00Z,warm\n")
	scans, plain := readBoth(t, text.String())
	if scans != 20000 || plain < 19900 {
		t.Errorf("%d scans, %d of them plain", scans, plain)
	}
}

// TestPlainNumbers: the quick way agrees with strconv on decimals of every length, and on those that lie
// between two floats as nearly as can be.
func TestPlainNumbers(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	check := func(s string) {
		t.Helper()
		want, err := strconv.ParseFloat(s, 64)
		got, end, ok := plainNumber([]byte(s + ",7"))
		if !ok || err != nil || end != len(s) || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%s: %v (%d, %v), strconv %v (%v)", s, got, end, ok, want, err)
		}
	}
	for range 200_000 {
		whole := rng.Uint64() >> (rng.UintN(64))
		s := strconv.FormatUint(whole, 10)
		if cut := rng.IntN(len(s) + 1); cut < len(s) {
			s = s[:cut] + "." + s[cut:]
		}
		check(s)
		check("-" + strings.Repeat("0", rng.IntN(4)) + s)
		x := math.Ldexp(rng.Float64(), rng.IntN(40)-20)
		check(strconv.FormatFloat(x, 'f', -1, 64))
		check(strconv.FormatFloat(float64(float32(x)), 'f', -1, 64))
		// Half way between a float and the next takes 54 bits and more: cut to what fits into 18 digits it
		// is the hardest there is.
		half := 1<<53 + rng.Uint64N(1<<53) | 1
		check(strconv.FormatUint(half, 10))
		check(strconv.FormatFloat(float64(half/2)/1024+1./2048, 'f', 12, 64))
	}
}

func FuzzPlainRow(f *testing.F) {
	f.Add("time,a\n2026-03-02T08:00:05Z,1\n2026-03-02T08:00:06Z,2.5\n2026-03-02T08:00:06.5Z,silent\n")
	f.Add("time,lid_closed\r\n2026-03-02T08:00:05+01:00,1\r\n2026-03-02T08:00:06+01:00,\"0\"\r\n")
	f.Add("time,heater_power [W]\n2026-03-02T08:00:05Z,-0\n2026-03-02T08:00:06Z,12345678901234567\n\n2026-03-02T08:00:07Z,5,\n")
	f.Fuzz(func(t *testing.T, text string) { readBoth(t, text) })
}

func TestReadingAllocatesNothing(t *testing.T) {
	text := writeRecording(t, plant, plantScans(t, 1, t0, 3000))
	r, err := ReadRecording(strings.NewReader(text), "x.csv")
	if err != nil {
		t.Fatal(err)
	}
	var s analysis.Scan
	n := testing.AllocsPerRun(1, func() { // the first call warms up and is not counted
		for range 1200 {
			if err := r.Next(&s); err != nil {
				t.Fatal(err)
			}
		}
	})
	if n > 20 { // a line across the end of the buffer may take some
		t.Errorf("%v allocations in 1200 lines", n)
	}
}
