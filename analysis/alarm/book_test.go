package alarm

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"luted/analysis"
)

var north = Key{Still: "north", Fault: analysis.VacuumNotPulled}

func raised(at time.Time) analysis.Event {
	return analysis.Event{At: at, Still: "north", Run: 3, Kind: analysis.FaultEvent, Fault: analysis.VacuumNotPulled,
		State: analysis.Raised, Text: "The pressure stays near atmospheric.",
		Likely: []analysis.Likely{{Cause: analysis.OpenToAir, Weight: 1, Because: "no vacuum at all"}}}
}

func cleared(at time.Time) analysis.Event {
	return analysis.Event{At: at, Still: "north", Run: 3, Kind: analysis.FaultEvent, Fault: analysis.VacuumNotPulled,
		State: analysis.Cleared, Text: "The vacuum has come."}
}

func mustDo(t *testing.T, b *Book, c Command) Transition {
	t.Helper()
	ts, err := b.Do(c)
	if err != nil || len(ts) != 1 {
		t.Fatalf("%s: %v, %d transitions", c.Action, err, len(ts))
	}
	return ts[0]
}

// An ordinary life: raised, acknowledged, returned to normal, raised again in the next run.
func TestLifeOfAnAlarm(t *testing.T) {
	b := NewBook(nil)
	ts := b.Apply(raised(t0), nil)
	want := []Transition{{At: t0, From: Normal, Action: Raise, Alarm: Alarm{
		Key: north, State: Unacknowledged, Active: true, Priority: Medium, Run: 3, Raised: t0, Changed: t0,
		Text: "The pressure stays near atmospheric.", Likely: raised(t0).Likely,
	}}}
	if d := cmp.Diff(want, ts); d != "" {
		t.Fatalf("raise (-want +got):\n%s", d)
	}
	tr := mustDo(t, b, Command{Key: north, Action: Acknowledge, At: t0.Add(time.Minute), By: "Ada"})
	if tr.State != Acknowledged || tr.By != "Ada" {
		t.Errorf("acknowledged: %+v", tr)
	}
	ts = b.Apply(cleared(t0.Add(2*time.Minute)), nil)
	if len(ts) != 1 || ts[0].State != Normal || ts[0].Cleared != "The vacuum has come." || ts[0].Text != "The pressure stays near atmospheric." {
		t.Errorf("cleared: %+v", ts)
	}
	ts = b.Apply(raised(t0.Add(time.Hour)), nil)
	if len(ts) != 1 || ts[0].State != Unacknowledged || ts[0].By != "" || !ts[0].Raised.Equal(t0.Add(time.Hour)) {
		t.Errorf("raised again: %+v", ts)
	}
}

// The condition comes and goes behind a shelf without a transition; what stands when the time is over
// decides where the alarm comes back to.
func TestShelf(t *testing.T) {
	for _, tt := range []struct {
		name    string
		during  []analysis.Event
		want    State
		already State
		reason  string
	}{
		{"still there", nil, Unacknowledged, Shelved, "whoever shelved it must see it again"},
		{"gone", []analysis.Event{cleared(t0.Add(time.Minute))}, Normal, Shelved, "nothing to show"},
		{"gone and back", []analysis.Event{cleared(t0.Add(time.Minute)), raised(t0.Add(2 * time.Minute))}, Unacknowledged, Shelved, "the last word counts"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := NewBook(nil)
			b.Apply(raised(t0), nil)
			tr := mustDo(t, b, Command{Key: north, Action: Shelve, At: t0.Add(time.Second), By: "Ada", Reason: "gauge on order", Until: t0.Add(time.Hour)})
			if tr.Until == nil || !tr.Until.Equal(t0.Add(time.Hour)) || tr.Reason != "gauge on order" {
				t.Fatalf("shelved: %+v", tr)
			}
			for _, e := range tt.during {
				if ts := b.Apply(e, nil); len(ts) != 0 {
					t.Errorf("behind the shelf: %+v", ts)
				}
			}
			b = NewBook(b.Alarms()) // a restart meanwhile changes nothing
			if ts := b.Tick(t0.Add(time.Hour - time.Nanosecond)); len(ts) != 0 {
				t.Errorf("too early: %+v", ts)
			}
			ts := b.Tick(t0.Add(time.Hour))
			if len(ts) != 1 || ts[0].State != tt.want || ts[0].From != tt.already || ts[0].Action != ShelfExpired || ts[0].Until != nil {
				t.Errorf("shelf over: %+v, want %q (%s)", ts, tt.want, tt.reason)
			}
			if ts := b.Tick(t0.Add(2 * time.Hour)); len(ts) != 0 {
				t.Errorf("twice over: %+v", ts)
			}
		})
	}
}

// A latching alarm cannot be got rid of by hiding it: it comes back latched until it is reset.
func TestLatchedSurvivesHiding(t *testing.T) {
	gas := Key{Still: "north", Fault: analysis.GasLevelHigh}
	e := analysis.Event{At: t0, Still: "north", Kind: analysis.FaultEvent, Fault: analysis.GasLevelHigh, State: analysis.Raised}
	for _, hide := range []struct{ in, out Action }{{Shelve, Unshelve}, {Suppress, Unsuppress}, {RemoveService, ReturnService}} {
		b := NewBook(nil)
		b.Apply(e, nil)
		mustDo(t, b, Command{Key: gas, Action: Acknowledge, At: t0, By: "Ada"})
		mustDo(t, b, Command{Key: gas, Action: hide.in, At: t0, By: "Ada", Reason: "drill", Until: t0.Add(time.Hour)})
		off := e
		off.State = analysis.Cleared
		b.Apply(off, nil)
		if tr := mustDo(t, b, Command{Key: gas, Action: hide.out, At: t0, By: "Ada"}); tr.State != LatchedUnacknowledged {
			t.Errorf("after %s: %q", hide.out, tr.State)
		}
		if _, err := b.Do(Command{Key: gas, Action: Reset, At: t0, By: "Ada"}); err == nil {
			t.Error("reset before it was acknowledged")
		}
		mustDo(t, b, Command{Key: gas, Action: Acknowledge, At: t0, By: "Ada"})
		if tr := mustDo(t, b, Command{Key: gas, Action: Reset, At: t0, By: "Ada"}); tr.State != Normal || tr.Latched {
			t.Errorf("reset: %+v", tr)
		}
	}
}

func TestRefusals(t *testing.T) {
	good := Command{Key: north, Action: Shelve, At: t0, By: "Ada", Reason: "gauge on order", Until: t0.Add(time.Hour)}
	for _, tt := range []struct {
		name   string
		change func(*Command)
		want   string
	}{
		{"no still", func(c *Command) { c.Still = "" }, "no still named"},
		{"no such fault", func(c *Command) { c.Fault = "vacuum-shrot" }, `no fault has the name "vacuum-shrot"`},
		{"no such action", func(c *Command) { c.Action = "silence" }, `no action has the name "silence"`},
		{"raise", func(c *Command) { c.Action = Raise }, "only the analysis can raise"},
		{"expire", func(c *Command) { c.Action = ShelfExpired }, "only the clock"},
		{"nobody", func(c *Command) { c.By = "" }, "say who wants to shelve it"},
		{"no reason", func(c *Command) { c.Reason = "" }, "say why you shelve it"},
		{"no end", func(c *Command) { c.Until = time.Time{} }, "at most 24h0m0s"},
		{"ends before it begins", func(c *Command) { c.Until = t0 }, "not later than 2026-03-02T08:00:00Z"},
		{"too long", func(c *Command) { c.Until = t0.Add(24*time.Hour + 1) }, "remove it from service"},
		{"never raised", func(c *Command) { c.Action = Acknowledge }, "nothing to acknowledge"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := NewBook(nil)
			c := good
			tt.change(&c)
			ts, err := b.Do(c)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one that says %q", err, tt.want)
			}
			if len(ts) != 0 || len(b.Alarms()) != 0 {
				t.Errorf("refused, and yet: %+v %+v", ts, b.Alarms())
			}
		})
	}
	b := NewBook(nil)
	if _, err := b.Do(good); err != nil {
		t.Errorf("an alarm that was never raised can be shelved: %v", err)
	}
	week := &Book{MaxShelf: 7 * 24 * time.Hour, alarms: map[Key]*Alarm{}, changed: map[Key]bool{}}
	good.Until = t0.Add(72 * time.Hour)
	if _, err := week.Do(good); err != nil {
		t.Errorf("a book that allows a week: %v", err)
	}
}

// What must be stored is more than the transitions carry.
func TestChanged(t *testing.T) {
	b := NewBook(nil)
	b.Apply(raised(t0), nil)
	mustDo(t, b, Command{Key: north, Action: RemoveService, At: t0, By: "Ada", Reason: "gasket out"})
	if n := len(b.Changed()); n != 1 {
		t.Fatalf("%d changed, want 1", n)
	}
	if n := len(b.Changed()); n != 0 {
		t.Fatalf("%d changed since, want 0", n)
	}
	if ts := b.Apply(cleared(t0.Add(time.Minute)), nil); len(ts) != 0 {
		t.Fatalf("out of service: %+v", ts)
	}
	got := b.Changed()
	if len(got) != 1 || got[0].Active {
		t.Errorf("changed %+v, want the condition gone", got)
	}
}

func TestOtherEventsAreIgnored(t *testing.T) {
	b := NewBook(nil)
	for _, e := range []analysis.Event{
		{At: t0, Still: "north", Kind: analysis.PhaseEvent, Phase: analysis.HeatUp},
		{At: t0, Still: "north", Kind: analysis.RunEvent, Summary: &analysis.Summary{}},
		cleared(t0), // never raised
	} {
		if ts := b.Apply(e, nil); len(ts) != 0 || len(b.Alarms()) != 0 {
			t.Errorf("%s: %+v", e.Kind, ts)
		}
	}
}

// A copy that the caller got must not change under him, nor the book under the caller's changes.
func TestCopies(t *testing.T) {
	b := NewBook(nil)
	ts := b.Apply(raised(t0), nil)
	ts[0].Likely[0].Weight = 0
	a := b.Alarms()
	a[0].Likely[0].Because = "changed"
	if got, _ := b.Get(north); got.Likely[0] != (analysis.Likely{Cause: analysis.OpenToAir, Weight: 1, Because: "no vacuum at all"}) {
		t.Errorf("the book changed: %+v", got.Likely)
	}
}

// The journal and the web carry transitions as JSON; nothing may be lost on the way.
func TestTransitionJSON(t *testing.T) {
	b := NewBook(nil)
	b.Apply(raised(t0), nil)
	tr := mustDo(t, b, Command{Key: north, Action: Shelve, At: t0, By: "Ada", Reason: "drill", Until: t0.Add(time.Hour)})
	data, err := json.Marshal(tr)
	if err != nil {
		t.Fatal(err)
	}
	var back Transition
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(tr, back); d != "" {
		t.Errorf("through JSON (-want +got):\n%s\n%s", d, data)
	}
}
