package collector

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"luted/collector/modbus"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func TestStamp(t *testing.T) {
	at := func(s float64) time.Time { return noon.Add(time.Duration(s * float64(time.Second))) }
	tests := []struct {
		name, reason string
		last         time.Time // last archived
		clock        []float64 // s after noon
		want         []float64
	}{
		{"steady", "a clock that moves on is believed", time.Time{}, []float64{0, 1, 2.5}, []float64{0, 1, 2.5}},
		{"forward", "a step forward is a gap", time.Time{}, []float64{0, 3600}, []float64{0, 3600}},
		{"sub-millisecond", "stamps have milliseconds", time.Time{}, []float64{0.0004, 0.0016}, []float64{0, 0.001}},
		{"same millisecond", "two scans never share a stamp: the beat stands in for the distance", time.Time{}, []float64{5, 5.0003}, []float64{5, 5.95}},
		{"back", "runs on at 95 % from the last stamp; the hidden distance counts as one beat", time.Time{}, []float64{100, 40, 41, 42}, []float64{100, 100.95, 101.9, 102.85}},
		{"caught up", "believed again as soon as it is later", time.Time{}, []float64{100, 99.9, 100.9, 101.9, 102.9}, []float64{100, 100.95, 101.9, 102.85, 102.9}},
		{"behind the archive", "after a restart the archive's last scan counts", at(60), []float64{0, 1, 2}, []float64{60.95, 61.9, 62.85}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := stamper{every: time.Second, last: tt.last}
			for i, c := range tt.clock {
				got, lead := s.stamp(at(c))
				if want := at(tt.want[i]); !got.Equal(want) {
					t.Errorf("scan %d at %g s: stamped %g s, want %g s (%s)", i, c, got.Sub(noon).Seconds(), tt.want[i], tt.reason)
				}
				if want := got.Sub(at(c)); lead > 0 && lead-want > stampResolution {
					t.Errorf("scan %d: lead %v, want %v", i, lead, want)
				}
			}
		})
	}
}

func TestBegan(t *testing.T) {
	took := 200 * time.Millisecond
	tests := []struct {
		name, reason string
		at, now      time.Duration // from noon
		want         time.Duration
	}{
		{"ordinary", "the poller's time is exact", 0, took, 0},
		{"rounded", "pollers round to the millisecond, up too", 500 * time.Microsecond, 400 * time.Microsecond, 500 * time.Microsecond},
		{"set back", "a sweep cannot begin after it has ended", 0, -time.Hour, -time.Hour - took},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := modbus.Sweep{At: noon.Add(tt.at), Took: took}
			if got := began(s, noon.Add(tt.now)).Sub(noon); got != tt.want {
				t.Errorf("noon %+v, want %+v (%s)", got, tt.want, tt.reason)
			}
		})
	}
}

// TestStampProperties: whatever the clock does, stamps rise strictly, and once it only moves on again
// the lead goes away in twenty times its length.
func TestStampProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := stamper{every: time.Second}
		clock, last := noon, time.Time{}
		for range rapid.IntRange(1, 50).Draw(t, "n") {
			clock = clock.Add(time.Duration(rapid.Int64Range(int64(-time.Hour), int64(time.Hour)).Draw(t, "step")))
			got, lead := s.stamp(clock)
			if !got.After(last) {
				t.Fatalf("stamp %v after %v", got, last)
			}
			if lead < 0 {
				t.Fatalf("lead %v", lead)
			}
			last = got
		}
		_, lead := s.stamp(clock.Add(time.Second))
		clock = clock.Add(time.Second)
		for range int(lead/time.Second)*20 + 21 {
			clock = clock.Add(time.Second)
			_, lead = s.stamp(clock)
		}
		if lead != 0 {
			t.Fatalf("still %v ahead", lead)
		}
	})
}
