package dashboards

import (
	"flag"
	"fmt"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"luted/collector/archive"
)

var measure = flag.Bool("figures", false, "measure how fast a day and a year are answered and drawn")

// Aims: a day of one still at 1 s drawn in 200 ms after its data has arrived, a year in 500 ms, either
// answered in 100 ms at the median.
var aims = []struct {
	name, hash string
	span       time.Duration
	drawn      float64 // ms
}{
	{"24 h at 1 s", "#24h", 24 * time.Hour, 200},
	{"a year", "#1y", 366 * 24 * time.Hour, 500},
}

// TestFigures measures on the archive the daemon writes: the last day at one scan a second, the year before
// it at one in five minutes (a year is drawn from its hours, of which there are as many either way).
func TestFigures(t *testing.T) {
	if !*measure {
		t.Skip("go test ./dashboards -run TestFigures -figures -v measures how fast a day and a year are drawn")
	}
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
	run := goodRun(sceneNow.Add(-5 * time.Hour))
	batch := archive.Batch{Entries: fake.entries}
	commit := func() {
		if _, err := real.Commit(ctx, batch); err != nil {
			t.Fatal(err)
		}
		batch = archive.Batch{}
	}
	day := sceneNow.Add(-24 * time.Hour)
	for at := sceneNow.Add(-366 * 24 * time.Hour); !at.After(sceneNow); {
		batch.Scans = append(batch.Scans, archive.Scan{Still: "north", Scan: scanAt(run, at)})
		if len(batch.Scans) == 3600 {
			commit()
		}
		if at.Before(day) {
			at = at.Add(5 * time.Minute)
		} else {
			at = at.Add(time.Second)
		}
	}
	commit()
	if err := real.Maintain(ctx); err != nil {
		t.Fatal(err)
	}
	o := sceneOptions(shop, fake)
	o.Archive = real
	shop.views[0].Config.Every = time.Second
	done := make(chan struct{})
	o.Done = done
	h := newHandler(t, o)
	srv := httptest.NewServer(h)
	defer srv.Close()
	defer close(done)
	b := openBrowser(t, srv)
	b.size(t, 1366, 900, 1, "light")
	for _, aim := range aims {
		r := request("GET", fmt.Sprintf("/api/stills/north/trend?from=%s&points=1600", sceneNow.Add(-aim.span).Format(time.RFC3339)), nil)
		r.Header.Set("Accept-Encoding", "gzip")
		var took []time.Duration
		bytes := 0
		for range 21 {
			began := time.Now()
			bytes = recorderFor(h, r).Body.Len()
			took = append(took, time.Since(began))
		}
		slices.Sort(took)
		var drawn []float64
		for range 7 {
			b.do(t, aim.name, chromedp.Navigate("about:blank"), chromedp.Navigate(srv.URL+"/still/north"+aim.hash))
			b.until(t, `document.querySelector('#chart')?.dataset.drawnAt`)
			drawn = append(drawn, eval[float64](t, b, `Number(document.querySelector('#chart').dataset.drawnAt) - performance.getEntriesByType('resource').find((e) => e.name.includes('/trend?')).responseEnd`))
		}
		slices.Sort(drawn)
		t.Logf("%s: answered in %v at the median (%d bytes), drawn %.0f ms after it has arrived at the median, %.0f ms at most",
			aim.name, took[10].Round(100*time.Microsecond), bytes, drawn[3], drawn[6])
		if took[10] > 100*time.Millisecond || drawn[3] > aim.drawn {
			t.Errorf("%s: wanted answered in 100 ms, drawn in %.0f ms", aim.name, aim.drawn)
		}
	}
}
