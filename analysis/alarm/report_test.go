package alarm

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
)

// raisesAt makes raises of one alarm at so many seconds after t0.
func raisesAt(k Key, p Priority, seconds ...float64) []Raised {
	var out []Raised
	for _, s := range seconds {
		out = append(out, Raised{k, t0.Add(time.Duration(s * float64(time.Second))), p})
	}
	return out
}

func every(n int, step float64) []float64 {
	var out []float64
	for i := range n {
		out = append(out, float64(i)*step)
	}
	return out
}

// Averages by hand: 48 raises in 24 hours are 2 an hour, 48 a day and a third every 10 min. ISA-18.2-2016,
// clause 16 and IEC 62682 count annunciated alarms for each operating position over time.
func TestReportRates(t *testing.T) {
	in := raisesAt(north, Low, every(48, 1800)...) // at 0:00, 0:30, ... 23:30
	r := NewReport(in, t0.Add(-1), t0.Add(24*time.Hour-1), time.UTC)
	if r.Raised != 48 || math.Abs(r.PerHour-2) > 1e-9 || math.Abs(r.PerDay-48) > 1e-9 || math.Abs(r.Per10Min-1.0/3) > 1e-9 {
		t.Errorf("%d raised, %g an hour, %g a day, %g in 10 min; want 48, 2, 48, 1/3", r.Raised, r.PerHour, r.PerDay, r.Per10Min)
	}
	if r.MostInHour.Raised != 2 || r.MostIn10Min.Raised != 1 || r.HoursOver != 0 || len(r.Floods) != 0 || r.FloodShare != 0 {
		t.Errorf("fullest hour %+v, fullest 10 min %+v, floods %v", r.MostInHour, r.MostIn10Min, r.Floods)
	}
}

// The window is open at its beginning and closed at its end, so that two that meet share no raise.
func TestReportWindow(t *testing.T) {
	in := raisesAt(north, Low, 0, 60, 120)
	a := NewReport(in, t0.Add(-time.Minute), t0.Add(time.Minute), time.UTC)
	b := NewReport(in, t0.Add(time.Minute), t0.Add(time.Hour), time.UTC)
	if a.Raised != 2 || b.Raised != 1 {
		t.Errorf("%d and %d raises, want 2 and 1", a.Raised, b.Raised)
	}
	none := NewReport(nil, t0, t0, time.UTC)
	if none.Raised != 0 || none.PerHour != 0 || math.IsNaN(none.FloodShare) || math.IsNaN(none.HoursOver) {
		t.Errorf("of no time: %+v", none)
	}
}

// A crowded hour by hand: 31 raises within one of 24 hours is one hour over 30, 1/24 of them; 30 are not.
func TestReportCrowdedHours(t *testing.T) {
	for n, want := range map[int]float64{30: 0, 31: 1.0 / 24} {
		r := NewReport(raisesAt(north, Low, every(n, 110)...), t0, t0.Add(24*time.Hour), time.UTC)
		n0 := NewReport(append([]Raised{{north, t0.Add(time.Second), Low}}, raisesAt(north, Low, every(n, 110)[1:]...)...), t0, t0.Add(24*time.Hour), time.UTC)
		if math.Abs(n0.HoursOver-want) > 1e-9 || n0.MostInHour.Raised != n {
			t.Errorf("%d raises in the hour: share %g, want %g; fullest %+v (a raise at the very beginning is out: %d)", n, n0.HoursOver, want, n0.MostInHour, r.Raised)
		}
	}
}

// A flood by hand. 12 raises, one every 30 s, at 0 s ... 330 s: with the eleventh, at 300 s, there are more
// than 10 within 10 min: it begins. Nothing more comes. The 8th (210 s) is the fifth from the end: when it
// is 10 min old, at 810 s, four are left, fewer than 5: it ends. It lasted 510 s.
func TestReportFlood(t *testing.T) {
	in := raisesAt(north, Medium, every(12, 30)...)
	in[0].Key = Key{Still: "south", Fault: analysis.AirSupplyLow}
	r := NewReport(in, t0.Add(-time.Hour), t0.Add(time.Hour), time.UTC)
	end := t0.Add(810 * time.Second)
	want := []FloodSpan{{Start: t0.Add(300 * time.Second), End: &end, Raised: 12, First: in[0].Key}}
	if diff := cmp.Diff(want, r.Floods); diff != "" {
		t.Errorf("floods (-want +got):\n%s", diff)
	}
	if got, want := r.FloodShare, 510.0/7200; math.Abs(got-want) > 1e-9 {
		t.Errorf("share of the time %g, want %g", got, want)
	}
	// Looked at while it lasts, it has no end.
	r = NewReport(in, t0.Add(-time.Hour), t0.Add(500*time.Second), time.UTC)
	if len(r.Floods) != 1 || r.Floods[0].End != nil {
		t.Errorf("at 500 s: %+v", r.Floods)
	}
	// A window that begins within the flood counts the rest of it.
	r = NewReport(in, t0.Add(600*time.Second), t0.Add(1000*time.Second), time.UTC)
	if len(r.Floods) != 1 || math.Abs(r.FloodShare-210.0/400) > 1e-9 {
		t.Errorf("from 600 s to 1000 s: share %g, want 210/400", r.FloodShare)
	}
}

// TestFloodsAgree: the spans are those that the running count of Flood gives, asked every second.
func TestFloodsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var in []Raised
		at := 0
		for range rapid.IntRange(0, 60).Draw(t, "n") {
			at += rapid.IntRange(1, 150).Draw(t, "gap")
			in = append(in, raisesAt(north, Low, float64(at))...)
		}
		to := t0.Add(time.Duration(at+1200) * time.Second)
		r := NewReport(in, t0, to, time.UTC)
		var f Flood
		k := 0
		for s := 0; s <= at+1200; s++ {
			now := t0.Add(time.Duration(s) * time.Second)
			on := f.At(now)
			for k < len(in) && in[k].At.Equal(now) {
				on = f.Raise(now)
				k++
			}
			want := false
			for _, span := range r.Floods {
				want = want || !now.Before(span.Start) && (span.End == nil || now.Before(*span.End))
			}
			if on != want {
				t.Fatalf("at %d s the running count says %v, the spans %v: %+v", s, on, want, r.Floods)
			}
		}
	})
}

// Chattering by hand: 3 within a minute (0, 20, 50 s) and a fourth at 70 s, still within a minute of the one
// at 20 s: chattering once, 4 raises. At 400, 420, 440 s again: twice, 7. The other comes 3 times in 61 s.
func TestReportChattering(t *testing.T) {
	other := Key{Still: "south", Fault: analysis.AirSupplyLow}
	in := append(raisesAt(north, Low, 0, 20, 50, 70, 400, 420, 440), raisesAt(other, Low, 500, 530, 561)...)
	r := NewReport(in, t0.Add(-1), t0.Add(time.Hour), time.UTC)
	want := []Chattering{{Key: north, Times: 2, Raised: 7, Last: t0.Add(440 * time.Second)}}
	if diff := cmp.Diff(want, r.Chattering); diff != "" {
		t.Errorf("chattering (-want +got):\n%s", diff)
	}
}

// Shares by hand: 8 low, 1 medium and 1 high of 10 are 80, 10 and 10 %. ISA-18.2-2016 and IEC 62682 have
// about 80, 15 and 5 %.
func TestReportShares(t *testing.T) {
	in := append(raisesAt(north, Low, 1, 200, 400, 600, 800, 1000, 1200, 1400), raisesAt(Key{Still: "south", Fault: analysis.VacuumLost}, Medium, 1600)...)
	in = append(in, raisesAt(Key{Still: "south", Fault: analysis.GasLevelHigh}, High, 1800)...)
	r := NewReport(in, t0, t0.Add(time.Hour), time.UTC)
	want := []Share{{High, 1, 0.1, 0.05}, {Medium, 1, 0.1, 0.15}, {Low, 8, 0.8, 0.80}}
	if diff := cmp.Diff(want, r.Priorities); diff != "" {
		t.Errorf("priorities (-want +got):\n%s", diff)
	}
	if len(r.Frequent) != 3 || r.Frequent[0].Key != north || r.Frequent[0].Raised != 8 || r.Frequent[0].Share != 0.8 || math.Abs(r.Top10Share-1) > 1e-9 {
		t.Errorf("most frequent %+v, together %g", r.Frequent, r.Top10Share)
	}
}

// A burst by hand: weak air at 0 s, the vacuum lost 40 s later, too hot after 150 s (110 s after that). The
// first-out is the air. What comes on another still meanwhile, or 121 s later, does not belong to it.
func TestBursts(t *testing.T) {
	air := Key{Still: "north", Fault: analysis.AirSupplyLow}
	lost := Key{Still: "north", Fault: analysis.VacuumLost}
	hot := Key{Still: "north", Fault: analysis.OverTemperature}
	other := Key{Still: "south", Fault: analysis.VacuumLost}
	in := []Raised{
		raisesAt(air, Medium, 0)[0], raisesAt(other, Medium, 10)[0], raisesAt(lost, Medium, 40)[0], raisesAt(lost, Medium, 60)[0],
		raisesAt(hot, High, 150)[0], raisesAt(air, Medium, 271)[0],
	}
	want := []Burst{{Still: "north", At: t0, First: air, Alarms: []Key{air, lost, hot}, End: t0.Add(150 * time.Second)}}
	if diff := cmp.Diff(want, Bursts(in)); diff != "" {
		t.Errorf("bursts (-want +got):\n%s", diff)
	}
}

// Days are those of the site's calendar: the day the clocks go forward has 23 hours.
func TestReportDays(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	day := func(d, h int) time.Time { return time.Date(2026, 3, d, h, 0, 0, 0, zone) }
	in := []Raised{{north, day(7, 23), Low}, {north, day(8, 0), Low}, {north, day(8, 23), Low}, {north, day(9, 0), Low}}
	r := NewReport(in, day(7, 12), day(9, 12), zone)
	var got []int
	for i, d := range r.Days {
		got = append(got, d.Raised)
		if !d.Start.Equal(day(7+i, 0)) {
			t.Errorf("day %d begins at %s", i, d.Start.In(zone))
		}
	}
	if diff := cmp.Diff([]int{1, 2, 1}, got); diff != "" {
		t.Errorf("raises by day (-want +got):\n%s", diff)
	}
	if got := r.Days[2].Start.Sub(r.Days[1].Start); got != 23*time.Hour {
		t.Errorf("8 March 2026 has %s in Chicago, want 23 h", got)
	}
}

// Stale by hand (ISA-18.2: an alarm that stays annunciated for long, such as 24 hours): one that stands for a
// day is, one short of a second is not, a shelved one is not.
func TestStale(t *testing.T) {
	at := func(s State, ago time.Duration) Alarm {
		return Alarm{Key: north, State: s, Active: true, Raised: t0.Add(-ago)}
	}
	all := []Alarm{at(Unacknowledged, 24*time.Hour), at(Acknowledged, 24*time.Hour-time.Second), at(Shelved, 90*time.Hour), at(Acknowledged, 72*time.Hour), at(RTNUnacknowledged, 90*time.Hour)}
	got := Stale(all, t0)
	if len(got) != 2 || got[0].State != Acknowledged || got[1].State != Unacknowledged {
		t.Errorf("stale: %+v", got)
	}
}
