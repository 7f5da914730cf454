package analysis

import (
	"math"
	"testing"
	"time"
)

// record is a record of wear, a run a day.
func record(n int, point func(i int, p *WearPoint)) []WearPoint {
	var pts []WearPoint
	for i := range n {
		p := WearPoint{Run: i + 1, At: sceneStart.Add(time.Duration(i) * 24 * time.Hour), EndKPa: 12, TauS: 90, Vapor: 3}
		point(i, &p)
		pts = append(pts, p)
	}
	return pts
}

// boil gives a run what its boiling temperature said of the pressure, less what the gauge did, kPa.
func boil(p *WearPoint, kPa float64) { p.Boil = &kPa }

// What moves an end pressure and is no wear, each beside wear of the same size.
func TestWearTrend(t *testing.T) {
	weather := func(i int) float64 { return 0.9 * math.Sin(2*math.Pi*float64(i)/9) } // kPa: highs and lows of a week
	tests := []struct {
		name    string
		n       int
		weather bool
		point   func(i int, p *WearPoint)
		grows   bool
		reason  string
	}{
		{"wear", 10, false, func(i int, p *WearPoint) { p.EndKPa += 0.2 * float64(i) }, true, "0.2 kPa a run, and nothing else"},
		{"tight", 25, false, func(i int, p *WearPoint) { p.EndKPa += 0.3 * math.Sin(7*float64(i)) }, false, "scatter"},
		{"wear in weather", 14, true, func(i int, p *WearPoint) { p.EndKPa += 0.25*float64(i) + weather(i) }, true, "fourteen days outweigh the weather"},
		{"a low comes", 7, true, func(i int, p *WearPoint) { p.EndKPa += 0.25 * float64(i) }, false, "weather does that in a week"},
		{"a low comes, boiling measured", 7, true, func(i int, p *WearPoint) { p.EndKPa += 0.25 * float64(i); boil(p, 0.4) }, true, "the boiling points say that it is no weather"},
		{"weather, boiling measured", 14, true, func(i int, p *WearPoint) { p.EndKPa += 0.25*float64(i) - 1; boil(p, 2-0.25*float64(i)) }, false, "the boiling points say that nothing changed"},
		{"gauge drifts", 12, false, func(i int, p *WearPoint) { p.EndKPa += 0.3 * float64(i); p.AirKPa = 101 + 0.3*float64(i) }, false, "the surroundings drift along"},
		{"wear, absolute gauge", 12, false, func(i int, p *WearPoint) { p.EndKPa += 0.3 * float64(i); p.AirKPa = 101 + weather(i) }, true, "the surroundings do not drift along"},
		{"as tight as at first a run ago", 9, false, func(i int, p *WearPoint) {
			if p.EndKPa += 0.25 * float64(i); i == 7 {
				p.EndKPa = 12.1
			}
		}, false, "no seal wears back"},
		{"charge gets warmer", 14, false, func(i int, p *WearPoint) {
			p.Vapor += 0.3*float64(i) + 0.5*math.Sin(5*float64(i))
			p.EndKPa += 0.8 * (p.Vapor - 3)
		}, false, "its vapour explains it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w, ok := fitWear(record(tt.n, tt.point), 16, 0, tt.weather)
			if ok = ok && !w.back; ok != tt.grows {
				t.Errorf("grows: %v, want %v (%s): %+v", ok, tt.grows, tt.reason, w)
			}
			if ok && !(w.low <= w.left && w.left <= w.high) {
				t.Errorf("%g runs left, in %g to %g", w.left, w.low, w.high)
			}
		})
	}
}

// The lowest pressure of the runs grows where the charge boils out more slowly from run to run; the pump-downs tell that
// from a leak.
func TestPumpDownsContradictLaterPressures(t *testing.T) {
	grows := func(perRun float64) []WearPoint {
		return record(11, func(i int, p *WearPoint) { p.EndKPa += perRun*float64(i) + 0.1*math.Sin(7*float64(i)) })
	}
	for _, tt := range []struct {
		ends, low float64 // kPa a run
		grows     bool
	}{{0, 0.2, false}, {0.2, 0.2, true}, {0.15, 0.2, true}} {
		l := Learned{Wear: grows(tt.ends), WearLow: grows(tt.low)}
		if _, _, ok := l.wearTrend(16, 0, false); ok != tt.grows {
			t.Errorf("the ends grow by %g, the lowest by %g kPa a run: wear %v, want %v", tt.ends, tt.low, ok, tt.grows)
		}
	}
	l := Learned{WearLow: grows(0.2)}
	if _, _, ok := l.wearTrend(16, 0, false); !ok {
		t.Error("the lowest pressure alone grows, no pump-down is known: want wear")
	}
}

// A near miss is news, a far one only when it is sure.
func TestWearNews(t *testing.T) {
	for _, tt := range []struct {
		w    wear
		want bool
	}{
		{wear{left: 8, perRun: 0.2, sd: 0.08}, true},
		{wear{left: 30, perRun: 0.2, sd: 0.08, grown: 2}, false},
		{wear{left: 30, perRun: 0.2, sd: 0.03, grown: 2}, true},
		{wear{left: 30, perRun: 0.2, sd: 0.03, grown: 1}, false},
		{wear{left: 90, perRun: 0.2, sd: 0.01, grown: 2}, false},
	} {
		if got := tt.w.news(); got != tt.want {
			t.Errorf("%+v: %v, want %v", tt.w, got, tt.want)
		}
	}
}

// A run that was as tight as the first puts off the news of wear, and takes none back.
func TestWearThatWentBack(t *testing.T) {
	for _, tt := range []struct{ back, already, want bool }{{false, false, true}, {true, false, false}, {true, true, true}} {
		w := wear{left: 8, perRun: 0.2, sd: 0.08, back: tt.back}
		if got := w.told(tt.already); got != tt.want {
			t.Errorf("%+v: told %v, want %v", tt, got, tt.want)
		}
	}
}
