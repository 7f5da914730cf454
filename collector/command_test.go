package collector

import (
	"testing"
	"testing/synctest"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

func TestCommandsAreJournaled(t *testing.T) {
	m := newMemory()
	c := start(t, m, Options{}, "north")
	feed(t, c, 0, 90, 110)
	key := alarm.Key{Still: "north", Fault: analysis.OverTemperature}
	if err := c.Do(t.Context(), alarm.Command{Key: key, Action: alarm.Acknowledge, By: "Kim"}); err != nil {
		t.Fatal(err)
	}
	if a := m.alarms[key]; a.State != alarm.Acknowledged || a.By != "Kim" {
		t.Errorf("stored: %+v", a)
	}
	if n := m.kinds()[archive.AlarmEntry]; n != 2 {
		t.Errorf("%d transitions journaled, want raise and acknowledge", n)
	}
	if v := c.Stills()[0]; len(v.Alarms) != 1 || v.Alarms[0].State != alarm.Acknowledged {
		t.Errorf("shown: %+v", v.Alarms)
	}
	for name, cmd := range map[string]alarm.Command{
		"twice":         {Key: key, Action: alarm.Acknowledge, By: "Kim"},
		"unknown still": {Key: alarm.Key{Still: "south", Fault: analysis.OverTemperature}, Action: alarm.Shelve, By: "Kim", Reason: "?", Until: noon},
	} {
		if err := c.Do(t.Context(), cmd); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if n := m.kinds()[archive.AlarmEntry]; n != 2 {
		t.Errorf("%d transitions journaled after refused commands", n)
	}
}

func TestShelfRunsOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		hot := func(string, time.Time) []analysis.Value { return values(120, false) }
		c := start(t, m, Options{pollers: []poller{beats{every: time.Second, stills: []string{"north"}, values: hot}}}, "north")
		stop := running(t, c)
		time.Sleep(3 * time.Second)
		key := alarm.Key{Still: "north", Fault: analysis.OverTemperature}
		until := time.Now().Add(2 * time.Hour)
		if err := c.Do(t.Context(), alarm.Command{Key: key, Action: alarm.Shelve, By: "Kim", Reason: "oil change", Until: until}); err != nil {
			t.Fatal(err)
		}
		time.Sleep(2*time.Hour - 2*time.Second)
		if s := m.alarm(key).State; s != alarm.Shelved {
			t.Errorf("two seconds before the end: %q", s)
		}
		time.Sleep(2*time.Second + tick + time.Second)
		if s := m.alarm(key).State; s != alarm.Unacknowledged {
			t.Errorf("after the end: %q", s)
		}
		if err := stop(); err != nil {
			t.Fatal(err)
		}
	})
}

func TestNotes(t *testing.T) {
	m := newMemory()
	c := start(t, m, Options{}, "north")
	if err := c.Note(t.Context(), "north", 0, archive.Note{By: "Kim", Text: "new gasket"}); err != nil {
		t.Fatal(err)
	}
	if last := len(m.entries) - 1; m.kinds()[archive.NoteEntry] != 1 || string(m.entries[last].Body) != `{"by":"Kim","text":"new gasket"}` {
		t.Errorf("journaled: %+v", m.entries)
	}
	for name, err := range map[string]error{
		"still": c.Note(t.Context(), "south", 0, archive.Note{Text: "x"}),
		"run":   c.Note(t.Context(), "north", 1, archive.Note{Text: "x"}),
		"empty": c.Note(t.Context(), "north", 0, archive.Note{}),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
