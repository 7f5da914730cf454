package archive

import (
	"fmt"
	"math"
	"slices"

	"luted/analysis"
	"luted/config"
)

// bucket is a Summary as it is stored.
type bucket struct {
	at     int64 // ns
	layout int64
	scans  int
	cols   []Figures
}

// summarise sums up scans in time order.
func summarise(layout int64, cols int, scans []analysis.Scan, level Level) []bucket {
	var out []bucket
	for _, s := range scans {
		ns := s.At.UnixNano()
		at := ns - ns%int64(level)
		if len(out) == 0 || out[len(out)-1].at != at {
			out = append(out, bucket{at: at, layout: layout, cols: make([]Figures, cols)})
		}
		b := &out[len(out)-1]
		b.scans++
		for i, v := range s.Values {
			if v.Quality == analysis.Good {
				b.cols[i].add(v.V)
			}
		}
	}
	return out
}

// coarser merges buckets into those of a longer level.
func coarser(in []bucket, level Level) []bucket {
	var out []bucket
	for _, b := range in {
		at := b.at - b.at%int64(level)
		if n := len(out); n > 0 && out[n-1].at == at && out[n-1].layout == b.layout {
			out[n-1].merge(b)
			continue
		}
		out = append(out, bucket{at: at, layout: b.layout, scans: b.scans, cols: slices.Clone(b.cols)})
	}
	return out
}

func (b *bucket) merge(c bucket) {
	b.scans += c.scans
	for i := range b.cols {
		b.cols[i].merge(c.cols[i])
	}
}

// A bucket is stored as if it were a scan: the number of scans, then for each column how many were
// good, the lowest, the highest and the mean, missing if none was good.

func (b bucket) values() []analysis.Value {
	vs := make([]analysis.Value, 1, 1+4*len(b.cols))
	vs[0].V = float64(b.scans)
	for _, f := range b.cols {
		q := analysis.Good
		if f.Good == 0 {
			q, f = analysis.Missing, Figures{}
		}
		vs = append(vs, analysis.Value{V: float64(f.Good)}, analysis.Value{V: f.Min, Quality: q}, analysis.Value{V: f.Max, Quality: q}, analysis.Value{V: f.Mean, Quality: q})
	}
	return vs
}

func bucketOf(at, layout int64, vs []analysis.Value) (bucket, error) {
	b := bucket{at: at, layout: layout, cols: make([]Figures, len(vs)/4)}
	var ok bool
	if len(vs)%4 != 1 {
		return b, errSegment
	}
	if b.scans, ok = wholeNumber(vs[0]); !ok {
		return b, errSegment
	}
	for i := range b.cols {
		v, f := vs[1+4*i:5+4*i], &b.cols[i]
		if f.Good, ok = wholeNumber(v[0]); !ok || f.Good > b.scans {
			return b, errSegment
		}
		for _, x := range v[1:] {
			if (x.Quality == analysis.Good) != (f.Good > 0) {
				return b, errSegment
			}
		}
		f.Min, f.Max, f.Mean = v[1].V, v[2].V, v[3].V
	}
	return b, nil
}

func wholeNumber(v analysis.Value) (int, bool) {
	return int(v.V), v.Quality == analysis.Good && v.V >= 0 && v.V < 1<<40 && v.V == math.Trunc(v.V)
}

func encodeBuckets(units []config.Unit, bs []bucket) ([]byte, error) {
	us := make([]config.Unit, 1, 1+4*len(units))
	for _, u := range units {
		us = append(us, config.Unit{}, u, u, u)
	}
	scans := make([]analysis.Scan, len(bs))
	for i, b := range bs {
		scans[i] = analysis.Scan{At: moment(b.at), Values: b.values()}
	}
	return encodeSegment(us, scans)
}

func decodeBuckets(layout int64, data []byte) ([]bucket, error) {
	scans, err := decodeSegment(data)
	if err != nil {
		return nil, err
	}
	out := make([]bucket, len(scans))
	for i, s := range scans {
		if out[i], err = bucketOf(s.At.UnixNano(), layout, s.Values); err != nil {
			return nil, fmt.Errorf("%w: summary at %s", err, s.At.Format(timeFormat))
		}
	}
	return out, nil
}
