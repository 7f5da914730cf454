package export

import (
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// twelve is a scan of a well fitted still.
func twelve() (archive.Layout, analysis.Scan) {
	var l archive.Layout
	s := analysis.Scan{At: t0}
	for i := range 12 {
		l.Columns = append(l.Columns, archive.Column{Name: fmt.Sprintf("channel_%d", i), Dimension: analysis.Other, Unit: "V"})
		s.Values = append(s.Values, analysis.Value{V: 20.1 + float64(i)})
	}
	return l, s
}

func BenchmarkScanLine(b *testing.B) {
	l, s := twelve()
	m := newMaker("Quay Lane", false)
	b.ReportAllocs()
	for b.Loop() {
		m.scan("north", l, s)
	}
}

// From the archive to a server that takes everything at once: how fast a backlog is caught up.
func BenchmarkBacklog(b *testing.B) {
	const n = 20000
	a, err := archive.Open(b.Context(), filepath.Join(b.TempDir(), "archive.db"), archive.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	l, s := twelve()
	if err := a.SetLayout(b.Context(), "north", l); err != nil {
		b.Fatal(err)
	}
	var batch archive.Batch
	for i := range n {
		batch.Scans = append(batch.Scans, archive.Scan{Still: "north", Scan: analysis.Scan{At: t0.Add(time.Duration(i) * time.Second), Values: s.Values}})
	}
	if _, err := a.Commit(b.Context(), batch); err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for b.Loop() {
		x, err := NewInflux(config.Influx{URL: "http://influx.example", Bucket: "b"}, a, Options{Transport: taking{}})
		if err != nil {
			b.Fatal(err)
		}
		for x.cursor.Scans["north"].Before(batch.Scans[n-1].At) {
			next, err := x.next(b.Context())
			if err != nil {
				b.Fatal(err)
			}
			if err := x.deliver(b.Context(), next); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.N*n)/b.Elapsed().Seconds(), "scans/s")
}

type taking struct{}

func (taking) RoundTrip(r *http.Request) (*http.Response, error) {
	io.Copy(io.Discard, r.Body)
	return &http.Response{StatusCode: http.StatusNoContent, Header: http.Header{}, Body: http.NoBody, Request: r}, nil
}

func BenchmarkScrape(b *testing.B) {
	for _, stills := range []int{1, 20} {
		b.Run(fmt.Sprintf("stills=%d", stills), func(b *testing.B) {
			m, _ := filled(MetricsOptions{})
			st := m.stills["north"]
			for i := range stills - 1 {
				name := fmt.Sprintf("s%d", i)
				m.Scan(name, st.channels, st.scan)
				m.Status(name, *st.status)
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.registry.Gather(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
