package analysis

import (
	"math"
	"testing"
)

// A seal that was tight for a week and then begins to go is seen within two or three runs, and forecast by its pace since
// then; a step, one bad run, the weather, a gauge that moves and a seal that has worn all along are not taken for it.
func TestWearOnset(t *testing.T) {
	since := func(i, from int) float64 { return math.Max(0, float64(i-from)) }
	tests := []struct {
		name    string
		n       int
		weather bool
		point   func(i int, p *WearPoint)
		grows   bool
		left    float64 // runs until 16 kPa
		reason  string
	}{
		{"two runs", 8, false, func(i int, p *WearPoint) { p.EndKPa += 1.1 * since(i, 5) }, true, 1.6, "1.1 kPa a run, from 12 kPa"},
		{"three runs", 10, false, func(i int, p *WearPoint) { p.EndKPa += 0.5*since(i, 6) + 0.1*math.Sin(7*float64(i)) }, true, 5, "0.5 kPa a run"},
		{"hot charges between", 10, false, func(i int, p *WearPoint) {
			if p.EndKPa += 0.6 * since(i, 6); i%2 == 1 {
				p.EndKPa, p.SD = p.EndKPa+0.8*math.Cos(float64(i)), 0.7
			}
		}, true, 3.7, "what they say is known to be worth little"},
		{"one bad run", 8, false, func(i int, p *WearPoint) { p.EndKPa += pick(i == 7, 2.5, 0) }, false, 0, "a lid that was not locked well"},
		{"a step", 10, false, func(i int, p *WearPoint) { p.EndKPa += pick(i > 6, 1.5, 0) }, false, 0, "another silencer, and no more since"},
		{"all along", 10, false, func(i int, p *WearPoint) { p.EndKPa += 0.2 * float64(i) }, false, 0, "the line through all of them is its forecast"},
		{"scatter", 20, false, func(i int, p *WearPoint) { p.EndKPa += 0.5 * math.Sin(7*float64(i)) }, false, 0, "no beginning"},
		{"a low comes", 8, true, func(i int, p *WearPoint) { p.EndKPa += 1.1 * since(i, 5) }, false, 0, "the weather may fall by 2 kPa in two days"},
		{"in weather", 9, true, func(i int, p *WearPoint) { p.EndKPa += 1.4 * since(i, 5) }, true, 0, "but not by 4 in three"},
		{"in weather, boiling measured", 8, true, func(i int, p *WearPoint) { p.EndKPa += 1.1 * since(i, 5); boil(p, 0.4) }, true, 1.6, "the boiling points say that it is no weather"},
		{"dirt", 8, false, func(i int, p *WearPoint) { boil(p, 0.8+pick(i == 7, 6.0, 0)) }, false, 0, "it boils hotter, and the gauge shows the same"},
		{"dirt in weather", 9, true, func(i int, p *WearPoint) { boil(p, 0.8+3*since(i, 6)) }, false, 0, "the same"},
		{"gauge moves", 8, false, func(i int, p *WearPoint) { p.EndKPa += 1.1 * since(i, 5); p.AirKPa = 101 + 1.1*since(i, 5) }, false, 0, "and shows more of the surroundings"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w, ok := fitOnset(record(tt.n, tt.point), 0, tt.weather)
			if ok != tt.grows {
				t.Fatalf("grows: %v, want %v (%s): %+v", ok, tt.grows, tt.reason, w)
			}
			if !ok {
				return
			}
			w.forecast(16)
			if math.Abs(w.left-tt.left) > 0.5 || !(w.low <= w.left && w.left <= w.high) {
				t.Errorf("%.1f runs left (%.1f to %.1f), want %g (%s)", w.left, w.low, w.high, tt.left, tt.reason)
			}
		})
	}
}
