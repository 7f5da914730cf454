package alarm

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
)

// Whatever happens in whatever order: Active is what was said last, a transition is a change of state
// and the other way round, states hang together, and a book made from Alarms goes on in the same way.
func TestAnyHistory(t *testing.T) {
	actions := []Action{Raise, Clear, Acknowledge, Shelve, Unshelve, RemoveService, ReturnService, Reset, ShelfExpired, Suppress, Unsuppress}
	keys := []Key{
		{Still: "north", Fault: analysis.VacuumShort},
		{Still: "north", Fault: analysis.GasLevelHigh},
		{Still: "south", Fault: analysis.LimitHigh, Channel: "coolant"},
	}
	rapid.Check(t, func(t *rapid.T) {
		b, twin := NewBook(nil), NewBook(nil)
		said := map[Key]bool{}
		states := map[Key]State{}
		now := t0
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 5400).Draw(t, "seconds")) * time.Second)
			key := rapid.SampledFrom(keys).Draw(t, "key")
			act := rapid.SampledFrom(actions).Draw(t, "action")
			ts, err := step(b, key, act, now)
			ts2, err2 := step(twin, key, act, now)
			if d := cmp.Diff(ts, ts2); d != "" || (err == nil) != (err2 == nil) {
				t.Fatalf("a book made anew acts otherwise: %v, %v\n%s", err, err2, d)
			}
			if act == Raise || act == Clear {
				said[key] = act == Raise
			}
			follow(t, states, ts)
			check(t, b, said, states)
			twin = NewBook(twin.Alarms())
		}
	})
}

func step(b *Book, k Key, act Action, now time.Time) ([]Transition, error) {
	switch act {
	case Raise:
		return b.Apply(analysis.Event{At: now, Still: k.Still, Kind: analysis.FaultEvent, Fault: k.Fault, Channel: k.Channel, State: analysis.Raised}, nil), nil
	case Clear:
		return b.Apply(analysis.Event{At: now, Still: k.Still, Kind: analysis.FaultEvent, Fault: k.Fault, Channel: k.Channel, State: analysis.Cleared}, nil), nil
	case ShelfExpired:
		return b.Tick(now), nil
	}
	return b.Do(Command{Key: k, Action: act, At: now, By: "Ada", Reason: "test", Until: now.Add(time.Hour)})
}

// follow plays the transitions by themselves: from each state to the next without a gap.
func follow(t *rapid.T, states map[Key]State, ts []Transition) {
	for _, tr := range ts {
		from, ok := states[tr.Key]
		if !ok {
			from = Normal
		}
		if tr.From != from || tr.State == tr.From {
			t.Fatalf("from %q came a transition %q to %q", from, tr.From, tr.State)
		}
		states[tr.Key] = tr.State
	}
}

func check(t *rapid.T, b *Book, said map[Key]bool, states map[Key]State) {
	for _, a := range b.Alarms() {
		if a.Active != said[a.Key] {
			t.Fatalf("%s: active %v, but the analysis said %v last", a.Key, a.Active, said[a.Key])
		}
		if s, ok := states[a.Key]; ok && s != a.State || !ok && a.State != Normal {
			t.Fatalf("%s: %q without a transition to it", a.Key, a.State)
		}
		switch a.State {
		case Unacknowledged, Acknowledged:
			if !a.Active {
				t.Fatalf("%s: %q without its condition", a.Key, a.State)
			}
		case Normal, RTNUnacknowledged:
			if a.Active || a.Latched {
				t.Fatalf("%s: %q, active %v, latched %v", a.Key, a.State, a.Active, a.Latched)
			}
		case LatchedUnacknowledged, LatchedAcknowledged:
			if a.Active || !a.Latched {
				t.Fatalf("%s: %q, active %v, latched %v", a.Key, a.State, a.Active, a.Latched)
			}
		}
		if (a.Until != nil) != (a.State == Shelved) {
			t.Fatalf("%s: %q until %v", a.Key, a.State, a.Until)
		}
	}
}
