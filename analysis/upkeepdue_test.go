package analysis

import (
	"math"
	"testing"
	"time"
)

// When an upkeep is due, by hand: 1000 h, 940 h gone, 6 h a day: 10 days. 20 runs, 12 gone, 2 a day: 4 days,
// which comes first. 180 days, 170 gone: 10 days, whatever the pace.
func TestComing(t *testing.T) {
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	pace := Pace{RunsPerDay: 2, HoursPerDay: 6}
	since := at.Add(-170 * 24 * time.Hour)
	for _, tt := range []struct {
		name string
		u    Upkeep
		c    Counter
		pace Pace
		want float64
		by   string
		ok   bool
	}{
		{"hours", Upkeep{Hours: 1000}, Counter{Hours: 940}, pace, 10, "hours", true},
		{"runs before hours", Upkeep{Hours: 1000, Runs: 20}, Counter{Hours: 940, Runs: 12}, pace, 4, "runs", true},
		{"days go by themselves", Upkeep{Days: 180}, Counter{Since: since}, Pace{}, 10, "days", true},
		{"no pace, no end", Upkeep{Hours: 1000}, Counter{Hours: 940}, Pace{}, 0, "", false},
		{"days not counted before the first run", Upkeep{Days: 180}, Counter{}, pace, 0, "", false},
		{"due already", Upkeep{Hours: 1000, Runs: 20}, Counter{Hours: 10, Runs: 21}, pace, 0, "runs", true},
	} {
		m := Memory{Upkeep: []Counter{{Name: "oil", Hours: tt.c.Hours, Runs: tt.c.Runs, Since: tt.c.Since}}}
		tt.u.Name = "oil"
		st := m.UpkeepStates(Still{Upkeep: []Upkeep{tt.u}}, at)[0]
		got, ok := st.Coming(tt.pace, at)
		if ok != tt.ok || ok && (math.Abs(got.InDays-tt.want) > 1e-9 || got.By != tt.by) {
			t.Errorf("%s: in %g days by %q, %v; want %g by %q, %v", tt.name, got.InDays, got.By, ok, tt.want, tt.by, tt.ok)
		}
	}
}

// The forecast of wear, by hand: end pressures 16.0, 16.2, ... rise by exactly 0.2 kPa a run. After 16 runs
// the line stands at 19.0; to a target of 20 kPa there is 1.0 kPa, so 5 runs are left.
func TestWearRecord(t *testing.T) {
	var m Memory
	for i := range 16 {
		m.Learned.Wear = append(m.Learned.Wear, WearPoint{Run: i + 1, EndKPa: 16 + 0.2*float64(i), TauS: 140, SD: 0.1})
	}
	still := Still{Vacuum: VacuumTarget{TargetKPa: 20}}
	w := m.WearRecord(still)
	if !w.Grows {
		t.Fatal("it does not grow")
	}
	about(t, "a run", w.PerRunKPa, 0.2)
	about(t, "now", w.NowKPa, 19)
	about(t, "runs left", w.RunsLeft, 5)
	if w.LeftLow == nil || *w.LeftLow > 5 || w.LeftHigh == nil || *w.LeftHigh < 5 {
		t.Errorf("the interval %s to %s does not hold 5", show(w.LeftLow), show(w.LeftHigh))
	}
	m.Learned.Wear = m.Learned.Wear[:5]
	if few := m.WearRecord(still); few.Grows || few.RunsLeft != nil || few.Least != 7 {
		t.Errorf("of five runs: %+v", few)
	}
	if w := (Memory{Learned: Learned{Wear: make([]WearPoint, 9)}}).WearRecord(Still{}); w.Grows || w.TargetKPa != nil {
		t.Errorf("nothing grows, and no target is stated: %+v", w)
	}
}
