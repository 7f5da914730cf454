package collector

import (
	"bytes"
	"context"
	"log/slog"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// act is one thing that happens to a pipeline: a sweep, a command of a person, or an act of one at a time
// of the clock.
type act struct {
	sweep modbus.Sweep
	cmd   *alarm.Command
	done  string    // still
	at    time.Time // of done
	say   *saying
}

// saying is what a person ticks or enters for the next run of a still.
type saying struct {
	still string
	at    time.Time
	check *archive.Check
	amend *archive.Amend
}

// drawActs draws a history of two stills: temperatures around the limit, runs, bad values, commands.
func drawActs(t *rapid.T) []act {
	var acts []act
	names := []string{"north", "south"}
	at := map[string]time.Time{"north": noon, "south": noon.Add(300 * time.Millisecond)}
	for range rapid.IntRange(1, 60).Draw(t, "acts") {
		name := rapid.SampledFrom(names).Draw(t, "still")
		switch rapid.IntRange(0, 14).Draw(t, "kind") {
		case 0: // the clock may be before the last scan, or after the next
			off := time.Duration(rapid.IntRange(-9000, 9000).Draw(t, "off")) * time.Millisecond
			acts = append(acts, act{done: name, at: at[name].Add(off)})
			continue
		case 1:
			action := rapid.SampledFrom([]alarm.Action{alarm.Acknowledge, alarm.Shelve, alarm.Unshelve}).Draw(t, "action")
			acts = append(acts, act{cmd: &alarm.Command{Key: alarm.Key{Still: name, Fault: analysis.OverTemperature}, Action: action,
				At: at[name], By: "Kim", Reason: "test", Until: at[name].Add(time.Hour)}})
			continue
		}
		if rapid.IntRange(0, 9).Draw(t, "says") == 0 {
			say := &saying{still: name, at: at[name]}
			if rapid.Bool().Draw(t, "ticks") {
				say.check = &archive.Check{Check: rapid.SampledFrom(shopChecks).Draw(t, "check"), Done: rapid.Bool().Draw(t, "done"), By: "Kim"}
			} else {
				say.amend = &archive.Amend{Field: "lot", New: rapid.SampledFrom([]string{"A-1", "A-2", ""}).Draw(t, "lot"), By: "Kim", Why: "test"}
			}
			acts = append(acts, act{say: say})
			continue
		}
		at[name] = at[name].Add(time.Duration(rapid.IntRange(1, 5000).Draw(t, "ms")) * time.Millisecond)
		v := values(rapid.Float64Range(60, 140).Draw(t, "temperature"), rapid.Bool().Draw(t, "on"))
		if rapid.IntRange(0, 5).Draw(t, "bad") == 0 {
			v[0] = analysis.Value{Quality: analysis.Silent}
		}
		acts = append(acts, act{sweep: modbus.Sweep{Still: name, At: at[name], Values: v}})
	}
	return acts
}

// perform does one act; a command that the state of the alarm does not allow changes nothing.
func (a act) perform(ctx context.Context, c *Collector) error {
	switch {
	case a.cmd != nil:
		_ = c.Do(ctx, *a.cmd)
		return nil
	case a.done != "":
		c.clock = stopped{at: a.at}
		return c.Done(ctx, a.done, "oil", "Kim")
	case a.say != nil:
		a.say.perform(ctx, c)
		return nil
	}
	return c.Ingest(ctx, a.sweep)
}

// perform ticks or enters for the next run, correcting what stands there; what is refused changes nothing.
func (s saying) perform(ctx context.Context, c *Collector) {
	c.clock = stopped{at: s.at}
	run := c.stills[s.still].fold.Status().Runs + 1
	if s.check != nil {
		_ = c.Check(ctx, s.still, run, *s.check)
		return
	}
	a := *s.amend
	if before, _, err := c.amended(ctx, s.still, run, a.Field); err == nil {
		a.Old = before.New
	}
	_ = c.Amend(ctx, s.still, run, a)
}

// TestKilledAnywhere: a pipeline fed whole, and one that is killed at any moments (what was not
// committed is gone and comes again, as scans a device is read for again would not, but so that the two
// are comparable), leave the same archive: scans, journal, alarm states, rest points.
func TestKilledAnywhere(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		acts := drawActs(rt)
		whole := newMemory()
		c := start(t, whole, Options{Flush: time.Hour}, "north", "south")
		for _, a := range acts {
			if err := a.perform(t.Context(), c); err != nil {
				rt.Fatal(err)
			}
		}
		if err := c.Flush(t.Context()); err != nil {
			rt.Fatal(err)
		}
		killed := newMemory()
		killedAt(t, rt, killed, acts)
		compareStores(rt, killed, whole)
	})
}

// killedAt performs the acts with a pipeline that is abandoned and recovered at random.
func killedAt(t *testing.T, rt *rapid.T, m *memory, acts []act) {
	c := start(t, m, Options{Flush: time.Hour}, "north", "south")
	durable := 0 // acts committed
	for i := 0; i < len(acts); i++ {
		if err := acts[i].perform(t.Context(), c); err != nil {
			rt.Fatal(err)
		}
		if acts[i].sweep.Still == "" && c.batch.empty() {
			durable = i + 1 // a command or an act is committed at once, with all before it
		}
		switch rapid.IntRange(0, 5).Draw(rt, "then") {
		case 0:
			if err := c.Flush(t.Context()); err != nil {
				rt.Fatal(err)
			}
			durable = i + 1
		case 1: // killed
			c = start(t, m, Options{Flush: time.Hour}, "north", "south")
			i = durable - 1
		}
	}
	if err := c.Flush(t.Context()); err != nil {
		rt.Fatal(err)
	}
}

func compareStores(t rapid.TB, got, want *memory) {
	if d := cmp.Diff(want.scans, got.scans); d != "" {
		t.Fatalf("scans differ (-whole +killed):\n%s", d)
	}
	if d := cmp.Diff(journal(want), journal(got)); d != "" {
		t.Fatalf("journal differs (-whole +killed):\n%s", d)
	}
	if d := cmp.Diff(want.alarms, got.alarms); d != "" {
		t.Fatalf("alarms differ (-whole +killed):\n%s", d)
	}
	if d := cmp.Diff(want.rests, got.rests); d != "" {
		t.Fatalf("rest points differ (-whole +killed):\n%s", d)
	}
}

func journal(m *memory) []string {
	var out []string
	for _, e := range m.entries {
		at := e.At.Format(time.RFC3339Nano)
		switch e.Kind {
		case archive.CheckListEntry, archive.CheckEntry, archive.AmendEntry: // by the machine's clock
			at = e.Still + " " + strconv.Itoa(e.Run)
		}
		out = append(out, string(e.Kind)+" "+at+" "+string(e.Body))
	}
	return out
}

// TestKilledWithRealArchive is the same once, over the real file and the real analysis's neighbours.
func TestKilledWithRealArchive(t *testing.T) {
	path := filepath.Join(t.TempDir(), "luted.db")
	var log bytes.Buffer
	open := func() (*Collector, func()) {
		a, err := archive.Open(t.Context(), path, archive.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c := start(t, a, Options{Flush: time.Hour, Log: slog.New(slog.NewTextHandler(&log, nil))}, "north")
		return c, func() {
			if err := a.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
	const n = 200
	want := newMemory()
	whole := start(t, want, Options{Flush: time.Hour}, "north")
	sweep := func(i int) modbus.Sweep {
		return modbus.Sweep{Still: "north", At: noon.Add(time.Duration(i) * time.Second), Values: values(float64(90+i%17), i/20%2 == 1)}
	}
	c, end := open()
	for i := range n {
		if err := whole.Ingest(t.Context(), sweep(i)); err != nil {
			t.Fatal(err)
		}
		if i%13 == 7 { // what is committed here is all that survives
			if err := c.Flush(t.Context()); err != nil {
				t.Fatal(err)
			}
			end()
			c, end = open()
		}
		if err := c.Ingest(t.Context(), sweep(i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := whole.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	entries, err := c.store.Entries(t.Context(), archive.EntryQuery{})
	if err != nil {
		t.Fatal(err)
	}
	end()
	if d := cmp.Diff(journal(want), journal(&memory{entries: entries})); d != "" {
		t.Errorf("journal differs (-whole +restarted):\n%s", d)
	}
	if len(entries) < 20 {
		t.Errorf("only %d entries: nothing was tested", len(entries))
	}
	if strings.Contains(log.String(), "level=WARN") {
		t.Errorf("warnings after ordinary restarts:\n%s", log.String())
	}
}

// feed ingests one scan a second of the given temperatures with no run on.
func feed(t *testing.T, c *Collector, from int, temperatures ...float64) {
	t.Helper()
	for i, v := range temperatures {
		s := modbus.Sweep{Still: "north", At: noon.Add(time.Duration(from+i) * time.Second), Values: values(v, false)}
		if err := c.Ingest(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func TestRecoverTellsOfAnotherAnalysis(t *testing.T) {
	m := newMemory()
	feed(t, start(t, m, Options{}, "north"), 0, 90, 110, 90, 110)
	var log bytes.Buffer
	before := journal(m)
	start(t, m, Options{Log: slog.New(slog.NewTextHandler(&log, nil)), newFold: func(s analysis.Still, mem analysis.Memory) fold {
		f := newToy(s, mem).(*toy)
		f.extra = " in other words"
		return f
	}}, "north")
	if !strings.Contains(log.String(), "says something else") || !strings.Contains(log.String(), "in other words") {
		t.Errorf("the log does not tell of the difference:\n%s", log.String())
	}
	if d := cmp.Diff(before, journal(m)); d != "" {
		t.Errorf("the journal was changed:\n%s", d)
	}
}

// cool is a version of the analysis that finds nothing too hot.
type cool struct{ toy }

func (c *cool) Step(analysis.Scan) []analysis.Event { return nil }
func (c *cool) Status() analysis.Status             { return analysis.Status{Phase: analysis.Idle} }

// TestRecoverPutsAlarmsRight: an alarm whose fault the new version does not find any more must not
// stand for ever, and one that only it finds must be raised.
func TestRecoverPutsAlarmsRight(t *testing.T) {
	m := newMemory()
	key := alarm.Key{Still: "north", Fault: analysis.OverTemperature}
	feed(t, start(t, m, Options{}, "north"), 0, 90, 110)
	if a := m.alarms[key]; !a.Active {
		t.Fatalf("no active alarm to begin with: %+v", a)
	}
	start(t, m, Options{newFold: func(s analysis.Still, _ analysis.Memory) fold { return &cool{} }}, "north")
	if a := m.alarms[key]; a.Active || a.State != alarm.RTNUnacknowledged {
		t.Errorf("alarm is %q, active %v; want it returned to normal", a.State, a.Active)
	}
	start(t, m, Options{}, "north")
	if a := m.alarms[key]; !a.Active || a.State != alarm.Unacknowledged {
		t.Errorf("alarm is %q, active %v; want it raised", a.State, a.Active)
	}
}

func TestRecoverWithOtherChannels(t *testing.T) {
	l := archive.Layout{Columns: []archive.Column{
		{Name: "jacket_temperature", Dimension: analysis.Temperature, Unit: "°C"},
		{Name: "spare", Dimension: analysis.Other, Unit: "V"},
		{Name: "still_vacuum", Dimension: analysis.Vacuum, Unit: "kPa"},
	}}
	chs := []analysis.Channel{analysis.NewChannel("still_vacuum"), analysis.NewChannel("lid_closed"), analysis.NewChannel("jacket_temperature")}
	var m mapping
	got := m.apply(l, chs, analysis.Scan{At: noon, Values: []analysis.Value{{V: 80}, {V: 5}, {V: 60}}})
	want := analysis.Scan{At: noon, Values: []analysis.Value{{V: 60}, {Quality: analysis.Missing}, {V: 80}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	l2 := archive.Layout{Columns: l.Columns[2:]}
	got = m.apply(l2, chs, analysis.Scan{At: noon, Values: []analysis.Value{{V: 61}}})
	want.Values = []analysis.Value{{V: 61}, {Quality: analysis.Missing}, {Quality: analysis.Missing}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("after a change of layout (-want +got):\n%s", d)
	}
}

// TestRecoverGoesOnInTime: a clock behind the archive's last scan does not make a scan that the archive
// must refuse.
func TestRecoverGoesOnInTime(t *testing.T) {
	m := newMemory()
	feed(t, start(t, m, Options{}, "north"), 3600, 90)
	c := start(t, m, Options{}, "north")
	c.mu.Lock()
	if err := c.take(modbus.Sweep{Still: "north", At: noon, Values: values(90, false)}, time.Now()); err != nil {
		t.Fatal(err)
	}
	c.mu.Unlock()
	if err := c.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	if v := c.Stills()[0]; v.Lead != time.Hour+950*time.Millisecond {
		t.Errorf("lead %v", v.Lead)
	}
	if ok, why := c.Ready(); !ok || len(why) != 1 || !strings.Contains(why[0], "set back") {
		t.Errorf("ready %v %q; want ready, and told of the clock", ok, why)
	}
}
