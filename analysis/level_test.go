package analysis

import (
	"math"
	"testing"
)

// The end pressure of the summary is the one that the gauge went on to show, where the forecast from the target
// would miss it: a single-stage ejector, one with a second stage that helps only far up (a bend the forecast
// cannot know), and a leak that levels off short.
func TestEndPressureAsSeen(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*scene)
	}{
		{"plain", func(*scene) {}},
		{"second stage above 35 kPa", func(s *scene) { s.stageKPa = 35 }},
		{"leak", func(s *scene) { s.holeMM = 1.5 }},
	} {
		s := defaultScene()
		tt.change(s)
		lowest := math.Inf(1)
		s.see = func(w *world) {
			if w.pull && w.oil < 80 {
				lowest = math.Min(lowest, w.p)
			}
		}
		v := lastSummary(fold(s.still, s.scans())).Vacuum
		if v == nil || v.EndKPa == nil || math.Abs(*v.EndKPa-lowest) > 0.4 {
			t.Errorf("%s: end pressure %s, want %.2f kPa", tt.name, show(v.EndKPa), lowest)
		}
	}
}
