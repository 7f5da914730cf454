package dashboards

import (
	"context"
	"math"
	"net/http"
	"slices"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// Limits of a trend.
const (
	minPoints     = 10
	maxPoints     = 4000
	defaultPoints = 800
	maxSpan       = 2 * 366 * 24 * time.Hour
)

// trendView is the course of a still over some time. Either it holds every scan as it is, or it is
// gathered into buckets of bucket_s seconds: then each series has the least and the greatest value beside
// the mean, so that no spike is lost, and times are those of the starts of the buckets that hold anything.
type trendView struct {
	Still   string      `json:"still"`
	Now     time.Time   `json:"now"`
	From    time.Time   `json:"from"`
	To      time.Time   `json:"to"`
	Source  string      `json:"source"`             // scans, minutes, hours: what was read
	BucketS float64     `json:"bucket_s,omitempty"` // absent: every scan as it is
	GapS    float64     `json:"gap_s"`              // points further apart are not joined
	TimesS  []float64   `json:"times_s"`            // s since from, rising; of scans, or of starts of buckets
	Series  []series    `json:"series"`
	Target  *float64    `json:"target_kpa,omitempty"` // absolute
	Phases  []phaseMark `json:"phases"`
	Faults  []faultMark `json:"faults"`
}

// series is one line of the picture, as long as the times. Null: no good reading.
type series struct {
	Name      string             `json:"name"`
	Words     string             `json:"words"`
	Dimension analysis.Dimension `json:"dimension"`
	Unit      string             `json:"unit,omitempty"`
	Derived   bool               `json:"derived,omitempty"` // worked out from the channels
	Mean      []*float64         `json:"mean"`
	Min       []*float64         `json:"min,omitempty"`
	Max       []*float64         `json:"max,omitempty"`
}

type trendQuery struct {
	from, to time.Time
	points   int
	channels []string // nil: all
}

func (s *server) trend(w http.ResponseWriter, r *http.Request) error {
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return err
	}
	q, err := s.trendQuery(r, v)
	if err != nil {
		return err
	}
	out, err := s.readTrend(r.Context(), v, q)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, out)
}

func (s *server) trendQuery(r *http.Request, v StillView) (trendQuery, error) {
	var names []string
	for _, c := range v.Config.Channels {
		names = append(names, c.Name)
	}
	p := queryParams(r)
	q := trendQuery{to: p.moment("to", s.Now().UTC())}
	q.from = p.moment("from", q.to.Add(-time.Hour))
	q.points = int(p.integer("points", defaultPoints, minPoints, maxPoints))
	q.channels = p.list("channels", names)
	if len(p.errs) == 0 {
		checkSpan(p, q.from, q.to)
	}
	return q, p.done()
}

func checkSpan(p *params, from, to time.Time) {
	switch {
	case !from.Before(to):
		p.wrong("from", "%s is not before to, %s", from.Format(time.RFC3339), to.Format(time.RFC3339))
	case to.Sub(from) > maxSpan:
		p.wrong("from", "more than two years before to; ask for less at a time")
	}
}

// readTrend reads, gathers and derives.
func (s *server) readTrend(ctx context.Context, v StillView, q trendQuery) (trendView, error) {
	names := q.channels
	if names == nil {
		for _, c := range v.Config.Channels {
			names = append(names, c.Name)
		}
	}
	d := newDeriver(v.Config, s.Site.AltitudeM)
	g := &gatherer{columns: slices.Concat(names, d.needs(names)), every: v.Config.Every, points: q.points}
	g.width = max(bucketWidth(q.to.Sub(q.from), q.points), time.Second)
	source, err := s.gather(ctx, v.Config.Name, q, g)
	if err != nil {
		return trendView{}, err
	}
	out := trendView{
		Still: v.Config.Name, Now: stamp(s.Now()), From: q.from, To: q.to, Source: source,
		Target: v.Status.TargetKPa, TimesS: []float64{}, Series: []series{},
	}
	list := g.finish()
	if g.packed {
		out.BucketS = g.width.Seconds()
	}
	out.GapS = math.Max(3*v.Config.Every.Seconds(), 2.5*out.BucketS)
	for _, b := range list {
		out.TimesS = append(out.TimesS, b.start.Sub(q.from).Seconds())
	}
	for i, name := range names {
		c := v.Config.Channels[slices.IndexFunc(v.Config.Channels, nameIs(name))]
		out.Series = append(out.Series, seriesOf(list, i, g.packed, series{
			Name: name, Words: signalWords(name), Dimension: c.Dimension, Unit: insideUnit(c),
		}))
	}
	out.Phases, out.Faults, err = s.marks(ctx, v.Config.Name, q.from, q.to)
	if err != nil {
		return trendView{}, err
	}
	if q.channels == nil {
		out.Series = append(out.Series, d.derive(list, g.columns, out.Phases, g.packed)...)
	}
	return out, nil
}

// seriesOf takes one column out of the buckets.
func seriesOf(list []bucket, column int, packed bool, into series) series {
	into.Mean = make([]*float64, len(list))
	if packed {
		into.Min, into.Max = make([]*float64, len(list)), make([]*float64, len(list))
	}
	for i := range list {
		a := &list[i].columns[column]
		if a.n == 0 {
			continue
		}
		into.Mean[i] = figure(a.mean())
		if packed {
			into.Min[i], into.Max[i] = figure(a.min), figure(a.max)
		}
	}
	return into
}

// figure is a number for a picture: six digits, which is a hundred times what a screen can show and half
// the size of what a float64 can say. The recording has every digit.
func figure(v float64) *float64 {
	if v != 0 {
		scale := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(v))))
		if r := math.Round(v*scale) / scale; !math.IsNaN(r) && !math.IsInf(r, 0) {
			v = r
		}
	}
	return &v
}

// gatherer takes readings in time order and keeps them as they are while they are few, in buckets once
// they are more than points.
type gatherer struct {
	columns []string
	every   time.Duration
	points  int
	width   time.Duration

	packed bool
	exact  []bucket
	packs  buckets
}

// scan takes one scan; place maps the columns to its values, -1 where it has none.
func (g *gatherer) scan(sc analysis.Scan, place []int) {
	if !g.packed && len(g.exact) < g.points {
		b := bucket{sc.At, make([]aggregate, len(g.columns))}
		addScan(&b, sc, place)
		g.exact = append(g.exact, b)
		return
	}
	g.pack()
	addScan(g.packs.at(sc.At), sc, place)
}

func addScan(b *bucket, sc analysis.Scan, place []int) {
	for i, at := range place {
		if at < 0 || at >= len(sc.Values) {
			continue
		}
		if v, ok := sc.Values[at].OK(); ok {
			b.columns[i].add(v, v, v, 1)
		}
	}
}

// pack moves what was kept as it is into buckets.
func (g *gatherer) pack() {
	if g.packed {
		return
	}
	g.packed = true
	g.packs = buckets{width: g.width, columns: len(g.columns)}
	for _, e := range g.exact {
		b := g.packs.at(e.start)
		for i, a := range e.columns {
			if a.n > 0 {
				b.columns[i].add(a.min, a.max, a.mean(), a.n)
			}
		}
	}
	g.exact = nil
}

func (g *gatherer) finish() []bucket {
	if g.packed {
		return g.packs.list
	}
	return g.exact
}

// gather reads what the picture needs: scans, or summaries where a bucket holds whole ones of them.
func (s *server) gather(ctx context.Context, still string, q trendQuery, g *gatherer) (source string, err error) {
	switch {
	case g.width >= time.Hour:
		return "hours", s.gatherSummaries(ctx, still, q, archive.Hour, g)
	case g.width >= time.Minute:
		return "minutes", s.gatherSummaries(ctx, still, q, archive.Minute, g)
	}
	return "scans", s.gatherScans(ctx, still, q.from.Add(-1), q.to, g)
}

// gatherSummaries reads whole buckets from the one that from lies in.
func (s *server) gatherSummaries(ctx context.Context, still string, q trendQuery, level archive.Level, g *gatherer) error {
	sums, err := s.Archive.Minutes(ctx, still, q.from.Truncate(g.width), q.to.Add(1), level) // a scan at to belongs to it
	if err != nil {
		return err
	}
	g.pack()
	for _, sum := range sums {
		b := g.packs.at(sum.At)
		for i, at := range placesOf(sum.Layout, g.columns) {
			if at >= 0 {
				f := sum.Columns[at]
				b.columns[i].add(f.Min, f.Max, f.Mean, float64(f.Good))
			}
		}
	}
	return nil
}

// gatherScans reads scans later than from and not later than to.
func (s *server) gatherScans(ctx context.Context, still string, from, to time.Time, g *gatherer) error {
	var layout archive.Layout
	var place []int
	return s.Archive.ReadScans(ctx, still, from, to, func(l archive.Layout, sc analysis.Scan) error {
		if place == nil || !l.Equal(layout) {
			layout, place = l, placesOf(l, g.columns)
		}
		g.scan(sc, place)
		return nil
	})
}

// placesOf finds the columns in a layout; -1: it does not have it.
func placesOf(l archive.Layout, columns []string) []int {
	place := make([]int, len(columns))
	for i, name := range columns {
		place[i] = l.Column(name)
	}
	return place
}
