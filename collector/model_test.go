package collector

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/config"
)

// memory is a store without a file: what the pipeline's rules are tested against, with faults to order.
type memory struct {
	mu      sync.Mutex
	layouts map[string]archive.Layout
	scans   map[string][]analysis.Scan
	entries []archive.Entry
	alarms  map[alarm.Key]alarm.Alarm
	rests   map[string]archive.Rest
	cursors map[string]archive.Cursor

	before    func() error // called by Commit first: an error fails it
	after     func() error // called by Commit last: an error although all is stored
	committed []time.Time  // of each commit
	storedAt  map[time.Time]time.Time
}

func newMemory() *memory {
	return &memory{
		layouts: map[string]archive.Layout{}, scans: map[string][]analysis.Scan{}, alarms: map[alarm.Key]alarm.Alarm{},
		rests: map[string]archive.Rest{}, cursors: map[string]archive.Cursor{}, storedAt: map[time.Time]time.Time{},
	}
}

func (m *memory) SetLayout(_ context.Context, still string, l archive.Layout) error {
	m.layouts[still] = l
	return nil
}

func (m *memory) Commit(_ context.Context, b archive.Batch) (int64, error) {
	m.mu.Lock()
	before := m.before
	m.mu.Unlock()
	if before != nil {
		if err := before(); err != nil {
			return 0, err
		}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, s := range b.Scans {
		old := m.scans[s.Still]
		if len(old) > 0 && !s.At.After(old[len(old)-1].At) {
			return 0, fmt.Errorf("scan of %s at %v is not later than %v", s.Still, s.At, old[len(old)-1].At)
		}
		m.scans[s.Still] = append(old, analysis.Scan{At: s.At, Values: slices.Clone(s.Values)})
		m.storedAt[s.At] = time.Now()
	}
	for _, e := range b.Entries {
		e.Seq = int64(len(m.entries) + 1)
		m.entries = append(m.entries, e)
	}
	for _, a := range b.Alarms {
		m.alarms[a.Key] = a
	}
	for still, r := range b.Rests {
		m.rests[still] = r
	}
	m.committed = append(m.committed, time.Now())
	if m.after != nil {
		if err := m.after(); err != nil {
			return 0, err
		}
	}
	return int64(len(m.entries)), nil
}

func (m *memory) ReadScans(_ context.Context, still string, from, to time.Time, fn func(archive.Layout, analysis.Scan) error) error {
	for _, s := range m.scans[still] {
		if s.At.After(from) && (to.IsZero() || !s.At.After(to)) {
			if err := fn(m.layouts[still], s); err != nil {
				return err
			}
		}
	}
	return nil
}

func (m *memory) LastScan(_ context.Context, still string) (time.Time, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if s := m.scans[still]; len(s) > 0 {
		return s[len(s)-1].At, nil
	}
	return time.Time{}, nil
}

func (m *memory) Entries(_ context.Context, q archive.EntryQuery) ([]archive.Entry, error) {
	var out []archive.Entry
	for _, e := range m.entries {
		if (q.Still == "" || e.Still == q.Still) && (q.Kind == "" || e.Kind == q.Kind) && (q.Run == 0 || e.Run == q.Run) && e.At.After(q.From) {
			out = append(out, e)
		}
	}
	if q.Newest {
		slices.Reverse(out)
	}
	if q.Limit > 0 && len(out) > q.Limit {
		out = out[:q.Limit]
	}
	return out, nil
}

func (m *memory) Alarms(context.Context) ([]alarm.Alarm, error) {
	var out []alarm.Alarm
	for _, a := range m.alarms {
		out = append(out, a)
	}
	return out, nil
}

func (m *memory) Rest(_ context.Context, still string) (archive.Rest, bool, error) {
	r, ok := m.rests[still]
	return r, ok, nil
}

func (m *memory) Maintain(context.Context) error { return nil }

func (m *memory) Stats(context.Context) (archive.Stats, error) { return archive.Stats{}, nil }

func (m *memory) Cursor(_ context.Context, outlet string) (archive.Cursor, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.cursors[outlet], nil
}

func (m *memory) LastSeq(context.Context) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return int64(len(m.entries)), nil
}

// order makes every later Commit call before first; nil: nothing.
func (m *memory) order(before func() error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.before = before
}

// alarm is the stored state of an alarm.
func (m *memory) alarm(k alarm.Key) alarm.Alarm {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.alarms[k]
}

// count is the number of scans stored.
func (m *memory) count(still string) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.scans[still])
}

// toy is the smallest fold with everything the pipeline has to get right: runs, faults and rest points
// at which it forgets all but a count. The first channel is a temperature, too hot above 100; the second
// says that a run is on.
type toy struct {
	still string
	toyState
	rested time.Time
	memory analysis.Memory
	extra  string // added to texts: stands for another version of the program
}

type toyState struct {
	runs   int
	on     bool
	hot    bool
	idle   int // scans since the run ended
	sum    float64
	latest time.Time
	began  time.Time // of the run
}

func newToy(s analysis.Still, m analysis.Memory) fold {
	return &toy{still: s.Name, memory: m, toyState: toyState{runs: m.Runs}}
}

func (t *toy) Step(s analysis.Scan) []analysis.Event {
	if !s.At.After(t.latest) {
		return nil
	}
	t.latest = s.At
	var out []analysis.Event
	temperature, known := s.Values[0].OK()
	on, _ := s.Values[1].OK()
	if known {
		t.sum += temperature
		if (temperature > 100) != t.hot {
			t.hot = !t.hot
			state := analysis.Cleared
			if t.hot {
				state = analysis.Raised
			}
			out = append(out, analysis.Event{At: s.At, Still: t.still, Run: t.run(), Kind: analysis.FaultEvent, Fault: analysis.OverTemperature,
				State: state, Text: fmt.Sprintf("sum %g%s", t.sum, t.extra)})
		}
	}
	switch {
	case on == 1 && !t.on:
		t.on, t.idle, t.began = true, 0, s.At
		t.runs++
		out = append(out, analysis.Event{At: s.At, Still: t.still, Run: t.runs, Kind: analysis.PhaseEvent, Phase: analysis.PumpDown})
	case on == 0 && t.on:
		out = append(out, analysis.Event{At: s.At, Still: t.still, Run: t.runs, Kind: analysis.RunEvent, Summary: &analysis.Summary{End: s.At, EnergyKWh: new(t.sum)}})
		t.on = false
	}
	if !t.on {
		t.idle++
		if t.idle >= 5 && !t.hot {
			t.memory.Runs, t.rested = t.runs, s.At
			t.toyState = toyState{runs: t.runs, latest: s.At}
		}
	}
	return out
}

// Act counts acts like scans, so that one more, or one at another place, shows in what it says later.
func (t *toy) Act(a analysis.Act) []analysis.Event {
	t.sum += 1000
	t.memory.Upkeep = append(slices.Clone(t.memory.Upkeep), analysis.Counter{Name: a.Upkeep, Since: a.At})
	return []analysis.Event{{At: a.At, Still: t.still, Kind: analysis.FaultEvent, Fault: analysis.UpkeepDue, Channel: a.Upkeep,
		State: analysis.Cleared, Text: fmt.Sprintf("sum %g%s", t.sum, t.extra)}}
}

func (t *toy) Now() analysis.Memory { return t.memory }

func (t *toy) run() int {
	if t.on {
		return t.runs
	}
	return 0
}

func (t *toy) Status() analysis.Status {
	st := analysis.Status{At: t.latest, Phase: analysis.Idle, Run: t.run(), Runs: t.runs}
	if t.on {
		st.Phase, st.RunStart = analysis.PumpDown, new(t.began)
	}
	if t.hot {
		st.Faults = []analysis.StandingFault{{Fault: analysis.OverTemperature, Run: t.run(), Text: "hot"}}
	}
	return st
}

func (t *toy) Memory() (analysis.Memory, time.Time) { return t.memory, t.rested }

// shopChecks are the start checks of a shop's stills.
var shopChecks = []string{"Drain valve closed", "Lid clean"}

// shop is a configuration of stills with two channels each, on one line.
func shop(names ...string) *config.Config {
	line := &config.Line{Name: "plc", TCP: "192.0.2.1:502", Timeout: time.Second}
	cfg := &config.Config{Lines: []*config.Line{line}}
	for i, name := range names {
		st := &config.Still{Name: name, Line: line, Device: uint8(i + 1), Every: time.Second,
			Checks: config.Checks{List: shopChecks, AfterStart: 10 * time.Second, GoodFor: time.Hour}}
		for _, ch := range []string{"jacket_temperature", "run_on"} {
			c := &config.Channel{Channel: analysis.NewChannel(ch)}
			c.Unit, _ = config.ParseUnit(map[analysis.Dimension]string{analysis.Temperature: "°C"}[c.Dimension], c.Dimension)
			st.Channels = append(st.Channels, c)
			st.Equipment.Channels = append(st.Equipment.Channels, analysis.NewChannel(ch))
		}
		st.Equipment.Name, st.Equipment.Upkeep = name, []analysis.Upkeep{{Name: "oil", Runs: 100}}
		cfg.Stills = append(cfg.Stills, st)
	}
	return cfg
}

// values are the values of a shop's still.
func values(temperature float64, on bool) []analysis.Value {
	v := []analysis.Value{{V: temperature}, {}}
	if on {
		v[1].V = 1
	}
	return v
}

// beats is a poller that reads its stills on a steady beat of real time.
type beats struct {
	every  time.Duration
	stills []string
	values func(still string, at time.Time) []analysis.Value
	read   func(still string, at time.Time) // told of each sweep; nil: nobody is
	err    error                            // ends it at once
}

func (b beats) Run(ctx context.Context, out func(modbus.Sweep)) error {
	if b.err != nil {
		return b.err
	}
	ticker := time.NewTicker(b.every)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-ticker.C:
		}
		at := time.Now()
		for _, s := range b.stills {
			v := values(20, false)
			if b.values != nil {
				v = b.values(s, at)
			}
			if b.read != nil {
				b.read(s, at)
			}
			out(modbus.Sweep{Still: s, At: at, Values: v})
		}
	}
}
