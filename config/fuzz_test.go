package config

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"luted/analysis"
)

// dimensions are all that have units, in a fixed order.
func dimensions() []analysis.Dimension {
	var out []analysis.Dimension
	for d := range unitTable {
		out = append(out, d)
	}
	slices.Sort(out)
	return append(out, analysis.Other, analysis.Switch)
}

// FuzzQuantity: what is read, written and read again is the same, to the last bit; what is refused says why.
func FuzzQuantity(f *testing.F) {
	for _, s := range []string{"25 inHg", "-40 °C", "1e309 kPa", "60 L", "300 °F", "1,5 L", "\u22123 K", "5e-324 bar", "15 kPa abs", "0.1 %LEL", "7", "-0 W", "3 rpm", "20 1/min"} {
		f.Add(s)
	}
	all := dimensions()
	f.Fuzz(func(t *testing.T, s string) {
		for _, d := range all {
			q, err := ParseQuantity(s, d)
			if err != nil {
				if q != (Quantity{}) || err.Error() == "" {
					t.Fatalf("%q as %s: %v and %v", s, d, q, err)
				}
				continue
			}
			if v := q.Inside(); math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%q as %s is %v inside", s, d, v)
			}
			back, err := ParseQuantity(q.String(), d)
			if err != nil || back != q || math.Signbit(back.Value) != math.Signbit(q.Value) {
				t.Fatalf("%q as %s: %v, written %q, read %v (%v)", s, d, q, q.String(), back, err)
			}
		}
		if d, err := ParseDuration(s); err == nil {
			if back, err := ParseDuration(FormatDuration(d)); err != nil || back != d {
				t.Fatalf("%q: %v, written %q, read %v (%v)", s, d, FormatDuration(d), back, err)
			}
			if d < 0 {
				t.Fatalf("%q: %v", s, d)
			}
		}
		if n, err := ParseSize(s); err == nil && n < 0 {
			t.Fatalf("%q: %d bytes", s, n)
		}
		for _, per := range [][]analysis.Dimension{{analysis.Energy}, {analysis.Volume, analysis.Mass}, nil} {
			if p, err := ParsePrice(s, per...); (err == nil) != (p.Amount > 0 && !math.IsInf(p.Amount, 0) && len(p.Currency) == 3) {
				t.Fatalf("%q: %+v", s, p)
			}
		}
	})
}

// FuzzParse: a file gives a configuration or mistakes, never both; every mistake has a line that is in
// the file and says something; a configuration is what its promises say. No disk is touched.
func FuzzParse(f *testing.F) {
	for _, dir := range []string{"good", "bad"} {
		files, err := filepath.Glob(filepath.Join("testdata", dir, "*.yaml"))
		if err != nil || len(files) == 0 {
			f.Fatalf("no files in %s: %v", dir, err)
		}
		for _, name := range files {
			data, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	env := func(name string) (string, bool) { return "from " + name, name != "NONE" }
	readFile := func(path string) ([]byte, bool, error) {
		if strings.Contains(path, "none") {
			return nil, false, fs.ErrNotExist
		}
		return []byte("secret"), strings.Contains(path, "open"), nil
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, warns, err := parse("luted.yaml", data, env, readFile)
		if (c == nil) == (err == nil) {
			t.Fatalf("configuration %v and error %v", c, err)
		}
		lines := 1 + strings.Count(string(data), "\n") + strings.Count(string(data), "\r") + strings.Count(string(data), "\u0085") +
			strings.Count(string(data), "\u2028") + strings.Count(string(data), "\u2029")
		last := 0
		for _, e := range Errors(err) {
			if e.Line < 1 || e.Line > lines || e.Line < last || e.Wrong == "" || strings.Contains(e.Error(), "\n") {
				t.Fatalf("mistake %q in line %d of %d, after line %d", e, e.Line, lines, last)
			}
			last = e.Line
		}
		if err != nil && len(Errors(err)) == 0 {
			t.Fatalf("an error without a mistake: %v", err)
		}
		for _, w := range warns {
			if w.Pos.Line < 1 || w.Text == "" || strings.Contains(w.Text, "\n") {
				t.Fatalf("warning %+v", w)
			}
		}
		if c != nil {
			checkPromises(t, c)
		}
	})
}

// checkPromises holds what everybody who gets a Config relies on.
func checkPromises(t *testing.T, c *Config) {
	t.Helper()
	promise := func(ok bool, what string, args ...any) {
		t.Helper()
		if !ok {
			t.Fatalf(what, args...)
		}
	}
	promise(c.Site.TimeZone != nil, "no time zone")
	promise(c.Web.Listen != "" && c.Archive.Path != "" && c.Notify.Group >= 0, "defaults are missing: %+v %+v", c.Web, c.Archive)
	for _, l := range c.Lines {
		promise((l.TCP == "") != (l.Serial == ""), "line %s: tcp %q, serial %q", l.Name, l.TCP, l.Serial)
		promise(l.Timeout > 0 && (l.Serial == "" || l.Baud > 0 && l.Stop > 0 && l.Parity != ""), "line %+v", l)
	}
	for _, s := range c.Stills {
		promise(s.Name != "" && s.Name == s.Equipment.Name && c.Still(s.Name) == s, "still %q", s.Name)
		promise(s.Every > 0, "still %s: every %v", s.Name, s.Every)
		promise(s.Line == nil || slices.Contains(c.Lines, s.Line) && s.Device >= 1 && s.Device <= 247 && len(s.Channels) > 0, "still %s over %v", s.Name, s.Line)
		promise(len(s.Channels) == len(s.Equipment.Channels), "still %s: channels do not run parallel", s.Name)
		e := s.Equipment
		for _, v := range []float64{e.ChargeL, e.GasVolumeL, e.Vacuum.TargetKPa, e.Heater.RatedKW, e.Air.MinimumKPa, e.GasLimit} {
			promise(v >= 0 && !math.IsInf(v, 0), "still %s: %+v", s.Name, e)
		}
		promise(e.Solvent.Check() == nil, "solvent %v: %v", e.Solvent, e.Solvent.Check())
		for i, ch := range s.Channels {
			promise(ch.Name == e.Channels[i].Name && ch.Dimension == e.Channels[i].Dimension, "channel %d of %s differs", i, s.Name)
			promise(ch.Unit.Dimension == ch.Dimension, "channel %s is %s in %+v", ch.Name, ch.Dimension, ch.Unit)
			promise(s.Line == nil || ch.Source.Table >= Coil && ch.Source.Table <= Input && ch.Source.As != "", "channel %s: source %+v", ch.Name, ch.Source)
			promise(int(ch.Source.Address)+ch.Source.As.Registers() <= 65536, "channel %s: source %+v", ch.Name, ch.Source)
			promise(ch.Source.Scale != 0 && (!ch.Source.Raw || ch.Source.RawLow != ch.Source.RawHigh), "channel %s: source %+v", ch.Name, ch.Source)
			if u, err := ParseUnit(ch.Unit.Symbol, ch.Dimension); err != nil || u != ch.Unit {
				t.Fatalf("channel %s: unit %+v reads back %+v, %v", ch.Name, ch.Unit, u, err)
			}
		}
	}
}

// TestAliasBombs: files that unfold without end are refused at once, in their own words.
func TestAliasBombs(t *testing.T) {
	repeat := func(n int, format string) string {
		var b strings.Builder
		for i := range n {
			b.WriteString(strings.ReplaceAll(format, "#", itoa(i)))
		}
		return b.String()
	}
	wide := "stills:\n  s: &s {channels: {" + repeat(2000, "c#: {unit: bar}, ") + "}}\n" + repeat(2000, "  t#: *s\n")
	unknown := "stills:\n  s: &s {" + repeat(20000, "k#: 1, ") + "}\n" + repeat(20000, "  t#: *s\n")
	self := "stills: &s\n  a: *s\n  <<: *s\n"
	merges := "stills:\n  a: &a {every: 1 s}\n" + repeat(5000, "  m#: {<<: ["+strings.Repeat("*a, ", 23)+"]}\n")
	for name, data := range map[string]string{"wide": wide, "unknown": unknown, "self": self, "merges": merges} {
		_, _, err := Parse("luted.yaml", []byte(data), nil)
		if err == nil {
			t.Errorf("%s: taken", name)
		}
		if n := len(Errors(err)); n > maxErrors+1 {
			t.Errorf("%s: %d mistakes", name, n)
		}
	}
	if _, _, err := Parse("luted.yaml", []byte(wide), nil); err == nil || !strings.Contains(err.Error(), "aliases") {
		t.Errorf("wide: %v", err)
	}
	if _, _, err := Parse("luted.yaml", make([]byte, maxBytes+1), nil); err == nil || !strings.Contains(err.Error(), "larger than") {
		t.Errorf("large: %v", err)
	}
}

// TestLoadMissing: a file that is not there is told from a file that is wrong.
func TestLoadMissing(t *testing.T) {
	_, _, err := Load(filepath.Join(t.TempDir(), "none.yaml"))
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
}
