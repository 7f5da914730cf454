package dashboards

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"luted/collector/archive"
)

// BenchmarkTrend is what one picture costs, on the archive the daemon writes: a day of one still at one
// scan a second, ten channels, sealed and summarised.
func BenchmarkTrend(b *testing.B) {
	ctx := b.Context()
	real, err := archive.Open(ctx, filepath.Join(b.TempDir(), "luted.db"), archive.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer real.Close()
	shop, fake := newScene()
	if err := real.SetLayout(ctx, "north", fake.layouts["north"]); err != nil {
		b.Fatal(err)
	}
	run := goodRun(sceneNow.Add(-5 * time.Hour))
	batch := archive.Batch{Entries: fake.entries}
	for i := range 24 * 3600 {
		at := sceneNow.Add(time.Duration(i-24*3600+1) * time.Second)
		batch.Scans = append(batch.Scans, archive.Scan{Still: "north", Scan: scanAt(run, at)})
		if len(batch.Scans) == 3600 {
			if _, err := real.Commit(ctx, batch); err != nil {
				b.Fatal(err)
			}
			batch = archive.Batch{}
		}
	}
	if err := real.Maintain(ctx); err != nil {
		b.Fatal(err)
	}
	o := sceneOptions(shop, fake)
	o.Archive = real
	shop.views[0].Config.Every = time.Second
	h := newHandler(b, o)
	for _, tt := range []struct {
		name  string
		span  time.Duration
		point int
	}{
		{"24h-800-points", 24 * time.Hour, 800},
		{"24h-1600-points", 24 * time.Hour, 1600},
		{"24h-4000-points", 24 * time.Hour, 4000}, // from every single scan
		{"1h-800-points", time.Hour, 800},
		{"10min-800-points", 10 * time.Minute, 800},
	} {
		b.Run(tt.name, func(b *testing.B) {
			b.ReportAllocs()
			target := fmt.Sprintf("/api/stills/north/trend?from=%s&points=%d", sceneNow.Add(-tt.span).Format(time.RFC3339), tt.point)
			r := request("GET", target, nil)
			r.Header.Set("Accept-Encoding", "gzip")
			bytes := 0
			for b.Loop() {
				res := recorderFor(h, r)
				if res.Code != http.StatusOK {
					b.Fatal(res.Body)
				}
				bytes = res.Body.Len()
			}
			b.ReportMetric(float64(bytes), "bytes/answer")
		})
	}
}

// BenchmarkPicture is what a live update costs, once for all open pages, and what one page is sent for it.
func BenchmarkPicture(b *testing.B) {
	for _, n := range []int{1, 20, 300} {
		b.Run(fmt.Sprintf("%d-stills", n), func(b *testing.B) {
			shop, arch := newScene()
			one := shop.views[0]
			shop.views = nil
			for i := range n {
				cfg := *one.Config
				cfg.Name = fmt.Sprintf("still-%03d", i)
				v := one
				v.Config = &cfg
				shop.views = append(shop.views, v)
			}
			o := sceneOptions(shop, arch)
			s := &server{Options: o}
			s.live.stills, s.live.runs = map[string]map[string]part{}, map[string]lastRun{}
			version, bytes := int64(0), 0
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				for k := range shop.views { // every still has a new scan, its temperatures and its energy changed
					v := &shop.views[k]
					v.Scan.At = v.Scan.At.Add(time.Second)
					e := *v.Status.EnergyKWh + 0.001
					v.Status.EnergyKWh = &e
					v.Scan.Values[0].V = float64(100 + i%50)
				}
				s.live.taken = time.Time{}
				p, next, err := s.since(b.Context(), version, "")
				if err != nil {
					b.Fatal(err)
				}
				version = next
				out, err := json.Marshal(p)
				if err != nil {
					b.Fatal(err)
				}
				bytes = len(out)
			}
			b.ReportMetric(float64(bytes), "bytes/update")
		})
	}
}

// BenchmarkPage is the shop page's own file, as a browser asks for it.
func BenchmarkPage(b *testing.B) {
	h := newHandler(b, sceneOptions(newScene()))
	r := request("GET", "/", nil)
	r.Header.Set("Accept-Encoding", "gzip")
	b.ReportAllocs()
	for b.Loop() {
		h.ServeHTTP(httptest.NewRecorder(), r)
	}
}
