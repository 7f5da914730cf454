package collector

import (
	"io"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/collector/export"
)

// scrape reads the metrics as Prometheus would.
func scrape(t *testing.T, m *export.Metrics) map[string]string {
	t.Helper()
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	body, err := io.ReadAll(w.Result().Body)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, line := range strings.Split(string(body), "\n") {
		if i := strings.LastIndexByte(line, ' '); i > 0 && line[0] != '#' {
			out[line[:i]] = line[i+1:]
		}
	}
	return out
}

// TestMetrics: every scan is counted once, whether the archive could be written at first or not, and
// what goes wrong shows.
func TestMetrics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		metrics := export.NewMetrics(export.MetricsOptions{Version: "test"})
		hot := func(_ string, at time.Time) []analysis.Value { return values(90+20*float64(at.Minute()%2), false) }
		c := start(t, m, Options{Metrics: metrics, KeepScans: 30, pollers: []poller{beats{every: time.Second, stills: []string{"north"}, values: hot}}}, "north")
		stop := running(t, c)
		expect := func(want map[string]string) {
			t.Helper()
			got := scrape(t, metrics)
			for k, v := range want {
				if got[k] != v {
					t.Errorf("%s is %q, want %s", k, got[k], v)
				}
			}
		}
		time.Sleep(20*time.Second + 900*time.Millisecond)
		expect(map[string]string{
			`luted_scans_total{still="north"}`: "20", `luted_archive_writable`: "1", `luted_archive_waiting_scans`: "0",
			`luted_clock_lead_seconds{still="north"}`: "0", `luted_temperature_celsius{channel="jacket_temperature",still="north"}`: "90",
		})
		m.order(func() error { return errDisk })
		time.Sleep(60 * time.Second)
		got := scrape(t, metrics)
		if got[`luted_archive_writable`] != "0" || got[`luted_archive_waiting_scans`] != "30" {
			t.Errorf("writable %s, waiting %s; want 0 and the bound of 30", got[`luted_archive_writable`], got[`luted_archive_waiting_scans`])
		}
		if got[`luted_temperature_celsius{channel="jacket_temperature",still="north"}`] != "110" {
			t.Error("the present must show while the archive cannot be written")
		}
		m.order(nil)
		time.Sleep(20 * time.Second)
		if err := stop(); err != nil {
			t.Fatal(err)
		}
		lost := 100 - m.count("north")
		expect(map[string]string{
			`luted_scans_total{still="north"}`: "100", `luted_archive_writable`: "1", `luted_archive_waiting_scans`: "0",
			`luted_archive_lost_scans_total{still="north"}`:                     strconv.Itoa(lost),
			`luted_faults_raised_total{fault="over-temperature",still="north"}`: "1",
			`luted_fault{fault="over-temperature",still="north"}`:               "1",
		})
		if lost < 20 || lost > 30 {
			t.Errorf("%d scans lost of 60 with a bound of 30", lost)
		}
	})
}
