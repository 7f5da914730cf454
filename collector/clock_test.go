package collector

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

func TestPacedCatchesUpAndStays(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const speed = 60
		begin := time.Now()
		start := begin.Add(-5 * time.Hour)
		p := NewPaced(start, speed)
		if got := p.Now(); !got.Equal(start) {
			t.Fatalf("begins at %v, want %v", got, start)
		}
		time.Sleep(time.Minute)
		if got, want := p.Now().Sub(start), speed*time.Minute; got != want {
			t.Errorf("after one real minute %v have passed, want %v", got, want)
		}
		// 5 h behind, gaining 59 s each second: 305.08 s.
		if got, want := p.CatchUp().Round(time.Second), 305*time.Second; got != want {
			t.Errorf("catches up in %v, want %v", got, want)
		}
		if p.CaughtUp() {
			t.Error("caught up after a minute")
		}
		time.Sleep(5 * time.Minute)
		if !p.CaughtUp() {
			t.Error("not caught up after six minutes")
		}
		for range 3 {
			if got := p.Now(); !got.Equal(time.Now()) {
				t.Errorf("caught up, yet %v from the wall clock", -time.Until(got))
			}
			time.Sleep(time.Hour)
		}
	})
}

func TestPacedStartInTheFutureIsNow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := NewPaced(time.Now().Add(time.Hour), 60)
		if got := p.Now(); !got.Equal(time.Now()) {
			t.Errorf("off by %v", -time.Until(got))
		}
	})
}

func TestPacedSlowNeverCatchesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := NewPaced(time.Now().Add(-time.Hour), 1)
		time.Sleep(1000 * time.Hour)
		if got := time.Since(p.Now()); got != time.Hour || p.CaughtUp() || p.CatchUp() >= 0 {
			t.Errorf("behind by %v (caught up %v, in %v), want one hour for ever", got, p.CaughtUp(), p.CatchUp())
		}
	})
}

// TestPacedProperties: for any start and speed the clock never runs backwards, never leads the wall
// clock, and SleepUntil returns neither early nor, by more than rounding, late.
func TestPacedProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		behind := time.Duration(rapid.Int64Range(0, int64(30*24*time.Hour)).Draw(rt, "behind"))
		speed := rapid.Float64Range(1.01, 5000).Draw(rt, "speed")
		ahead := time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(rt, "sleep"))
		synctest.Test(t, func(t *testing.T) {
			p := NewPaced(time.Now().Add(-behind), speed)
			before := p.Now()
			target := before.Add(ahead)
			if err := p.SleepUntil(t.Context(), target); err != nil {
				rt.Fatal(err)
			}
			after := p.Now()
			switch {
			case after.After(time.Now()):
				rt.Fatalf("leads the wall clock by %v", time.Until(after))
			case after.Before(target):
				rt.Fatalf("returned %v early", target.Sub(after))
			case after.Sub(target) > time.Duration(speed)+2:
				// Timers tick in nanoseconds of real time, so one nanosecond is speed nanoseconds here.
				rt.Fatalf("returned %v late", after.Sub(target))
			case after.Before(before):
				rt.Fatalf("ran backwards by %v", before.Sub(after))
			}
		})
	})
}

func TestSleepUntilEndsWithContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var clock Clock = NewPaced(time.Now().Add(-time.Hour), 2)
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if err := clock.SleepUntil(ctx, clock.Now().Add(time.Hour)); err != context.DeadlineExceeded {
			t.Errorf("%v, want the context's error", err)
		}
	})
}
