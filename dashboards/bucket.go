package dashboards

import (
	"math"
	"time"
)

// aggregate is what a bucket keeps of a column: enough to draw a band that hides no spike.
type aggregate struct {
	min, max, sum float64
	n             float64 // readings behind it
}

// add takes readings that are already summed up: n of them, between low and high, with their mean.
func (a *aggregate) add(low, high, mean, n float64) {
	if n <= 0 {
		return
	}
	if a.n == 0 || low < a.min {
		a.min = low
	}
	if a.n == 0 || high > a.max {
		a.max = high
	}
	a.sum += mean * n
	a.n += n
}

// mean is between min and max whatever rounding did to the sum.
func (a *aggregate) mean() float64 { return min(max(a.sum/a.n, a.min), a.max) }

// bucket is one stretch of time, start included, start plus width not.
type bucket struct {
	start   time.Time
	columns []aggregate
}

// buckets sums up readings that come in time order, as many columns at a time. Widths are round and
// starts lie on multiples of them, so that a picture drawn again a second later has not shifted.
type buckets struct {
	width   time.Duration
	columns int
	list    []bucket
}

// at returns the bucket that holds a time, which must not lie before the last one asked for.
func (b *buckets) at(t time.Time) *bucket {
	start := t.Truncate(b.width)
	if n := len(b.list); n > 0 && !b.list[n-1].start.Before(start) {
		return &b.list[n-1]
	}
	b.list = append(b.list, bucket{start, make([]aggregate, b.columns)})
	return &b.list[len(b.list)-1]
}

// roundWidths are the widths of buckets, in seconds: each divides a day, and those above a minute and an
// hour are whole numbers of them, so that summaries never straddle two buckets.
var roundWidths = []float64{1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1200, 1800, 3600, 7200, 10800, 14400, 21600, 43200, 86400}

// bucketWidth is the least round width that covers a span with at most so many buckets, and beyond a day
// whole days.
func bucketWidth(span time.Duration, points int) time.Duration {
	need := span.Seconds() / float64(points)
	for _, w := range roundWidths {
		if w >= need {
			return time.Duration(w) * time.Second
		}
	}
	return time.Duration(math.Ceil(need/86400)) * 24 * time.Hour
}
