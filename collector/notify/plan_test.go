package notify

import (
	"fmt"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

var people = policy{group: 30 * time.Second, stale: time.Hour}

// at is a raise of a still's own alarm so many seconds after t0.
func at(still string, s int) Item {
	return item(int64(s)+1, still, t0.Add(time.Duration(s)*time.Second), nil)
}

func high(still string, s int) Item {
	it := at(still, s)
	it.Fault, it.Priority = analysis.GasLevelHigh, alarm.High
	return it
}

func TestNextMessage(t *testing.T) {
	var ten, eleven []Item
	for i := range 11 {
		it := at(fmt.Sprintf("pot%d", i), i)
		if i < 10 {
			ten = append(ten, it)
		}
		eleven = append(eleven, it)
	}
	told := func(items []Item) *past {
		var p past
		for _, it := range items {
			p.add(it)
		}
		return &p
	}
	for _, tt := range []struct {
		name    string
		told    []Item
		pending []Item
		more    bool
		now     int // s after t0
		want    plan
		reason  string
	}{
		{"nothing", nil, nil, false, 0, plan{}, ""},
		{"young", nil, []Item{at("north", 0)}, false, 1, plan{wait: 29 * time.Second}, "others may follow within the group time"},
		{"due", nil, []Item{at("north", 0)}, false, 30, plan{n: 1, kind: News}, "the group time is over"},
		{"closed by a later one", nil, []Item{at("north", 0), at("north", 31)}, false, 31, plan{n: 1, kind: News}, "the second begins a group of its own"},
		{"grouped", nil, []Item{at("north", 0), at("north", 29)}, false, 30, plan{n: 2, kind: News}, "one still, within the group time"},
		{"exactly the group time", nil, []Item{at("north", 0), at("north", 30)}, false, 60, plan{n: 1, kind: News}, "the window is half-open"},
		{"two stills one after the other", nil, []Item{at("north", 0), at("north", 1), at("south", 2)}, false, 40, plan{n: 2, kind: News}, "a message each"},
		{"two stills interleaved", nil, []Item{at("north", 0), at("south", 1), at("north", 2), at("west", 3)}, false, 40, plan{n: 3, kind: News}, "the cursor can only move past an unbroken stretch"},
		{"urgent", nil, []Item{high("north", 0)}, false, 0, plan{n: 1, kind: News}, "high priority waits for nobody"},
		{"urgent behind another still", nil, []Item{at("north", 0), high("south", 1)}, false, 1, plan{n: 1, kind: News}, "the one before goes out at once, the urgent one next"},
		{"urgent behind its own still", nil, []Item{at("north", 0), high("north", 1), at("north", 2)}, false, 2, plan{n: 2, kind: News}, "and what comes later waits"},
		{"urgent return", nil, []Item{func() Item { it := high("north", 0); gone(t0)(&it.Transition); return it }()}, false, 0, plan{wait: 30 * time.Second}, "a return to normal is in no hurry"},
		{"ten in ten minutes", nil, ten, false, 40, plan{n: 1, kind: News}, "ISA-18.2: ten alarms in 10 min are no flood"},
		{"eleven in ten minutes", nil, eleven, false, 40, plan{n: 11, kind: Flood}, "ISA-18.2: eleven are"},
		{"flood goes on", eleven, []Item{at("north", 60)}, false, 120, plan{wait: 9 * time.Minute}, "the next summary in ten minutes"},
		{"flood goes on, due", eleven, []Item{at("north", 60), at("south", 500)}, false, 660, plan{n: 2, kind: Flood}, ""},
		{"flood over", eleven, []Item{at("north", 700)}, false, 701, plan{wait: 29 * time.Second}, "fewer than five in the last 10 min"},
		{"urgent in a flood", eleven, []Item{at("west", 60), high("north", 61)}, false, 61, plan{n: 2, kind: Flood}, "at once, flood or not"},
		{"urgent again in a flood", append([]Item{high("north", 0)}, eleven[1:]...), []Item{high("north", 61)}, false, 61, plan{wait: 10 * time.Minute}, "told within the last ten minutes"},
		{"old", nil, []Item{at("north", 0), at("north", 20), at("north", 3000)}, false, 3630, plan{n: 2, kind: History}, "over an hour: history"},
		{"nearly old", nil, []Item{at("north", 0)}, false, 3600, plan{n: 1, kind: News}, "an hour exactly is still news"},
		{"urgent and old", nil, []Item{high("north", 0)}, false, 3601, plan{n: 1, kind: History}, "an old alarm is history, whatever its priority"},
		{"more behind", nil, []Item{at("north", 0)}, true, 1, plan{n: 1, kind: News}, "the journal holds more than fits: no waiting"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := people.next(told(tt.told), tt.pending, tt.more, t0.Add(time.Duration(tt.now)*time.Second))
			if got != tt.want {
				t.Errorf("%+v, want %+v (%s)", got, tt.want, tt.reason)
			}
		})
	}
}

// An alarm from the future (the clock was set back meanwhile) waits no longer than any other.
func TestClockSetBack(t *testing.T) {
	it := at("north", 7200)
	it.seen = t0
	if got := people.next(&past{}, []Item{it}, false, t0.Add(10*time.Second)); got != (plan{wait: 20 * time.Second}) {
		t.Errorf("10 s after it was read: %+v", got)
	}
	if got := people.next(&past{}, []Item{it}, false, t0.Add(30*time.Second)); got != (plan{n: 1, kind: News}) {
		t.Errorf("30 s after it was read: %+v", got)
	}
}

func TestNoGrouping(t *testing.T) {
	items := []Item{at("north", 0), at("south", 100)}
	if got := (policy{}).next(&past{}, items, false, t0.Add(48*time.Hour)); got != (plan{n: 2, kind: News}) {
		t.Errorf("%+v, want both at once", got)
	}
}

func TestMessageHasABound(t *testing.T) {
	var items []Item
	for i := range most {
		items = append(items, at("north", i/100))
	}
	now := t0.Add(time.Minute)
	if got := people.next(&past{}, items, true, now); got.n != most {
		t.Errorf("%d items in a message, want %d", got.n, most)
	}
	if got := people.next(&past{}, items, true, now.Add(48*time.Hour)); got.n != most || got.kind != History {
		t.Errorf("%+v, want %d as history", got, most)
	}
}

// What was told is remembered no longer than it matters.
func TestPastForgets(t *testing.T) {
	var p past
	for i := range 5000 {
		p.add(at("north", i))
	}
	if len(p.raises) > rememberCount {
		t.Errorf("%d raises remembered", len(p.raises))
	}
	p.add(at("north", 5000+3601))
	if len(p.raises) != 1 {
		t.Errorf("%d raises remembered after an hour", len(p.raises))
	}
}

func TestChatteringIsSaid(t *testing.T) {
	items := []Item{at("north", 0), at("north", 20), at("north", 40), at("south", 41)}
	m := newMessage(News, items, &past{})
	if !m.chatter[items[0].Key] || m.chatter[items[3].Key] {
		t.Errorf("chattering: %v, want north only", m.chatter)
	}
	var p past
	p.add(items[0])
	p.add(items[1])
	if m := newMessage(News, items[2:3], &p); !m.chatter[items[0].Key] {
		t.Error("what was told before counts too")
	}
}
