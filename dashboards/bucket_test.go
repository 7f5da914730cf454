package dashboards

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"luted/analysis"
)

// TestBucketsHideNothing: gathered or not, the least and the greatest reading of every stretch are in the
// picture, the mean lies between them, and the readings are all counted. Checked against a plain loop.
func TestBucketsHideNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(rt, "scans")
		g := &gatherer{columns: []string{"x"}, points: rapid.IntRange(10, 200).Draw(rt, "points"), width: time.Duration(rapid.IntRange(1, 90).Draw(rt, "width")) * time.Second}
		at := time.Unix(rapid.Int64Range(0, 4e9).Draw(rt, "from"), 0).UTC()
		type plain struct{ low, high, sum, n float64 }
		want := map[time.Time]*plain{}
		for range n {
			at = at.Add(time.Duration(rapid.IntRange(1, 20000).Draw(rt, "step")) * time.Millisecond)
			v := analysis.Value{V: rapid.Float64Range(-1e6, 1e6).Draw(rt, "v")}
			if rapid.IntRange(0, 5).Draw(rt, "bad") == 0 {
				v = analysis.Value{Quality: analysis.BrokenWire}
			}
			g.scan(analysis.Scan{At: at, Values: []analysis.Value{v}}, []int{0})
			key := at
			if n > g.points {
				key = at.Truncate(g.width)
			}
			w := want[key]
			if w == nil {
				w = &plain{math.Inf(1), math.Inf(-1), 0, 0}
				want[key] = w
			}
			if v.Quality == analysis.Good {
				w.low, w.high, w.sum, w.n = min(w.low, v.V), max(w.high, v.V), w.sum+v.V, w.n+1
			}
		}
		list := g.finish()
		if len(list) != len(want) {
			rt.Fatalf("%d buckets, want %d", len(list), len(want))
		}
		last := time.Time{}
		for _, b := range list {
			w, a := want[b.start], b.columns[0]
			switch {
			case w == nil:
				rt.Fatalf("a bucket at %s, where there is nothing", b.start)
			case !b.start.After(last):
				rt.Fatalf("bucket at %s is not after %s", b.start, last)
			case a.n != w.n:
				rt.Fatalf("%g readings at %s, want %g", a.n, b.start, w.n)
			case a.n > 0 && (a.min != w.low || a.max != w.high || a.mean() < a.min || a.mean() > a.max || math.Abs(a.mean()-w.sum/w.n) > 1e-6):
				rt.Fatalf("at %s: %g..%g mean %g, want %g..%g mean %g", b.start, a.min, a.max, a.mean(), w.low, w.high, w.sum/w.n)
			}
			last = b.start
		}
	})
}

func TestBucketWidth(t *testing.T) {
	for _, tt := range []struct {
		span   time.Duration
		points int
		want   time.Duration
	}{
		{10 * time.Minute, 800, time.Second},
		{time.Hour, 800, 5 * time.Second},
		{8 * time.Hour, 800, time.Minute},
		{24 * time.Hour, 800, 2 * time.Minute},
		{24 * time.Hour, 1600, time.Minute},
		{7 * 24 * time.Hour, 800, 15 * time.Minute},
		{30 * 24 * time.Hour, 800, time.Hour},
		{365 * 24 * time.Hour, 800, 12 * time.Hour},
		{2 * 365 * 24 * time.Hour, 100, 8 * 24 * time.Hour},
	} {
		if got := bucketWidth(tt.span, tt.points); got != tt.want {
			t.Errorf("%v in %d points: %v, want %v", tt.span, tt.points, got, tt.want)
		}
	}
	for _, w := range roundWidths {
		if math.Mod(86400, w) != 0 || w > 60 && math.Mod(w, 60) != 0 || w > 3600 && math.Mod(w, 3600) != 0 {
			t.Errorf("%g s does not divide a day, or holds no whole minutes or hours", w)
		}
	}
}

// TestFigure: a figure for a picture has six digits of the number, so it is off by 5 millionths at most.
func TestFigure(t *testing.T) {
	for _, v := range []float64{0, 1, -1, 149.99987654, 1e-9, -273.15, 98765432.1, math.SmallestNonzeroFloat64, math.MaxFloat64} {
		if got := *figure(v); math.Abs(got-v) > 5.1e-6*math.Abs(v) {
			t.Errorf("figure(%g) = %g", v, got)
		}
	}
}
