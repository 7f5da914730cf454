package export

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	lp "github.com/influxdata/line-protocol"

	"luted/analysis"
	"luted/collector/archive"
)

// Whatever people call their site, their stills and their channels: one scan is one line, and the line
// protocol's own parser gives back the number, to the last bit, and the time.
func FuzzScanLine(f *testing.F) {
	f.Add("Quay Lane", "north", "jacket_temperature", 142.5, int64(1772438400250))
	f.Add("a,b=c d\\", "Still A,1=x", "time", 1e300, int64(0))
	f.Add("", "#", "_\n\"x\"\t\\", -5e-324, int64(-1))
	f.Add("ä\u00a0", "\\", "a\\,b", 0.1, int64(1))
	f.Fuzz(func(t *testing.T, site, still, channel string, v float64, ms int64) {
		if !utf8.ValidString(site+still+channel) || ms < -1e14 || ms > 1e14 {
			t.Skip("configuration files are UTF-8, and clocks are set")
		}
		l := archive.Layout{Columns: []archive.Column{{Name: channel, Dimension: analysis.Other}, {Name: "zz", Dimension: analysis.Other}}}
		at := time.UnixMilli(ms)
		s := analysis.Scan{At: at, Values: []analysis.Value{{V: v}, {Quality: analysis.BrokenWire}}}
		p, ok := newMaker(site, false).scan(still, l, s)
		if !ok || strings.Contains(p.line, "\n") {
			t.Fatalf("line %q, %v", p.line, ok)
		}
		h := lp.NewMetricHandler()
		h.SetTimePrecision(time.Millisecond)
		ms1, err := lp.NewParser(h).Parse([]byte(p.line))
		if err != nil || len(ms1) != 1 {
			t.Fatalf("%q: %d points, %v", p.line, len(ms1), err)
		}
		m := ms1[0]
		if m.Name() != "luted_scan" || !m.Time().Equal(at) {
			t.Fatalf("%q is read as %s at %s", p.line, m.Name(), m.Time())
		}
		var number, word bool
		for _, fd := range m.FieldList() {
			switch x := fd.Value.(type) {
			case float64:
				number = x == v
			case string:
				word = fd.Key == "zz_quality" && x == "broken-wire"
			}
		}
		if finite := !math.IsNaN(v) && !math.IsInf(v, 0); number != finite || !word {
			t.Fatalf("%q: number %v, word %v", p.line, number, word)
		}
	})
}
