package archive

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
	"luted/config"
)

func readRecording(t testing.TB, text string) (Layout, []analysis.Scan, error) {
	t.Helper()
	r, err := ReadRecording(strings.NewReader(text), "north.csv")
	if err != nil {
		return Layout{}, nil, err
	}
	var out []analysis.Scan
	for {
		var s analysis.Scan
		if err := r.Next(&s); err == io.EOF {
			return r.Layout(), out, nil
		} else if err != nil {
			return r.Layout(), out, err
		}
		out = append(out, s)
	}
}

func writeRecording(t testing.TB, l Layout, scans []analysis.Scan) string {
	t.Helper()
	var b bytes.Buffer
	w, err := NewRecordingWriter(&b, l)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range scans {
		if err := w.Write(s); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

const canonical = `time,jacket_temperature [°F],still_vacuum [inHg],lid_closed,gas_level [%LEL],"coolant, in [gal/h]"
2026-03-02T08:00:05Z,302,25,1,0.5,12.25
2026-03-02T08:00:06.001Z,302.18,,0,broken-wire,silent
2026-03-02T08:00:07Z,stuck,-0.1,out-of-range,exception,implausible
`

func TestRecordingUnchanged(t *testing.T) {
	l, scans, err := readRecording(t, canonical)
	if err != nil {
		t.Fatal(err)
	}
	if got := writeRecording(t, l, scans); got != canonical {
		t.Errorf("came back changed:\n%s\nwant:\n%s", got, canonical)
	}
	// 302 °F = 150 °C exactly; 25 inHg = 25 × 3.386 389 kPa (conventional inch of mercury, NIST SP 811, B.8: 3.386 389 E+03 Pa).
	v := scans[0].Values
	if math.Abs(v[0].V-150) > 1e-12 || math.Abs(v[1].V-25*3.386389) > 1e-4 || v[2].V != 1 || v[3].V != 0.5 || v[4].V != 12.25 {
		t.Errorf("values in inside units: %v", v)
	}
	if q := scans[1].Values[1].Quality; q != analysis.Missing {
		t.Errorf("an empty cell is %v, want missing", q)
	}
	if !scans[1].At.Equal(t0.Add(6001 * time.Millisecond)) {
		t.Errorf("the millisecond is lost: %v", scans[1].At)
	}
	want := []Column{
		{"jacket_temperature", analysis.Temperature, "°F"}, {"still_vacuum", analysis.Vacuum, "inHg"}, {"lid_closed", analysis.Switch, ""},
		{"gas_level", analysis.Percent, "%LEL"}, {"coolant, in", analysis.Other, "gal/h"},
	}
	if d := cmp.Diff(want, l.Columns); d != "" {
		t.Error(d)
	}
}

func TestRecordingTolerates(t *testing.T) {
	_, want, err := readRecording(t, canonical)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"byte order mark":        "\ufeff" + canonical,
		"CRLF":                   strings.ReplaceAll(canonical, "\n", "\r\n"),
		"blank lines at the end": canonical + "\n\r\n  \n",
		"no last line end":       strings.TrimSuffix(canonical, "\n"),
		"all of it":              "\ufeff" + strings.ReplaceAll(canonical, "\n", "\r\n") + "\r\n\r\n",
		"spaces in cells":        strings.ReplaceAll(canonical, ",302,25,", ", 302 ,25 ,"),
		"another time zone":      strings.ReplaceAll(canonical, "T08:00:05Z", "T10:00:05+02:00"),
		"the word for missing":   strings.ReplaceAll(canonical, "302.18,,", "302.18,missing,"),
		"not a number":           strings.ReplaceAll(canonical, "302.18,,", "302.18,NaN,"),
		"a line twice":           canonical + "2026-03-02T08:00:07Z,stuck,-0.1,out-of-range,exception,implausible\n",
		"words for switches":     strings.NewReplacer(",1,0.5,", ",True,0.5,", ",,0,", ",,false,").Replace(canonical),
		"more digits":            strings.ReplaceAll(canonical, ",302,25,", ",302.000,2.5e1,"),
	} {
		t.Run(name, func(t *testing.T) {
			_, got, err := readRecording(t, text)
			if d := cmp.Diff(want, got); d != "" || err != nil {
				t.Error(err, d)
			}
		})
	}
}

func TestRecordingMistakes(t *testing.T) {
	line := "2026-03-02T08:00:05Z,302,25,1,0.5,12.25\n"
	for _, tt := range []struct {
		name, text, want string
	}{
		{"empty file", "", "north.csv:1:1: the file is empty"},
		{"first column", "when,jacket_temperature [°C]\n", `north.csv:1:1: the first column is "when"; it should be "time"`},
		{"semicolons", "time;jacket_temperature [°C]\n", "north.csv:1:1: the columns should be separated by commas"},
		{"UTF-16", "\xff\xfet\x00", "north.csv:1:1: the file is in UTF-16; save it as CSV in UTF-8"},
		{"no channels", "time\n", "north.csv:1:1: there are no channels"},
		{"unknown unit", "time,jacket_temperature [inHg]\n", "north.csv:1:6: jacket_temperature: "},
		{"no unit", "time,lid_closed,still_pressure\n", "north.csv:1:17: still_pressure: "},
		{"a switch with a unit", "time,lid_closed [V]\n", "north.csv:1:6: lid_closed: "},
		{"twice", "time,lid_closed,lid_closed\n", "north.csv:1:17: a second column for lid_closed"},
		{"twice in two units", "time,jacket_temperature [°C],jacket_temperature [°F]\n", "a second column for jacket_temperature"},
		{"no name", "time,[°C]\n", "north.csv:1:6: a channel has no name"},
		{"bracket", "time,a] [°C]\n", "north.csv:1:6: "},
		{"called time", "time,time\n", "north.csv:1:6: a channel cannot be called \"time\""},
		{"too few cells", canonical + "2026-03-02T08:00:09Z,302\n", "north.csv:5:22: 2 cells, but the header has 6 columns"},
		{"too many cells", canonical + "2026-03-02T08:00:09Z,1,2,1,4,5,6\n", "north.csv:5:32: 7 cells, but the header has 6 columns"},
		{"same time", canonical + "2026-03-02T08:00:07Z,1,2,1,4,5\n", "north.csv:5:1: a second line for the time 2026-03-02T08:00:07Z, with other values"},
		{"earlier", canonical + line, "north.csv:5:1: the time 2026-03-02T08:00:05Z is not later"},
		{"no time", canonical + "yesterday,1,2,1,4,5\n", `north.csv:5:1: "yesterday" is not a time; write it like 2026-03-02T08:00:05Z`},
		{"year 1", canonical + "0001-01-01T00:00:00Z,1,2,1,4,5\n", "north.csv:5:1: the time 0001-01-01T00:00:00Z is not between 1970 and 2262"},
		{"word", canonical + "2026-03-02T08:00:09Z,hot,2,1,4,5\n", `north.csv:5:22: jacket_temperature: "hot" is neither a number nor a quality (missing, silent, `},
		{"true of a temperature", canonical + "2026-03-02T08:00:09Z,true,2,1,4,5\n", `north.csv:5:22: jacket_temperature: "true" is neither`},
		{"good", canonical + "2026-03-02T08:00:09Z,good,2,1,4,5\n", `"good" is neither`},
		{"hexadecimal", canonical + "2026-03-02T08:00:09Z,0x1p4,2,1,4,5\n", `"0x1p4" is neither`},
		{"too large", canonical + "2026-03-02T08:00:09Z,1e999,2,1,4,5\n", `"1e999" is beyond the numbers`},
		{"decimal comma", canonical + "2026-03-02T08:00:09Z,\"302,5\",2,1,4,5\n", `"302,5" has a decimal comma; write a decimal point`},
		{"switch", canonical + "2026-03-02T08:00:09Z,302,2,0.5,4,5\n", `north.csv:5:28: lid_closed: "0.5" for a switch; write 0 or 1, or true or false`},
		{"quotation mark", canonical + "2026-03-02T08:00:09Z,3\"02,2,0.5,4,5\n", `north.csv:5:23: a quotation mark (")`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, _, err := readRecording(t, tt.text)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got  %v\nwant %s", err, tt.want)
			}
		})
	}
	// The units that would have been right are named.
	_, _, err := readRecording(t, "time,still_vacuum [inhg]\n")
	if err == nil || !strings.Contains(err.Error(), "inHg") || !strings.Contains(err.Error(), "mbar") {
		t.Errorf("an unknown unit does not name the known ones: %v", err)
	}
}

// An error stays: a reader that went on after it would skip a line in silence.
func TestRecordingErrorStays(t *testing.T) {
	r, err := ReadRecording(strings.NewReader("time,lid_closed\n2026-03-02T08:00:05Z,x\n2026-03-02T08:00:06Z,1\n"), "x.csv")
	if err != nil {
		t.Fatal(err)
	}
	var s analysis.Scan
	first, second := r.Next(&s), r.Next(&s)
	if first == nil || first != second {
		t.Errorf("first %v, then %v", first, second)
	}
}

// anyLayout draws channels that the analysis knows, in any of the units people use, and others.
func anyLayout(t *rapid.T) Layout {
	units := map[analysis.Dimension][]string{
		analysis.Temperature: {"°C", "°F", "K"}, analysis.AbsolutePressure: {"kPa", "psi", "mbar", "torr", "inHg", "bar"},
		analysis.Vacuum: {"inHg", "kPa", "mbar", "psi"}, analysis.GaugePressure: {"bar", "psi", "kPa"}, analysis.Power: {"kW", "W"},
		analysis.Energy: {"kWh", "MJ", "Btu"}, analysis.Volume: {"L", "gal"}, analysis.Mass: {"kg", "lb"}, analysis.Flow: {"L/min", "gal/h"},
		analysis.Percent: {"%", "%LEL"}, analysis.Switch: {""}, analysis.Other: {"", "m/s", "1/min", "Ω, cold"},
	}
	names := []string{"coolant", "coolant in, °F", `pump "A"`, "Öl", "#1", "-"}
	for _, s := range analysis.Signals {
		names = append(names, string(s.Signal))
	}
	var l Layout
	for _, n := range rapid.SliceOfNDistinct(rapid.SampledFrom(names), 1, 8, rapid.ID).Draw(t, "names") {
		d := analysis.NewChannel(n).Dimension
		l.Columns = append(l.Columns, Column{n, d, rapid.SampledFrom(units[d]).Draw(t, "unit")})
	}
	return l
}

// anyScans draws scans whose values came through their unit, as all values do.
func anyScans(t *rapid.T, l Layout, after time.Time, most int) []analysis.Scan {
	units, err := l.units()
	if err != nil {
		t.Fatal(err)
	}
	number := rapid.OneOf(
		rapid.Map(rapid.IntRange(-32768, 32767), func(n int) float64 { return float64(n) * 0.1 }),
		rapid.Map(rapid.IntRange(0, 65535), func(n int) float64 { return (float64(n) - 4000) * 30 / 16000 }),
		rapid.Map(rapid.Float32Range(-1e6, 1e6), func(f float32) float64 { return float64(f) }),
		rapid.Float64Range(-1e300, 1e300),
	)
	n := rapid.IntRange(0, most).Draw(t, "scans")
	out := make([]analysis.Scan, n)
	for i := range out {
		after = after.Add(rapid.SampledFrom([]time.Duration{time.Second, time.Millisecond, 1, 1001 * time.Millisecond, time.Minute}).Draw(t, "step"))
		out[i] = analysis.Scan{At: after, Values: make([]analysis.Value, len(units))}
		for j, u := range units {
			v := &out[i].Values[j]
			if q := rapid.IntRange(0, 30).Draw(t, "quality"); q > 0 && q <= int(analysis.Implausible) {
				v.Quality = analysis.Quality(q)
				continue
			}
			if u.Dimension == analysis.Switch {
				v.V = float64(rapid.IntRange(0, 1).Draw(t, "switch"))
				continue
			}
			v.V = u.Inside(number.Draw(t, "number"))
		}
	}
	return out
}

// Out and back: the same bits in, the same bytes out.
func TestRecordingRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := anyLayout(rt)
		scans := anyScans(rt, l, t0, 12)
		text := writeRecording(t, l, scans)
		l2, back, err := readRecording(t, text)
		if err != nil {
			rt.Fatalf("%v\n%s", err, text)
		}
		if !l.Equal(l2) {
			rt.Fatalf("layout %v came back as %v", l, l2)
		}
		if len(back) != len(scans) {
			rt.Fatalf("%d scans came back as %d", len(scans), len(back))
		}
		for i := range scans {
			if d := differ(scans[i], back[i]); d != "" {
				rt.Fatalf("scan %d: %s\n%s", i, d, text)
			}
		}
		if again := writeRecording(t, l2, back); again != text {
			rt.Fatalf("written again:\n%s\nfirst:\n%s", again, text)
		}
	})
}

// The quick way to the shortest decimal finds the one that trying all lengths finds.
func TestShortestDecimal(t *testing.T) {
	units := []config.Unit{{}}
	for _, u := range []struct {
		symbol string
		d      analysis.Dimension
	}{{"°C", analysis.Temperature}, {"°F", analysis.Temperature}, {"K", analysis.Temperature}, {"inHg", analysis.Vacuum}, {"psi", analysis.GaugePressure}, {"W", analysis.Power}, {"gal", analysis.Volume}, {"m3", analysis.Volume}} {
		unit, err := config.ParseUnit(u.symbol, u.d)
		if err != nil {
			t.Fatal(err)
		}
		units = append(units, unit)
	}
	number := rapid.OneOf(
		rapid.Map(rapid.IntRange(-9_999_999, 9_999_999), func(n int) float64 { return float64(n) / 1000 }),
		rapid.Map(rapid.IntRange(-1_000_000, 1_000_000), func(n int) float64 { return float64(n) * 0.1 }),
		rapid.Map(rapid.Int64Range(-1e13, 1e13), func(n int64) float64 { return float64(n) / 1e9 }),
		rapid.Map(rapid.Float32Range(-100, 100), func(f float32) float64 { return float64(f) }),
		rapid.Float64Range(-1e6, 1e6), rapid.Float64Range(-1, 1), rapid.Float64Range(-1e16, 1e16), rapid.Float64Range(-1e-6, 1e-6),
	)
	rapid.Check(t, func(rt *rapid.T) {
		for range 20 {
			u := rapid.SampledFrom(units).Draw(rt, "unit")
			inside := u.Inside(number.Draw(rt, "number"))
			got := formatNumber(inside, u)
			for digits := 1; digits <= 17; digits++ {
				y, err := strconv.ParseFloat(strconv.FormatFloat(u.FromInside(inside), 'e', digits-1, 64), 64)
				if err == nil && u.Inside(y) == inside {
					if got != plain(y) {
						rt.Fatalf("%g in %s: %s, but %s is shorter", inside, u.Symbol, got, plain(y))
					}
					break
				}
			}
			if y, err := strconv.ParseFloat(got, 64); err != nil || u.Inside(y) != inside {
				rt.Fatalf("%g in %s: %s gives %g (%v)", inside, u.Symbol, got, u.Inside(y), err)
			}
		}
	})
}

// differ compares two scans to the bit.
func differ(a, b analysis.Scan) string {
	if !a.At.Equal(b.At) || len(a.Values) != len(b.Values) {
		return cmp.Diff(a, b)
	}
	for i := range a.Values {
		if a.Values[i].Quality != b.Values[i].Quality || math.Float64bits(a.Values[i].V) != math.Float64bits(b.Values[i].V) {
			return cmp.Diff(a.Values[i], b.Values[i])
		}
	}
	return ""
}

// Whatever the file: an error, or a recording that goes out and comes back.
func FuzzRecording(f *testing.F) {
	f.Add(canonical)
	f.Add("\ufeff" + strings.ReplaceAll(canonical, "\n", "\r\n"))
	f.Add("time,a\n2026-03-02T08:00:05Z,1e-320\n")
	f.Add("time,heater_power [W]\n2026-03-02T08:00:05Z,-0\n2026-03-02T08:00:06+02:00,1.7976931348623157e308\n")
	f.Add("time,\"x\n")
	f.Fuzz(func(t *testing.T, text string) {
		l, scans, err := readRecording(t, text)
		if err != nil {
			return
		}
		once := writeRecording(t, l, scans)
		l2, back, err := readRecording(t, once)
		if err != nil || !l2.Equal(l) || len(back) != len(scans) {
			t.Fatalf("%q was written as %q, which reads: %v, %d scans for %d (%v)", text, once, l2, len(back), len(scans), err)
		}
		for i := range scans {
			for j, v := range scans[i].Values {
				if !finite(v.V) || v.Quality != analysis.Good && v.V != 0 {
					t.Fatalf("value %v", v)
				}
				if w := back[i].Values[j]; w != v {
					t.Fatalf("%v came back as %v through %q", v, w, once)
				}
			}
		}
		if again := writeRecording(t, l2, back); again != once {
			t.Fatalf("not steady: %q then %q", once, again)
		}
	})
}

// A line without end is refused before it fills the memory.
func TestEndlessLine(t *testing.T) {
	endless := io.MultiReader(strings.NewReader("time,jacket_temperature [°C]\n2026-03-02T08:00:00Z,"), &ones{left: 1 << 30})
	r, err := ReadRecording(endless, "endless.csv")
	if err != nil {
		t.Fatal(err)
	}
	var s analysis.Scan
	if err := r.Next(&s); err == nil || !strings.Contains(err.Error(), "longer than") {
		t.Errorf("%v, want a refusal of the line", err)
	}
}

// ones is a stream of digits; reading a tenth of it fails the test by its time.
type ones struct{ left int }

func (o *ones) Read(p []byte) (int, error) {
	if o.left <= 0 {
		return 0, io.EOF
	}
	for i := range p {
		p[i] = '1'
	}
	o.left -= len(p)
	return len(p), nil
}

// TestReadErrorsNameTheFileOnce: what the file itself refuses is said with its name, once.
func TestReadErrorsNameTheFileOnce(t *testing.T) {
	dir := t.TempDir()
	f, err := os.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, tt := range []struct {
		name, file, want string
		in               io.Reader
	}{
		{"a directory", dir, dir + ": is a directory", f},
		{"a line without end", "long.csv", "long.csv:1:1: the line is longer than", strings.NewReader("time,jacket_temperature [°C]" + strings.Repeat(",", 2<<20))},
		{"a long line later", "long.csv", "long.csv:2:1: the line is longer than", strings.NewReader("time,jacket_temperature [°C]\n" + strings.Repeat("1", 2<<20))},
		{"a disk that fails", "x.csv", "x.csv: input/output error", iotest.ErrReader(&fs.PathError{Op: "read", Path: "x.csv", Err: errors.New("input/output error")})},
		{"something else that fails", "x.csv", "x.csv: the tape has torn", iotest.ErrReader(errors.New("the tape has torn"))},
	} {
		r, err := ReadRecording(tt.in, tt.file)
		if err == nil {
			err = r.Next(new(analysis.Scan))
		}
		if err == nil || !strings.HasPrefix(err.Error(), tt.want) || strings.Count(err.Error(), tt.file) != 1 {
			t.Errorf("%s: %v; want %q and the name once", tt.name, err, tt.want)
		}
	}
}
