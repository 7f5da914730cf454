package export

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/influxdata/influxdb-client-go/v2/api/write"
	lp "github.com/influxdata/line-protocol"

	"luted/analysis"
	"luted/collector/archive"
)

var update = flag.Bool("update", false, "rewrite golden files under testdata")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", path, d)
	}
}

var t0 = time.Date(2026, 3, 2, 8, 0, 0, 250e6, time.UTC)

// InfluxDB public documentation, v2 reference, line protocol: what the library's encoder, set as the
// outlet sets it, makes of the documented examples; and an example of our own by the same rules.
func TestLineProtocolEscapes(t *testing.T) {
	for _, tt := range []struct {
		name  string
		point *write.Point
		want  string
	}{
		{"FMT-1, space in a measurement", write.NewPointWithMeasurement("my Measurement").AddField("fieldKey", "string value"), `my\ Measurement fieldKey="string value"`},
		{"FMT-2, quotes in a string", write.NewPointWithMeasurement("myMeasurement").AddField("fieldKey", `"string" within a string`), `myMeasurement fieldKey="\"string\" within a string"`},
		{"FMT-3, own example", write.NewPointWithMeasurement("batch").AddTag("still", "Still A,1=x").AddField("kwh", 4.5), `batch,still=Still\ A\,1\=x kwh=4.5`},
	} {
		p, ok := maker{}.finish(tt.point, point{})
		if !ok || p.line != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, p.line, tt.want)
		}
	}
}

// The client must encode as we do, or a point would change with the way it is sent.
func TestSameLineAsTheClient(t *testing.T) {
	p := newMaker("Quay Lane", true).start("luted_scan", "north", t0).AddField("jacket_temperature", 142.5).AddField("n", int64(3)).AddField("s", `a "b" \c`)
	ours, _ := maker{}.finish(p, point{})
	var buf bytes.Buffer
	e := lp.NewEncoder(&buf) // as in the client's EncodePoints
	e.SetFieldTypeSupport(lp.UintSupport)
	e.FailOnFieldErr(true)
	e.SetPrecision(time.Millisecond)
	if _, err := e.Encode(p); err != nil {
		t.Fatal(err)
	}
	if got := strings.TrimSpace(buf.String()); got != ours.line {
		t.Errorf("client %s\nours   %s", got, ours.line)
	}
}

func TestScanPoint(t *testing.T) {
	l := archive.Layout{Columns: []archive.Column{
		{Name: "jacket_temperature", Dimension: analysis.Temperature}, {Name: "still_vacuum", Dimension: analysis.Vacuum},
		{Name: "lid_closed", Dimension: analysis.Switch}, {Name: "coolant in, °C", Dimension: analysis.Other},
	}}
	good := func(v float64) analysis.Value { return analysis.Value{V: v} }
	bad := func(q analysis.Quality) analysis.Value { return analysis.Value{Quality: q} }
	for _, tt := range []struct {
		name   string
		m      maker
		values []analysis.Value
		want   string
		reason string
	}{
		{"all good", newMaker("", false), []analysis.Value{good(142.50000000000003), good(81.25), good(1), good(-4)},
			`luted_scan,still=north coolant\ in\,\ °C=-4,jacket_temperature=142.50000000000003,lid_closed=1,still_vacuum=81.25 1772438400250`, "every digit of the float"},
		{"site and simulated", newMaker("Quay Lane, hall 2", true), []analysis.Value{good(20), good(0), good(0), good(0)},
			`luted_scan,simulated=true,site=Quay\ Lane\,\ hall\ 2,still=north coolant\ in\,\ °C=0,jacket_temperature=20,lid_closed=0,still_vacuum=0 1772438400250`, ""},
		{"bad values", newMaker("", false), []analysis.Value{bad(analysis.BrokenWire), good(3), bad(analysis.Silent), bad(analysis.Missing)},
			`luted_scan,still=north jacket_temperature_quality="broken-wire",lid_closed_quality="silent",still_vacuum=3 1772438400250`, "no number, but why; nothing where nobody measured"},
		{"all bad", newMaker("", false), []analysis.Value{bad(analysis.Silent), bad(analysis.Silent), bad(analysis.Missing), bad(analysis.Missing)},
			`luted_scan,still=north jacket_temperature_quality="silent",still_vacuum_quality="silent" 1772438400250`, "a gap that explains itself"},
		{"nothing measured", newMaker("", false), []analysis.Value{bad(analysis.Missing), bad(analysis.Missing), bad(analysis.Missing), bad(analysis.Missing)}, "", "no field, no point"},
		{"not finite", newMaker("", false), []analysis.Value{good(math.NaN()), good(math.Inf(1)), good(1), good(0)},
			`luted_scan,still=north coolant\ in\,\ °C=0,lid_closed=1 1772438400250`, "the line protocol has no such numbers"},
		{"tiny and huge", newMaker("", false), []analysis.Value{good(5e-324), good(1.7976931348623157e308), good(0.1), good(1e21)},
			"", "round trip below"},
		{"site with a backslash at its end", newMaker("Quay\n\\", false), []analysis.Value{good(1), good(1), good(1), good(1)},
			`luted_scan,site=Quay\ /,still=north coolant\ in\,\ °C=1,jacket_temperature=1,lid_closed=1,still_vacuum=1 1772438400250`, "it would escape the comma"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p, ok := tt.m.scan("north", l, analysis.Scan{At: t0, Values: tt.values})
			if tt.name == "tiny and huge" {
				checkRoundTrip(t, p.line, tt.values)
				return
			}
			if p.line != tt.want || ok != (tt.want != "") {
				t.Errorf("%s\nwant %s (%s)", p.line, tt.want, tt.reason)
			}
		})
	}
}

func checkRoundTrip(t *testing.T, line string, values []analysis.Value) {
	t.Helper()
	fields := strings.Split(line, " ")
	for name, v := range map[string]float64{"jacket_temperature": values[0].V, "still_vacuum": values[1].V, "lid_closed": values[2].V} {
		found := false
		for _, f := range strings.Split(fields[len(fields)-2], ",") {
			if text, ok := strings.CutPrefix(f, name+"="); ok {
				back, err := strconv.ParseFloat(text, 64)
				found = err == nil && back == v
			}
		}
		if !found {
			t.Errorf("%s: %g is not in %s", name, v, line)
		}
	}
}

func TestFieldNames(t *testing.T) {
	for in, want := range map[string]string{
		"jacket_temperature": "jacket_temperature", "_internal": "internal", "__": "channel", "": "channel", "time": "time_", `a\,b`: "a/,b", "run time": "run time",
	} {
		if got := fieldName(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func TestEventPoints(t *testing.T) {
	var lines []string
	for i, s := range []string{
		`{"at":"2026-03-02T08:01:20.5Z","still":"north","run":3,"event":"fault","fault":"vacuum-short","state":"raised","likely":[{"cause":"open-to-air","weight":0.8,"because":"x"},{"cause":"ejector","weight":0.2,"because":"y"}],"text":"The vacuum will level off at 41 kPa, \"short\" of 20 kPa."}`,
		`{"at":"2026-03-02T08:09:00Z","still":"north","run":3,"event":"fault","fault":"vacuum-short","state":"cleared","text":"The vacuum has come."}`,
		`{"at":"2026-03-02T08:10:00Z","still":"north","run":0,"event":"fault","fault":"limit-high","channel":"coolant","state":"raised","text":"28 °C"}`,
		`{"at":"2026-03-02T08:10:00Z","still":"north","run":3,"event":"phase","phase":"heat-up"}`,
		`{"at":"2026-03-02T12:40:00Z","still":"north","run":3,"event":"run","start":"2026-03-02T08:00:05Z","end":"2026-03-02T12:40:00Z","verdict":"suspect","why":"The vacuum came late.","phases":[{"name":"pump-down","start":"2026-03-02T08:00:05Z","end":"2026-03-02T08:09:00Z"},{"name":"heat-up","start":"2026-03-02T08:09:00Z","end":"2026-03-02T09:00:00Z"}],"faults":["vacuum-short"],"solvent":"toluene","vacuum":{"tau_s":92.5,"end_pressure_kpa":18.25},"boiling":{"plateau_c":61.5},"dry_at":"2026-03-02T11:30:00Z","dry_basis":"distillate","past_dry_s":120,"energy_kwh":9.75,"energy_basis":"counter","energy_by_phase_kwh":{"heat-up":3.5},"recovered_l":55,"recovered_basis":"volume","kwh_per_gal":0.671,"kwh_per_gal_u":0.01,"cost":{"currency":"USD","energy":{"value":1.37,"basis":"b"},"saving":{"value":180.5,"basis":"b"}}}`,
		`{"at":"2026-03-02T12:40:00Z","still":"south","run":1,"event":"run","start":"2026-03-02T08:00:05Z","end":"2026-03-02T12:40:00Z","verdict":"good","phases":[],"faults":[]}`,
	} {
		var e analysis.Event
		if err := json.Unmarshal([]byte(s), &e); err != nil {
			t.Fatal(err)
		}
		p, ok := newMaker("Quay Lane", false).event(int64(i+1), e)
		if ok != (e.Kind != analysis.PhaseEvent) {
			t.Errorf("%s: point %v", s, ok)
		}
		if ok {
			lines = append(lines, p.line)
			if p.seq != int64(i+1) || !p.scan.IsZero() || p.still != e.Still {
				t.Errorf("%+v does not say where it came from", p)
			}
		}
	}
	golden(t, "events.lp", strings.Join(lines, "\n")+"\n")
}
