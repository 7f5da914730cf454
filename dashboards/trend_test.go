package dashboards

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/config"
)

func readTrend(t testing.TB, h http.Handler, target string) trendView {
	t.Helper()
	res := get(h, target)
	if res.Code != http.StatusOK {
		t.Fatalf("%s: %d %s", target, res.Code, res.Body)
	}
	var v trendView
	if err := json.Unmarshal(res.Body.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func (v trendView) series(name string) *series {
	for i := range v.Series {
		if v.Series[i].Name == name {
			return &v.Series[i]
		}
	}
	return nil
}

// TestTrendGrain: whatever grain a picture has, it shows the same least and greatest reading.
func TestTrendGrain(t *testing.T) {
	h := newHandler(t, sceneOptions(newScene()))
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range sceneScans("north", nil, 0) {
		if v, ok := s.Values[0].OK(); ok {
			low, high = min(low, v), max(high, v)
		}
	}
	for _, tt := range []struct {
		points  int
		source  string
		bucketS float64
	}{
		{4000, "scans", 30}, {1440, "minutes", 60}, {800, "minutes", 120}, {24, "hours", 3600}, {10, "hours", 10800},
	} {
		v := readTrend(t, h, fmt.Sprintf("/api/stills/north/trend?from=2026-03-01T16:42:00Z&points=%d", tt.points))
		if v.Source != tt.source || v.BucketS != tt.bucketS {
			t.Errorf("%d points: %s in buckets of %g s, want %s, %g s", tt.points, v.Source, v.BucketS, tt.source, tt.bucketS)
		}
		if n := len(v.TimesS); n < tt.points/4 || n > tt.points+2 {
			t.Errorf("%d points asked for, %d given", tt.points, n)
		}
		s := v.series("jacket_temperature")
		gotLow, gotHigh := math.Inf(1), math.Inf(-1)
		for i := range s.Mean {
			if len(s.Min) != len(v.TimesS) || len(s.Mean) != len(v.TimesS) {
				t.Fatal("series and times differ in length")
			}
			gotLow, gotHigh = min(gotLow, *s.Min[i]), max(gotHigh, *s.Max[i])
			if *s.Mean[i] < *s.Min[i] || *s.Mean[i] > *s.Max[i] {
				t.Errorf("mean %g is not between %g and %g", *s.Mean[i], *s.Min[i], *s.Max[i])
			}
		}
		if math.Abs(gotLow-low) > 1e-3 || math.Abs(gotHigh-high) > 1e-3 {
			t.Errorf("%d points: from %g to %g, the scans go from %g to %g", tt.points, gotLow, gotHigh, low, high)
		}
		if !slices.IsSorted(v.TimesS) {
			t.Error("times are not in order")
		}
	}
}

// TestTrendExact: few scans come as they are, to six digits, and a bad reading is a gap.
func TestTrendExact(t *testing.T) {
	shop, arch := newScene()
	v := readTrend(t, newHandler(t, sceneOptions(shop, arch)), "/api/stills/north/trend?from=2026-03-02T16:41:00Z&points=100")
	if v.BucketS != 0 || v.Source != "scans" || len(v.TimesS) != 13 {
		t.Fatalf("%s, bucket %g s, %d points; want the 13 scans of a minute, first and last second included", v.Source, v.BucketS, len(v.TimesS))
	}
	scans := arch.scans["north"][len(arch.scans["north"])-13:]
	s := v.series("jacket_temperature")
	for i, sc := range scans {
		if at := sc.At.Sub(v.From).Seconds(); v.TimesS[i] != at || math.Abs(*s.Mean[i]-sc.Values[0].V) > 5e-6*200 {
			t.Errorf("point %d: %g °C at %g s, want %g at %g", i, *s.Mean[i], v.TimesS[i], sc.Values[0].V, at)
		}
		if s.Min != nil || v.series("coolant_flow").Mean[i] != nil {
			t.Error("a single scan has a band, or a broken wire has a number")
		}
	}
	if v.GapS != 15 {
		t.Errorf("gap %g s, want three beats of 5 s", v.GapS)
	}
}

// TestDerivedLines against published figures: the pressure that a vacuum leaves, and where toluene boils.
func TestDerivedLines(t *testing.T) {
	st := sceneStill("north", "toluene", 60, 1)
	columns := []string{"still_vacuum", "charge_temperature"}
	phases := []phaseMark{{Name: analysis.HeatUp, Start: sceneNow.Add(-time.Hour)}}
	one := func(altitude, vacuumKPa, chargeC float64, baro *float64) (pressure, boils, floor float64) {
		cols := columns
		b := bucket{sceneNow, make([]aggregate, 3)}
		b.columns[0].add(vacuumKPa, vacuumKPa, vacuumKPa, 1)
		b.columns[1].add(chargeC, chargeC, chargeC, 1)
		if baro != nil {
			cols = append(slices.Clone(columns), "barometric_pressure")
			b.columns[2].add(*baro, *baro, *baro, 1)
		}
		out := newDeriver(st, altitude).derive([]bucket{b}, cols, phases, false)
		if len(out) != 3 {
			t.Fatalf("%d lines, want 3", len(out))
		}
		return *out[0].Mean[0], *out[1].Mean[0], *out[2].Mean[0]
	}
	inHg := config.DisplayUnit(analysis.Vacuum, analysis.US)
	for _, tt := range []struct {
		id              string
		altitude, inHg  float64
		wantMbar, tol   float64
		source          string
		barometer       *float64
		boilC, boilTolC float64
	}{
		// UNIT-15: 25 inHg at sea level leaves 166.653 mbar.
		{id: "UNIT-15", inHg: 25, wantMbar: 166.653, tol: 0.001, source: "NIST SP 811, conventional inch of mercury"},
		{id: "UNIT-14", inHg: 20, wantMbar: 335.972, tol: 0.001, source: "NIST SP 811, conventional inch of mercury"},
		// ATM-3: at 1000 m the gauge reading 25 inHg means 52.1 mbar.
		{id: "ATM-3", altitude: 1000, inHg: 25, wantMbar: 52.1, tol: 0.1, source: "US Standard Atmosphere 1976"},
		// A barometer counts more than the altitude.
		{id: "barometer", altitude: 150, inHg: 25, barometer: new(101.325), wantMbar: 166.653, tol: 0.001, source: "NIST SP 811"},
		// Unless no weather makes what it shows there: then it is reduced to sea level.
		{id: "barometer of a weather service", altitude: 1000, inHg: 25, barometer: new(101.325), wantMbar: 52.1, tol: 0.1, source: "US Standard Atmosphere 1976"},
		// Toluene boils at 110.63 °C under one atmosphere.
		{id: "boiling", inHg: 0, wantMbar: 1013.25, tol: 1e-3, boilC: 110.63, boilTolC: 0.5, source: "CRC Handbook of Chemistry and Physics, 95th ed., physical constants"},
	} {
		p, boils, _ := one(tt.altitude, inHg.Inside(tt.inHg), 20, tt.barometer)
		if math.Abs(10*p-tt.wantMbar) > tt.tol {
			t.Errorf("%s: %.4f mbar, want %g (%s)", tt.id, 10*p, tt.wantMbar, tt.source)
		}
		if tt.boilC != 0 && math.Abs(boils-tt.boilC) > tt.boilTolC {
			t.Errorf("%s: boils at %.2f °C, want %g ± %g (%s)", tt.id, boils, tt.boilC, tt.boilTolC, tt.source)
		}
	}
	// The vapour pressure of toluene at its boiling point is that of the atmosphere: the two lines meet.
	p, boils, _ := one(0, 0, 20, nil)
	if _, _, floor := one(0, 0, boils, nil); math.Abs(floor-p) > 0.02 {
		t.Errorf("vapour floor at the boiling point is %.3f kPa, the pressure %.3f kPa", floor, p)
	}
}

// TestDerivedLinesLeftOut: what cannot be known is not drawn.
func TestDerivedLinesLeftOut(t *testing.T) {
	names := func(st *config.Still, columns []string, phases []phaseMark) string {
		b := bucket{sceneNow, make([]aggregate, len(columns))}
		for i := range columns {
			b.columns[i].add(60, 60, 60, 1)
		}
		var out []string
		for _, s := range newDeriver(st, 0).derive([]bucket{b}, columns, phases, false) {
			out = append(out, s.Name)
		}
		return strings.Join(out, " ")
	}
	in := func(p analysis.Phase) []phaseMark { return []phaseMark{{Name: p, Start: sceneNow}} }
	all := []string{"still_vacuum", "charge_temperature"}
	st := sceneStill("north", "toluene", 60, 1)
	unknown := sceneStill("north", "toluene", 60, 1)
	unknown.Equipment.Solvent = solvent.Mixture{}
	for _, tt := range []struct {
		name    string
		st      *config.Still
		columns []string
		phases  []phaseMark
		want    string
	}{
		{"heating up", st, all, in(analysis.HeatUp), "pressure saturation_temperature vapor_pressure"},
		{"the charge boils: its floor is the pressure itself", st, all, in(analysis.Distilling), "pressure saturation_temperature"},
		{"the charge is gone: residue has no floor", st, all, in(analysis.DryOut), "pressure saturation_temperature"},
		{"idle", st, all, nil, "pressure"},
		{"cooling down", st, all, in(analysis.CoolDown), "pressure"},
		{"solvent not stated", unknown, all, in(analysis.HeatUp), "pressure"},
		{"no pressure fitted", st, []string{"charge_temperature"}, in(analysis.HeatUp), "vapor_pressure"},
		{"nothing fitted", st, []string{"heater_power"}, in(analysis.HeatUp), ""},
		{"measured absolutely", st, []string{"still_pressure"}, in(analysis.HeatUp), "pressure saturation_temperature"},
	} {
		if got := names(tt.st, tt.columns, tt.phases); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

func TestMarks(t *testing.T) {
	at := func(min int) time.Time { return sceneNow.Add(time.Duration(min) * time.Minute) }
	phase := func(min, run int, p analysis.Phase) analysis.Event {
		return analysis.Event{At: at(min), Run: run, Kind: analysis.PhaseEvent, Phase: p}
	}
	fault := func(min int, f analysis.Fault, s analysis.FaultState) analysis.Event {
		return analysis.Event{At: at(min), Run: 1, Kind: analysis.FaultEvent, Fault: f, State: s}
	}
	shop, arch := newScene()
	arch.entries = nil
	for _, e := range []analysis.Event{
		phase(-500, 1, analysis.PumpDown), phase(-450, 0, analysis.Idle),
		phase(-100, 2, analysis.PumpDown), fault(-99, analysis.VacuumSlow, analysis.Raised), phase(-90, 2, analysis.HeatUp),
		fault(-80, analysis.VacuumSlow, analysis.Cleared), fault(-70, analysis.HeatingSlow, analysis.Raised), phase(-60, 2, analysis.Distilling),
		fault(-50, analysis.HeatingSlow, analysis.Cleared), fault(-40, analysis.HeatingSlow, analysis.Raised),
	} {
		e.Still = "north"
		arch.add(archive.EventEntry, e.At, "north", e.Run, e)
	}
	h := newHandler(t, sceneOptions(shop, arch))
	v := readTrend(t, h, "/api/stills/north/trend?from="+at(-85).Format(time.RFC3339))
	var got []string
	for _, p := range v.Phases {
		got = append(got, fmt.Sprintf("%s %v %v", p.Name, p.Start.Sub(sceneNow).Minutes(), p.End != nil))
	}
	for _, f := range v.Faults {
		got = append(got, fmt.Sprintf("%s %v %v", f.Fault, f.Raised.Sub(sceneNow).Minutes(), f.Cleared != nil))
	}
	want := "heat-up -90 true; distilling -60 false; vacuum-slow -99 true; heating-slow -70 true; heating-slow -40 false"
	if s := strings.Join(got, "; "); s != want {
		t.Errorf("marks %s\nwant  %s", s, want)
	}
}

// TestRecordingComesBack: what the page offers for download is what was archived, every digit of it.
func TestRecordingComesBack(t *testing.T) {
	shop, arch := newScene()
	res := get(newHandler(t, sceneOptions(shop, arch)), "/api/stills/south/recording.csv?from=2026-03-02T16:30:00Z")
	if got := res.Header().Get("Content-Disposition"); got != `attachment; filename="south-2026-03-02-1030.csv"` {
		t.Errorf("offered as %s; times in names are the site's", got)
	}
	rd, err := archive.ReadRecording(res.Body, "south.csv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	var sc analysis.Scan
	for rd.Next(&sc) == nil {
		want := arch.scans["south"][len(arch.scans["south"])-12*12+n]
		if !sc.At.Equal(want.At) || !slices.Equal(sc.Values, want.Values) {
			t.Fatalf("scan %d: %v, want %v", n, sc, want)
		}
		n++
	}
	if n != 12*12 {
		t.Errorf("%d scans, want those of twelve minutes", n)
	}
}

// TestOnARealArchive mounts the pages on the archive that the daemon writes.
func TestOnARealArchive(t *testing.T) {
	ctx := t.Context()
	real, err := archive.Open(ctx, filepath.Join(t.TempDir(), "luted.db"), archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer real.Close()
	shop, fake := newScene()
	if err := real.SetLayout(ctx, "north", fake.layouts["north"]); err != nil {
		t.Fatal(err)
	}
	b := archive.Batch{Entries: fake.entries}
	for _, s := range fake.scans["north"] {
		b.Scans = append(b.Scans, archive.Scan{Still: "north", Scan: s})
	}
	if _, err := real.Commit(ctx, b); err != nil {
		t.Fatal(err)
	}
	if err := real.Maintain(ctx); err != nil {
		t.Fatal(err)
	}
	o := sceneOptions(shop, fake)
	onFake := newHandler(t, o)
	o.Archive = real
	onReal := newHandler(t, o)
	for _, target := range []string{
		"/api/stills/north/trend?from=2026-03-02T16:37:50Z&points=200",
		"/api/stills/north/trend?from=2026-03-02T13:00:00Z&points=400",
		"/api/stills/north/trend?from=2026-03-01T16:42:00Z&points=400",
		"/api/stills/north/trend?from=2026-03-01T16:42:00Z&points=12",
		"/api/stills/north/runs", "/api/runs?limit=2", "/api/journal?limit=1000", "/api/journal?order=newest&before=9&limit=3",
		"/api/stills/north/recording.csv", "/readyz",
	} {
		want, got := get(onFake, target), get(onReal, target)
		if got.Code != http.StatusOK || !sameJSON(t, got, want) {
			t.Errorf("%s: the archive gives %d\n%.500s\nthe fake\n%.500s", target, got.Code, got.Body, want.Body)
		}
	}
}

// sameJSON compares answers; numbers may differ in the last digit, as means are summed in another order.
func sameJSON(t *testing.T, a, b *httptest.ResponseRecorder) bool {
	t.Helper()
	if !strings.Contains(a.Header().Get("Content-Type"), "json") {
		return a.Body.String() == b.Body.String()
	}
	var x, y any
	decode(t, a, &x)
	decode(t, b, &y)
	return near(x, y)
}

func near(x, y any) bool {
	switch a := x.(type) {
	case float64:
		b, ok := y.(float64)
		return ok && math.Abs(a-b) <= 2e-5*max(math.Abs(a), 1)
	case []any:
		b, ok := y.([]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for i := range a {
			if !near(a[i], b[i]) {
				return false
			}
		}
		return true
	case map[string]any:
		b, ok := y.(map[string]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for k := range a {
			if !near(a[k], b[k]) {
				return false
			}
		}
		return true
	}
	return x == y
}

// FuzzTrendQuery: any query is either refused with a problem that names what is wrong, or gives a trend
// that fits its description; a span is never turned round or beyond its limits.
func FuzzTrendQuery(f *testing.F) {
	f.Add("from=2026-03-02T16:00:00Z&to=2026-03-02T16:42:00Z&points=100")
	f.Add("from=2026-03-02T10:00:00%2B01:00&channels=jacket_temperature,heater_power")
	f.Add("points=10&points=20")
	f.Add("from=1e9&to=&points=-1")
	f.Add("to=1970-01-01T00:00:00Z&from=1969-12-31T23:59:59.999999999Z")
	f.Add("channels=,&%zz;")
	shop, arch := newScene()
	for name, scans := range arch.scans {
		arch.scans[name] = scans[len(scans)-100:] // enough for the property, and fast
	}
	h := newHandler(f, sceneOptions(shop, arch))
	f.Fuzz(func(t *testing.T, query string) {
		r := request("GET", "/api/stills/north/trend", nil).WithContext(context.Background())
		r.URL.RawQuery = query
		res := recorderFor(h, r)
		switch res.Code {
		case http.StatusBadRequest:
			var p problem
			decode(t, res, &p)
			if p.Status != http.StatusBadRequest || len(p.Errors) == 0 || p.Errors[0].Name == "" || p.Errors[0].Detail == "" {
				t.Errorf("refused without saying why: %+v", p)
			}
		case http.StatusOK:
			var v trendView
			decode(t, res, &v)
			if !v.From.Before(v.To) || v.To.Sub(v.From) > maxSpan || len(v.TimesS) > maxPoints+2 || !slices.IsSorted(v.TimesS) {
				t.Errorf("%q gives %s to %s with %d points", query, v.From, v.To, len(v.TimesS))
			}
			for _, s := range v.Series {
				if len(s.Mean) != len(v.TimesS) {
					t.Errorf("%s has %d points of %d", s.Name, len(s.Mean), len(v.TimesS))
				}
			}
		default:
			t.Errorf("%q: status %d", query, res.Code)
		}
	})
}
