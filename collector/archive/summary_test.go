package archive

import (
	"math"
	"strings"
	"testing"
	"time"

	"luted/analysis"
)

// Two hours of scans, one every 20 s: 480 in all, in segments of 100 with 80 fresh.
func twoHours(t *testing.T) *Archive {
	a := open(t, newFile(t), Options{noSync: true, segmentScans: 100})
	setLayout(t, a, "north", small)
	from := t0.Add(-30 * time.Minute) // 07:30
	var b Batch
	for i := range 480 {
		v := analysis.Value{V: float64(i)}
		if i%3 == 2 {
			v = bad(analysis.Silent)
		}
		b.Scans = append(b.Scans, scanAt("north", from.Add(time.Duration(i)*20*time.Second), v, analysis.Value{V: 1}))
	}
	for len(b.Scans) > 0 { // in batches too small to go straight into segments
		commit(t, a, Batch{Scans: b.Scans[:60]})
		b.Scans = b.Scans[60:]
	}
	maintain(t, a)
	if s := stats(t, a); s.Segments != 4 || s.Fresh != 80 {
		t.Fatalf("%d segments, %d fresh", s.Segments, s.Fresh)
	}
	return a
}

func TestMinutes(t *testing.T) {
	a := twoHours(t)
	at := func(clock string) time.Time {
		if clock == "" {
			return time.Time{}
		}
		c, err := time.Parse(time.TimeOnly, clock)
		if err != nil {
			t.Fatal(err)
		}
		return time.Date(2026, 3, 2, c.Hour(), c.Minute(), c.Second(), 0, time.UTC)
	}
	for _, tt := range []struct {
		name        string
		from, to    string
		level       Level
		first, last string
		n           int
		reason      string
	}{
		{"all minutes", "", "", Minute, "07:30:00", "10:09:00", 160, "zero times do not bound"},
		{"from the start of a minute", "07:40:00", "", Minute, "07:40:00", "10:09:00", 150, "that minute is in"},
		{"from within a minute", "07:40:59", "", Minute, "07:40:00", "10:09:00", 150, "the minute that from lies in"},
		{"to the start of a minute", "", "07:40:00", Minute, "07:30:00", "07:39:00", 10, "only minutes that begin before to"},
		{"to within a minute", "", "07:40:01", Minute, "07:30:00", "07:40:00", 11, "only minutes that begin before to"},
		{"inside one segment", "07:40:00", "07:42:00", Minute, "07:40:00", "07:41:00", 2, "neighbours in the same segment stay out"},
		{"across the edge of a segment", "08:02:00", "08:05:00", Minute, "08:02:00", "08:04:00", 3, "the minute that the edge cuts comes once"},
		{"only fresh", "10:00:00", "10:03:00", Minute, "10:00:00", "10:02:00", 3, "not sealed yet"},
		{"sealed and fresh", "09:40:00", "09:50:00", Minute, "09:40:00", "09:49:00", 10, "scans from 09:43:20 are fresh"},
		{"none", "12:00:00", "", Minute, "", "", 0, "later than all"},
		{"none before", "", "07:30:00", Minute, "", "", 0, "earlier than all"},
		{"all hours", "", "", Hour, "07:00:00", "10:00:00", 4, "07:30 to 10:10 lies in four"},
		{"from within an hour", "08:20:00", "", Hour, "08:00:00", "10:00:00", 3, "the hour that from lies in"},
		{"an hour", "08:00:00", "09:00:00", Hour, "08:00:00", "08:00:00", 1, "only hours that begin before to"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := a.Minutes(t.Context(), "north", at(tt.from), at(tt.to), tt.level)
			if err != nil || len(got) != tt.n {
				t.Fatalf("%d summaries (%v), want %d: %s", len(got), err, tt.n, tt.reason)
			}
			if tt.n > 0 && (!got[0].At.Equal(at(tt.first)) || !got[len(got)-1].At.Equal(at(tt.last))) {
				t.Errorf("from %s to %s, want %s to %s: %s", got[0].At, got[len(got)-1].At, tt.first, tt.last, tt.reason)
			}
			for i := range got[:max(0, len(got)-1)] {
				if got[i+1].At.Sub(got[i].At) != time.Duration(tt.level) {
					t.Errorf("%s follows %s", got[i+1].At, got[i].At)
				}
			}
		})
	}
	// 08:00 to 09:00 are scans 90 to 269; those not 2 modulo 3 are good.
	hours, err := a.Minutes(t.Context(), "north", at("08:00:00"), at("09:00:00"), Hour)
	if err != nil {
		t.Fatal(err)
	}
	h := hours[0]
	if want := (Figures{Good: 120, Min: 90, Max: 268, Mean: 179}); h.Scans != 180 || h.Columns[0].Good != want.Good || h.Columns[0].Min != want.Min ||
		h.Columns[0].Max != want.Max || math.Abs(h.Columns[0].Mean-want.Mean) > 1e-9 || h.Columns[1].Good != 180 || !h.Layout.Equal(small) {
		t.Errorf("%+v, want 180 scans and %+v", h, want)
	}
	if _, err := a.Minutes(t.Context(), "north", time.Time{}, time.Time{}, Level(time.Second)); err == nil || !strings.Contains(err.Error(), "there are minutes and hours") {
		t.Errorf("seconds: %v", err)
	}
	if got, err := a.Minutes(t.Context(), "south", time.Time{}, time.Time{}, Minute); err != nil || got != nil {
		t.Errorf("a still never seen: %v (%v)", got, err)
	}
}

// Values at the ends of the range of the numbers do not spoil a mean.
func TestFiguresDoNotOverflow(t *testing.T) {
	var f, g, sum Figures
	for range 4 {
		f.add(math.MaxFloat64)
		g.add(-math.MaxFloat64)
	}
	sum.merge(f)
	sum.merge(g)
	sum.merge(Figures{})
	if sum.Good != 8 || sum.Min != -math.MaxFloat64 || sum.Max != math.MaxFloat64 || sum.Mean != 0 {
		t.Errorf("%+v", sum)
	}
	if !finite(f.Mean) || math.Abs(f.Mean/math.MaxFloat64-1) > 1e-12 {
		t.Errorf("mean of four times the largest number: %g", f.Mean)
	}
}

// An hour whose very first scan was the last to be dropped still counts it.
func TestHourPartlyDropped(t *testing.T) {
	a := open(t, newFile(t), Options{noSync: true, segmentScans: 10, Keep: time.Minute, Now: soon})
	setLayout(t, a, "north", small)
	fill(t, a, "north", t0.Add(-9*time.Minute), 20, time.Minute) // a segment ends at 08:00:00
	rested(t, a, "north", t0.Add(10*time.Minute))
	a.o.Keep = 8 * time.Minute
	maintain(t, a)
	if s := stats(t, a); s.Scans != 10 || !s.Stills[0].First.Equal(t0.Add(time.Minute)) {
		t.Fatalf("%d scans from %s, want 10 from 08:01", s.Scans, s.Stills[0].First)
	}
	hours, err := a.Minutes(t.Context(), "north", t0, time.Time{}, Hour)
	if err != nil || len(hours) != 1 || hours[0].Scans != 11 {
		t.Errorf("%+v (%v), want one hour of 11 scans", hours, err)
	}
	checkClean(t, a)
}
