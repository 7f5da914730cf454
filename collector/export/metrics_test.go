package export

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/export/outlet/outlettest"
)

func ptr[T any](v T) *T { return &v }

// clock is a time that tests move.
type clock struct{ now time.Time }

// filled is the metrics of a shop in which something is going on in every family.
func filled(o MetricsOptions) (*Metrics, *clock) {
	c := &clock{t0}
	o.Now = func() time.Time { return c.now }
	o.Version = "1.2.3"
	m := NewMetrics(o)
	ch := func(name string, d analysis.Dimension, unit string) analysis.Channel {
		return analysis.Channel{Name: name, Dimension: d, Unit: unit}
	}
	chs := []analysis.Channel{
		ch("jacket_temperature", analysis.Temperature, ""), ch("still_vacuum", analysis.Vacuum, ""), ch("barometric_pressure", analysis.AbsolutePressure, ""),
		ch("air_supply_pressure", analysis.GaugePressure, ""), ch("heater_power", analysis.Power, ""), ch("energy_counter", analysis.Energy, ""),
		ch("distillate_volume", analysis.Volume, ""), ch("distillate_mass", analysis.Mass, ""), ch("distillate_flow", analysis.Flow, ""),
		ch("gas_level", analysis.Percent, ""), ch("lid_closed", analysis.Switch, ""), ch(`level "A"\B`, analysis.Other, "mA"), ch("vapor_temperature", analysis.Temperature, ""),
	}
	var values []analysis.Value
	for _, v := range []float64{142.5, 81.25, 83.4, 550, 5.75, 1234.5, 17.25, 14.75, 0.75, 4, 1, 12.5} {
		values = append(values, analysis.Value{V: v})
	}
	values = append(values, analysis.Value{Quality: analysis.BrokenWire})
	m.Scan("north", chs, analysis.Scan{At: t0, Values: values})
	m.Status("north", analysis.Status{
		At: t0, Phase: analysis.PumpDown, PhaseSince: t0.Add(-time.Minute), Run: 3, Runs: 3,
		Faults:      []analysis.StandingFault{{Fault: analysis.VacuumShort}, {Fault: analysis.LimitHigh, Channel: "coolant"}},
		PressureKPa: ptr(2.15), TargetKPa: ptr(20.), VaporFloorKPa: ptr(1.5), SaturationC: ptr(61.5),
		Forecast: &analysis.Forecast{EndKPa: 41, ChanceOK: 0.02}, EnergyKWh: ptr(1.5), RecoveredL: ptr(12.), RemainingS: ptr(5400.),
	})
	m.Fault(analysis.Event{Kind: analysis.FaultEvent, Still: "north", Fault: analysis.VacuumShort, State: analysis.Raised})
	m.Run("north", analysis.Event{Kind: analysis.RunEvent, Still: "north", Summary: &analysis.Summary{
		Start: t0.Add(-5 * time.Hour), End: t0.Add(-time.Hour), Verdict: analysis.SuspectRun,
		Phases:  []analysis.PhaseSpan{{Name: analysis.PumpDown, Start: t0, End: t0.Add(9 * time.Minute)}, {Name: analysis.HeatUp, Start: t0, End: t0.Add(time.Hour)}},
		Vacuum:  &analysis.VacuumResult{TauS: ptr(92.5), EndKPa: ptr(18.25), TimeToTargetS: ptr(400.), LeakMbarLS: ptr(2.5)},
		Boiling: &analysis.BoilingResult{PlateauC: ptr(61.25)}, PastDryS: ptr(120.),
		EnergyKWh: ptr(9.75), RecoveredL: ptr(55.), KWhPerGal: ptr(0.671), KWhPerGalU: ptr(0.01), MinimumKWhPerGal: ptr(0.4),
	}})
	m.Scan("south", chs[:1], analysis.Scan{At: t0, Values: []analysis.Value{{Quality: analysis.Silent}}})
	m.Alarms([]alarm.Alarm{
		{Key: alarm.Key{Still: "north", Fault: analysis.VacuumShort}, State: alarm.Unacknowledged, Priority: alarm.Medium},
		{Key: alarm.Key{Still: "north", Fault: analysis.SealWear}, State: alarm.Normal, Priority: alarm.Low},
	})
	m.Sweep("plc", "north", 40*time.Millisecond, 2, map[string]int{"timeout": 1, "exception": 0})
	m.Archive(800*time.Millisecond, 3*time.Millisecond)
	m.ArchiveSize(1 << 20)
	m.Outlet("export/influx", 90*time.Second, 42, 1, 7)
	return m, c
}

func scrape(t *testing.T, m *Metrics, accept string) string {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	if accept != "" {
		r.Header.Set("Accept", accept)
	}
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Fatalf("%d: %s", w.Code, w.Body)
	}
	return w.Body.String()
}

func TestMetricsGolden(t *testing.T) {
	m, _ := filled(MetricsOptions{})
	golden(t, "metrics.txt", strings.ReplaceAll(scrape(t, m, ""), runtime.Version(), "GOVERSION"))
}

// promtool check metrics, of Prometheus itself: names, units, types, help.
func TestPromtool(t *testing.T) {
	path := outlettest.Program(t, "promtool")
	for _, o := range []MetricsOptions{{}, {Simulated: true}, {Runtime: true}} {
		m, _ := filled(o)
		cmd := exec.Command(path, "check", "metrics")
		cmd.Stdin = strings.NewReader(scrape(t, m, ""))
		if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%+v: %v\n%s", o, err, out)
		}
	}
}

// series finds the value of one series.
func series(t *testing.T, text, name string) (string, bool) {
	t.Helper()
	for line := range strings.Lines(text) {
		if rest, ok := strings.CutPrefix(line, name+" "); ok {
			return strings.TrimSpace(rest), true
		}
	}
	return "", false
}

// Each inside unit becomes its base unit once; the factors are those of the SI and, for the gallon, of
// NIST Handbook 44, appendix C (231 cubic inches).
func TestBaseUnits(t *testing.T) {
	m, _ := filled(MetricsOptions{})
	text := scrape(t, m, "")
	for name, want := range map[string]string{
		`luted_temperature_celsius{channel="jacket_temperature",still="north"}`:                   "142.5",
		`luted_pressure_pascals{channel="still_vacuum",kind="vacuum",still="north"}`:              "81250",
		`luted_pressure_pascals{channel="barometric_pressure",kind="absolute",still="north"}`:     "83400",
		`luted_pressure_pascals{channel="air_supply_pressure",kind="gauge",still="north"}`:        "550000",
		`luted_power_watts{channel="heater_power",still="north"}`:                                 "5750",
		`luted_energy_joules_total{channel="energy_counter",still="north"}`:                       "4.4442e+09", // 1234.5 kWh × 3.6 MJ/kWh
		`luted_volume_liters{channel="distillate_volume",still="north"}`:                          "17.25",
		`luted_mass_grams{channel="distillate_mass",still="north"}`:                               "14750",
		`luted_flow_liters_per_second{channel="distillate_flow",still="north"}`:                   "0.0125", // 0.75 L/min
		`luted_level_ratio{channel="gas_level",still="north"}`:                                    "0.04",
		`luted_switch_on{channel="lid_closed",still="north"}`:                                     "1",
		`luted_value{channel="level \"A\"\\B",still="north",unit="mA"}`:                           "12.5",
		`luted_run_last_energy_joules{still="north"}`:                                             "3.51e+07", // 9.75 kWh
		`luted_run_last_leak_pascal_cubic_meters_per_second{still="north"}`:                       "0.25",     // 2.5 mbar·L/s
		`luted_run_last_end_pressure_pascals{still="north"}`:                                      "18250",
		`luted_phase{phase="pump-down",still="north"}`:                                            "1",
		`luted_phase{phase="idle",still="north"}`:                                                 "0",
		`luted_fault{fault="vacuum-short",still="north"}`:                                         "1",
		`luted_fault{fault="vacuum-lost",still="north"}`:                                          "0",
		`luted_channel_fault{channel="coolant",fault="limit-high",still="north"}`:                 "1",
		`luted_runs_total{still="north",verdict="suspect"}`:                                       "1",
		`luted_runs_total{still="north",verdict="good"}`:                                          "0",
		`luted_bad_values_total{channel="vapor_temperature",quality="broken-wire",still="north"}`: "1",
		`luted_alarms{priority="medium",state="unacknowledged",still="north"}`:                    "1",
		`luted_outlet_retries_total{outlet="export/influx"}`:                                      "7",
		`luted_scan_timestamp_seconds{still="north"}`:                                             "1.77243840025e+09",
	} {
		if got, ok := series(t, text, name); !ok || got != want {
			t.Errorf("%s is %q, want %s", name, got, want)
		}
	}
	// 0.671 kWh/gal × 3.6 MJ/kWh / 3.785411784 L/gal = 638.1 kJ/L
	got, _ := series(t, text, `luted_run_last_joules_per_liter{still="north"}`)
	var v float64
	if fmt.Sscan(got, &v); v < 638_134 || v > 638_136 {
		t.Errorf("0.671 kWh/gal are %s J/L, want 638135", got)
	}
	for _, bad := range []string{`luted_temperature_celsius{channel="vapor_temperature",still="north"}`, `luted_temperature_celsius{channel="jacket_temperature",still="south"}`} {
		if got, ok := series(t, text, bad); ok {
			t.Errorf("%s is %s: a bad value has no number", bad, got)
		}
	}
}

// A value that goes bad is gone at the next scrape, and so is all of a still that nobody scans any more.
func TestBadAndStaleValuesDisappear(t *testing.T) {
	m, c := filled(MetricsOptions{})
	const name = `luted_temperature_celsius{channel="jacket_temperature",still="north"}`
	const figure = `luted_run_pressure_pascals{still="north"}`
	chs := []analysis.Channel{{Name: "jacket_temperature", Dimension: analysis.Temperature}}
	show := func() (value, figures bool) {
		text := scrape(t, m, "")
		_, value = series(t, text, name)
		_, figures = series(t, text, figure)
		return value, figures
	}
	m.Scan("north", chs, analysis.Scan{At: t0.Add(time.Second), Values: []analysis.Value{{Quality: analysis.Silent}}})
	if v, f := show(); v || !f {
		t.Errorf("gone bad: value shown %v, want not; figures shown %v, want so", v, f)
	}
	m.Scan("north", chs, analysis.Scan{At: t0.Add(2 * time.Second), Values: []analysis.Value{{V: 20}}})
	if v, _ := show(); !v {
		t.Error("good again, and not shown")
	}
	c.now = c.now.Add(59 * time.Second)
	if v, f := show(); !v || !f {
		t.Errorf("after 59 s: shown %v, %v", v, f)
	}
	c.now = c.now.Add(2 * time.Second)
	if v, f := show(); v || f {
		t.Errorf("after 61 s without a scan: shown %v, %v", v, f)
	}
	if _, ok := series(t, scrape(t, m, ""), `luted_phase{phase="pump-down",still="north"}`); !ok {
		t.Error("the phase is gone too")
	}

	// A still polled every five minutes is not stale in between.
	for range 2 {
		c.now = c.now.Add(5 * time.Minute)
		m.Scan("north", chs, analysis.Scan{At: c.now, Values: []analysis.Value{{V: 20}}})
	}
	c.now = c.now.Add(5 * time.Minute)
	if v, _ := show(); !v {
		t.Error("a slowly polled still is not shown between two scans")
	}
	m.Forget("north")
	if strings.Contains(scrape(t, m, ""), `luted_scans_total{still="north"}`) {
		t.Error("forgotten, and still there")
	}
}

// What is simulated says so on every series, and nothing else has luted's name on it.
func TestSimulatedLabel(t *testing.T) {
	for _, simulated := range []bool{true, false} {
		m, _ := filled(MetricsOptions{Simulated: simulated})
		n := 0
		for line := range strings.Lines(scrape(t, m, "")) {
			if strings.HasPrefix(line, "#") {
				continue
			}
			n++
			if !strings.HasPrefix(line, "luted_") {
				t.Errorf("no prefix: %s", line)
			}
			if strings.Contains(line, `simulated="true"`) != simulated {
				t.Errorf("simulated %v: %s", simulated, line)
			}
		}
		if n < 150 {
			t.Errorf("only %d series", n)
		}
	}
}

// OpenMetrics is for who asks for it, and ends as it must (OpenMetrics 1.0).
func TestOpenMetrics(t *testing.T) {
	m, _ := filled(MetricsOptions{})
	text := scrape(t, m, "application/openmetrics-text; version=1.0.0")
	if !strings.HasSuffix(text, "# EOF\n") {
		t.Errorf("ends in %q", text[max(0, len(text)-40):])
	}
	if !strings.Contains(text, "# TYPE luted_runs counter\n") {
		t.Error("a counter's family has its name without _total")
	}
}

// The text is what Prometheus' own parser reads.
func TestParses(t *testing.T) {
	m, _ := filled(MetricsOptions{})
	parser := expfmt.NewTextParser(model.UTF8Validation)
	found, err := parser.TextToMetricFamilies(strings.NewReader(scrape(t, m, "")))
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range found {
		if f.GetHelp() == "" {
			t.Errorf("%s has no help", name)
		}
	}
	// Everything described appears: no family is left out by mistake.
	for _, f := range families {
		name := strings.Split(strings.SplitN(f.desc.String(), `"`, 3)[1], `"`)[0]
		if found[name] == nil {
			t.Errorf("%s never appears", name)
		}
	}
}

func TestOtherEventsCountNothing(t *testing.T) {
	m := NewMetrics(MetricsOptions{})
	before := scrape(t, m, "")
	m.Fault(analysis.Event{Kind: analysis.PhaseEvent, Still: "north"})
	m.Run("north", analysis.Event{Kind: analysis.FaultEvent, Still: "north"})
	m.Run("north", analysis.Event{Kind: analysis.RunEvent, Still: "north"})
	if after := scrape(t, m, ""); after != before {
		t.Errorf("something changed:\n%s", after)
	}
	m.LastRun("north", analysis.Summary{Start: t0, End: t0.Add(time.Hour), Verdict: analysis.GoodRun})
	text := scrape(t, m, "")
	if v, _ := series(t, text, `luted_run_last_duration_seconds{still="north"}`); v != "3600" {
		t.Errorf("the last run took %s s", v)
	}
	if v, _ := series(t, text, `luted_runs_total{still="north",verdict="good"}`); v != "0" {
		t.Errorf("what is read at the start was counted: %s", v)
	}
}

// A real Prometheus scrapes us and gives back what we said.
func TestRealPrometheus(t *testing.T) {
	path := outlettest.Program(t, "prometheus")
	m, _ := filled(MetricsOptions{Simulated: true})
	web := httptest.NewServer(m.Handler())
	defer web.Close()
	dir, addr := t.TempDir(), outlettest.FreeAddr(t)
	conf := fmt.Sprintf("global: {scrape_interval: 1s}\nscrape_configs:\n- job_name: luted\n  static_configs: [{targets: [%q]}]\n", strings.TrimPrefix(web.URL, "http://"))
	file := filepath.Join(dir, "prometheus.yml")
	if err := os.WriteFile(file, []byte(conf), 0o644); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	ctx, cancel := context.WithCancel(t.Context())
	cmd := exec.CommandContext(ctx, path, "--config.file="+file, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+addr)
	cmd.Stderr = &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { cancel(); cmd.Wait() }()
	var got struct {
		Data struct {
			Result []struct {
				Metric map[string]string
				Value  [2]any
			}
		}
	}
	outlettest.Until(t, "Prometheus has our temperature", func() bool {
		resp, err := http.Get("http://" + addr + "/api/v1/query?query=luted_temperature_celsius")
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		return json.NewDecoder(resp.Body).Decode(&got) == nil && len(got.Data.Result) > 0
	})
	r := got.Data.Result[0]
	if len(got.Data.Result) != 1 || r.Metric["still"] != "north" || r.Metric["channel"] != "jacket_temperature" || r.Metric["simulated"] != "true" || r.Value[1] != "142.5" {
		t.Errorf("%+v", got)
	}
}

func BenchmarkScan(b *testing.B) {
	m, _ := filled(MetricsOptions{})
	chs := m.stills["north"].channels
	s := analysis.Scan{At: t0, Values: append([]analysis.Value(nil), m.stills["north"].scan.Values...)}
	b.ReportAllocs()
	for b.Loop() {
		m.Scan("north", chs, s)
	}
}
