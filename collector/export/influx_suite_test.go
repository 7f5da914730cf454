package export

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/collector/export/outlet/outlettest"
	"luted/config"
)

// pointIDs names the points of a request: measurement and tags, and the time.
func pointIDs(h http.Header, body []byte) (string, []string) {
	if h.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(bytes.NewReader(body))
		if err != nil {
			return "", []string{err.Error()}
		}
		if body, err = io.ReadAll(z); err != nil {
			return "", []string{err.Error()}
		}
	}
	var ids []string
	for line := range strings.Lines(string(body)) {
		line = strings.TrimSpace(line)
		if line != "" {
			ids = append(ids, line[:strings.Index(line, " ")]+line[strings.LastIndex(line, " "):])
		}
	}
	return "", ids
}

func TestInfluxSuite(t *testing.T) {
	outlettest.Run(t, outlettest.Rig{
		Name: InfluxName,
		Setup: func(t testing.TB, a *outlettest.Archive) {
			l := archive.Layout{Columns: []archive.Column{{Name: "jacket_temperature", Dimension: analysis.Temperature, Unit: "°C"}}}
			if err := a.SetLayout(t.Context(), "north", l); err != nil {
				t.Fatal(err)
			}
		},
		New: func(t testing.TB, a *outlettest.Archive, far *outlettest.Far) outlettest.Runner {
			x, err := NewInflux(config.Influx{URL: "http://influx.example:8086", Bucket: "shop", Batch: 7}, a, Options{Transport: far.HTTP(pointIDs)})
			if err != nil {
				t.Fatal(err)
			}
			return x
		},
		Thing: func(i int, at time.Time) (archive.Batch, string) {
			at = at.Truncate(time.Millisecond)
			s := archive.Scan{Still: "north", Scan: analysis.Scan{At: at, Values: []analysis.Value{{V: float64(i)}}}}
			return archive.Batch{Scans: []archive.Scan{s}}, fmt.Sprintf("luted_scan,still=north %d", at.UnixMilli())
		},
	})
}
