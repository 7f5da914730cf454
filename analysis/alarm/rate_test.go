package alarm

import (
	"testing"
	"time"

	"luted/analysis"
)

// ISA-18.2-2016 and IEC 62682: a flood begins with more than 10 alarms in 10 minutes and ends below 5 in
// 10 minutes (the end from memory). "Ten alarms in a 10-min window is not a flood; eleven is."
func TestFlood(t *testing.T) {
	var f Flood
	for i := range 10 {
		if f.Raise(t0.Add(time.Duration(i) * time.Second)) {
			t.Fatalf("a flood with %d alarms in 10 min", i+1)
		}
	}
	if !f.Raise(t0.Add(10 * time.Second)) {
		t.Fatal("no flood with 11 alarms in 10 min")
	}
	if !f.At(t0.Add(10*time.Minute + 6*time.Second)) { // 0 s to 6 s are out: 4 left, 7 s to 10 s
		t.Log("4 alarms left")
	} else {
		t.Fatal("still a flood with 4 alarms in 10 min")
	}
	if f.At(t0.Add(10*time.Minute + 7*time.Second)) {
		t.Fatal("a flood again without an alarm")
	}
}

func TestFloodEndsBelowFive(t *testing.T) {
	var f Flood
	for i := range 11 {
		f.Raise(t0.Add(time.Duration(i) * time.Second))
	}
	if !f.At(t0.Add(10*time.Minute + 5*time.Second)) { // 6 s to 10 s left: five
		t.Error("with 5 alarms in 10 min the flood has not ended")
	}
}

func TestElevenSpreadAlarmsAreNoFlood(t *testing.T) {
	var f Flood
	for i := range 30 {
		if f.Raise(t0.Add(time.Duration(i) * time.Minute)) {
			t.Fatalf("one alarm a minute is ten in 10 min, no flood (alarm %d)", i+1)
		}
	}
}

// ISA-18.2-2016 and IEC 62682: chattering is three or more times in one minute.
func TestChatter(t *testing.T) {
	var c Chatter
	for _, tt := range []struct {
		key  Key
		at   time.Duration
		want bool
	}{
		{north, 0, false},
		{north, 20 * time.Second, false},
		{Key{Still: "south", Fault: analysis.VacuumNotPulled}, 30 * time.Second, false},
		{north, 59 * time.Second, true},
		{north, 79 * time.Second, true},   // 20 s is still within the minute
		{north, 140 * time.Second, false}, // all others are over a minute old
	} {
		if got := c.Raise(tt.key, t0.Add(tt.at)); got != tt.want {
			t.Errorf("%s at %s: chattering %v, want %v", tt.key, tt.at, got, tt.want)
		}
	}
}
