package dashboards

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"slices"
	"sync"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/config"
)

// The scene is an invented shop on an invented day: five stills, one of which cannot pull its vacuum.
// Everything in it follows from the time alone, so the same requests give the same answers.

var sceneNow = time.Date(2026, 3, 2, 16, 42, 0, 0, time.UTC)

const sceneAtmosphere = 98.945 // kPa, US Standard Atmosphere 1976 at 200 m (AtmosphericKPa(200), rounded)

// fakeShop is a Shop whose stills are set by the test. Alarms go through a real alarm book.
type fakeShop struct {
	mu      sync.Mutex
	views   []StillView
	book    *alarm.Book
	archive *fakeArchive
	subs    map[chan Update]bool
	doErr   error // what Do returns instead of doing anything
	clock   func() time.Time
}

func (s *fakeShop) Stills() []StillView {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := slices.Clone(s.views)
	for i := range out {
		for _, a := range s.book.Alarms() {
			if a.Still == out[i].Config.Name {
				out[i].Alarms = append(out[i].Alarms, a)
			}
		}
	}
	return out
}

func (s *fakeShop) Do(_ context.Context, c alarm.Command) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.doErr != nil {
		return s.doErr
	}
	ts, err := s.book.Do(c)
	if err != nil {
		return err
	}
	s.journal(ts)
	return nil
}

// Check, Amend and Note are kept as the pipeline keeps them, for the run that is asked for.
func (s *fakeShop) Check(_ context.Context, still string, run int, k archive.Check) error {
	return s.keep(archive.CheckEntry, still, run, k)
}

func (s *fakeShop) Amend(_ context.Context, still string, run int, a archive.Amend) error {
	return s.keep(archive.AmendEntry, still, run, a)
}

func (s *fakeShop) Note(_ context.Context, still string, run int, n archive.Note) error {
	return s.keep(archive.NoteEntry, still, run, n)
}

func (s *fakeShop) keep(kind archive.Kind, still string, run int, body any) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.doErr != nil {
		return s.doErr
	}
	s.archive.add(kind, sceneNow, still, run, body)
	s.tell()
	return nil
}

func (s *fakeShop) Done(_ context.Context, still, upkeep, by string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.doErr != nil {
		return s.doErr
	}
	at := stamp(s.now())
	for i := range s.views {
		v := &s.views[i]
		if v.Config.Name != still {
			continue
		}
		if !slices.ContainsFunc(v.Config.Equipment.Upkeep, func(u analysis.Upkeep) bool { return u.Name == upkeep }) {
			return fmt.Errorf("still %s has no upkeep %q", still, upkeep)
		}
		v.Memory = v.Memory.Done(upkeep)
		v.Memory.Upkeep = append(v.Memory.Upkeep, analysis.Counter{Name: upkeep, Since: at})
		s.archive.add(archive.ActEntry, at, still, v.Status.Run, analysis.Act{Kind: analysis.ActDone, Upkeep: upkeep, By: by, At: at})
	}
	s.tell()
	return nil
}

func (s *fakeShop) now() time.Time {
	if s.clock != nil {
		return s.clock()
	}
	return sceneNow
}

func (s *fakeShop) Subscribe() (<-chan Update, func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := make(chan Update, 1)
	s.subs[c] = true
	return c, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.subs, c)
	}
}

// journal writes transitions down and tells the subscribers. The caller holds the lock.
func (s *fakeShop) journal(ts []alarm.Transition) {
	for _, t := range ts {
		s.archive.add(archive.AlarmEntry, t.At, t.Still, t.Run, t)
	}
	s.tell()
}

func (s *fakeShop) tell() {
	seq, _ := s.archive.LastSeq(context.Background())
	for c := range s.subs {
		select {
		case c <- Update{Seq: seq}:
		default:
		}
	}
}

// raise lets the analysis say that a fault has begun.
func (s *fakeShop) raise(still string, f analysis.StandingFault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.views {
		if v := &s.views[i]; v.Config.Name == still {
			v.Status.Faults = append(slices.Clone(v.Status.Faults), f)
			v.Status.Sentence = f.Text
		}
	}
	e := analysis.Event{At: f.Since, Still: still, Run: f.Run, Kind: analysis.FaultEvent, Fault: f.Fault, Channel: f.Channel, State: analysis.Raised, Likely: f.Likely, Text: f.Text}
	s.archive.add(archive.EventEntry, e.At, still, e.Run, e)
	s.journal(s.book.Apply(e, nil))
}

// clear lets the analysis say that a fault is over.
func (s *fakeShop) clear(still string, f analysis.Fault, at time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.views {
		if v := &s.views[i]; v.Config.Name == still {
			v.Status.Faults = slices.DeleteFunc(slices.Clone(v.Status.Faults), func(x analysis.StandingFault) bool { return x.Fault == f })
		}
	}
	e := analysis.Event{At: at, Still: still, Kind: analysis.FaultEvent, Fault: f, State: analysis.Cleared, Text: "over"}
	s.archive.add(archive.EventEntry, e.At, still, e.Run, e)
	s.journal(s.book.Apply(e, nil))
}

// set changes a still and tells the subscribers.
func (s *fakeShop) set(still string, change func(*StillView)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.views {
		if s.views[i].Config.Name == still {
			change(&s.views[i])
		}
	}
	s.tell()
}

// fakeArchive keeps everything in memory, in the ways archive.Archive promises.
type fakeArchive struct {
	mu      sync.Mutex
	layouts map[string]archive.Layout
	scans   map[string][]analysis.Scan
	entries []archive.Entry
	err     error // what every method returns instead
}

func (a *fakeArchive) add(kind archive.Kind, at time.Time, still string, run int, body any) {
	b, err := json.Marshal(body)
	if err != nil {
		panic(err)
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	a.entries = append(a.entries, archive.Entry{Seq: int64(len(a.entries) + 1), At: at, Still: still, Run: run, Kind: kind, Body: b})
}

func (a *fakeArchive) ReadScans(_ context.Context, still string, from, to time.Time, fn func(archive.Layout, analysis.Scan) error) error {
	a.mu.Lock()
	scans, layout, err := a.scans[still], a.layouts[still], a.err
	a.mu.Unlock()
	if err != nil {
		return err
	}
	for _, s := range scans {
		if s.At.After(from) && (to.IsZero() || !s.At.After(to)) {
			if err := fn(layout, s); err != nil {
				return err
			}
		}
	}
	return nil
}

func (a *fakeArchive) Entries(_ context.Context, q archive.EntryQuery) ([]archive.Entry, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	var out []archive.Entry
	for _, e := range a.entries {
		if e.Seq > q.AfterSeq && (q.BeforeSeq == 0 || e.Seq < q.BeforeSeq) && (q.Still == "" || e.Still == q.Still) && (q.Kind == "" || e.Kind == q.Kind) &&
			(q.Run == 0 || e.Run == q.Run) && (q.From.IsZero() || e.At.After(q.From)) && (q.To.IsZero() || !e.At.After(q.To)) {
			out = append(out, e)
		}
	}
	if q.Newest {
		slices.Reverse(out)
	}
	if q.Limit > 0 && len(out) > q.Limit {
		out = out[:q.Limit]
	}
	return out, a.err
}

func (a *fakeArchive) LastSeq(context.Context) (int64, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return int64(len(a.entries)), a.err
}

// Head hashes the entries together in a way of its own.
func (a *fakeArchive) Head(context.Context) (archive.Head, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if len(a.entries) == 0 {
		return archive.Head{}, a.err
	}
	h := sha256.New()
	for _, e := range a.entries {
		fmt.Fprintf(h, "%d %s", e.Seq, e.Body)
	}
	return archive.Head{Seq: int64(len(a.entries)), At: a.entries[len(a.entries)-1].At, Hash: hex.EncodeToString(h.Sum(nil))}, a.err
}

func (a *fakeArchive) Minutes(ctx context.Context, still string, from, to time.Time, level archive.Level) ([]archive.Summary, error) {
	var out []archive.Summary
	width := time.Duration(level)
	err := a.ReadScans(ctx, still, from.Truncate(width).Add(-1), time.Time{}, func(l archive.Layout, s analysis.Scan) error {
		at := s.At.Truncate(width)
		if !at.Before(to) {
			return nil
		}
		if len(out) == 0 || !out[len(out)-1].At.Equal(at) {
			out = append(out, archive.Summary{At: at, Layout: l, Columns: make([]archive.Figures, len(l.Columns))})
		}
		sum := &out[len(out)-1]
		sum.Scans++
		for i, v := range s.Values {
			f := &sum.Columns[i]
			x, ok := v.OK()
			if !ok {
				continue
			}
			if f.Good == 0 {
				f.Min, f.Max = x, x
			}
			f.Min, f.Max, f.Good = min(f.Min, x), max(f.Max, x), f.Good+1
			f.Mean += (x - f.Mean) / float64(f.Good)
		}
		return nil
	})
	return out, err
}

func (a *fakeArchive) Export(ctx context.Context, still string, from, to time.Time, w io.Writer) (scans int, err error) {
	a.mu.Lock()
	layout := a.layouts[still]
	a.mu.Unlock()
	rw, err := archive.NewRecordingWriter(w, layout)
	if err != nil {
		return 0, err
	}
	err = a.ReadScans(ctx, still, from, to, func(_ archive.Layout, s analysis.Scan) error { scans++; return rw.Write(s) })
	if err != nil {
		return scans, err
	}
	return scans, rw.Flush()
}

// sceneChannels are what every still of the scene has.
var sceneChannels = []struct {
	name   string
	table  config.Table
	at     uint16
	as     config.Encoding
	symbol string
	loop   bool
}{
	{"jacket_temperature", config.Holding, 0, config.Int16, "°F", false},
	{"charge_temperature", config.Holding, 1, config.Int16, "°F", false},
	{"vapor_temperature", config.Holding, 2, config.Int16, "°F", false},
	{"condensate_temperature", config.Holding, 3, config.Int16, "°F", false},
	{"still_vacuum", config.Input, 4, config.Uint16, "inHg", true},
	{"air_supply_pressure", config.Input, 5, config.Uint16, "psi", true},
	{"heater_power", config.Holding, 10, config.Float32, "kW", false},
	{"distillate_volume", config.Holding, 12, config.Float32, "gal", false},
	{"lid_closed", config.Discrete, 3, config.Bool, "", false},
	{"coolant_flow", config.Holding, 20, config.Uint16, "L/min", false},
}

// sceneStill is the configuration of one still.
func sceneStill(name, charge string, litres float64, device uint8) *config.Still {
	st := &config.Still{Name: name, Line: &config.Line{Name: "plc", TCP: "10.20.0.5:502"}, Device: device, Every: 5 * time.Second, Checks: sceneChecks}
	st.Equipment = analysis.Still{
		Name: name, ChargeL: litres, GasVolumeL: 85, Recipe: analysis.Recipe{JacketC: 150, Hold: 3 * time.Hour},
		Solvent: solvent.Mixture{Parts: []solvent.Part{{Name: charge, Fraction: 1}}},
		Vacuum:  analysis.VacuumTarget{TargetKPa: sceneAtmosphere - 81.27, Within: 8 * time.Minute},
		Heater:  analysis.Heater{RatedKW: 6, Phases: 3}, Air: analysis.Air{MinimumKPa: 450}, AltitudeM: 200, Display: analysis.US,
	}
	for _, c := range sceneChannels {
		ch := &config.Channel{Channel: analysis.NewChannel(c.name), Source: config.Source{Table: c.table, Address: c.at, As: c.as, Scale: 1, Bit: -1, Loop: c.loop}}
		if ch.Dimension == analysis.Other {
			ch.Channel.Unit = c.symbol
		}
		ch.Unit, _ = config.ParseUnit(c.symbol, ch.Dimension)
		st.Channels = append(st.Channels, ch)
		st.Equipment.Channels = append(st.Equipment.Channels, ch.Channel)
	}
	return st
}

// sceneRun is how a run of the scene goes: when each phase begins, in minutes from its start.
type sceneRun struct {
	start                                  time.Time
	open                                   bool // the lid is not tight
	heatUp, distilling, dryOut, cool, over float64
}

func goodRun(start time.Time) sceneRun { return sceneRun{start, false, 7, 34, 226, 262, 300} }

func (r sceneRun) phases() []analysis.PhaseSpan {
	at := func(min float64) time.Time { return r.start.Add(time.Duration(min * float64(time.Minute))) }
	if r.open {
		return []analysis.PhaseSpan{{Name: analysis.PumpDown, Start: r.start, End: at(r.over)}}
	}
	return []analysis.PhaseSpan{
		{Name: analysis.PumpDown, Start: r.start, End: at(r.heatUp)}, {Name: analysis.HeatUp, Start: at(r.heatUp), End: at(r.distilling)},
		{Name: analysis.Distilling, Start: at(r.distilling), End: at(r.dryOut)}, {Name: analysis.DryOut, Start: at(r.dryOut), End: at(r.cool)},
		{Name: analysis.CoolDown, Start: at(r.cool), End: at(r.over)},
	}
}

// values is a drawing of a run, not a simulation: plausible curves of toluene in a 60 L pot, with ripple.
func (r sceneRun) values(at time.Time, seed float64) []analysis.Value {
	m := at.Sub(r.start).Minutes()
	noise := func(k float64) float64 { return math.Sin(m*37*k+seed) * math.Sin(m*11.3*k+2*seed) }
	ramp := func(from, to, m0, m1 float64) float64 { return from + (to-from)*min(1, max(0, (m-m0)/(m1-m0))) }
	oil := ramp(21, 150, 1, 62) // 302 °F
	power := 5.9 + 0.05*noise(1)
	if m > 62 && !r.open {
		oil = 150 + 1.6*math.Sin(m/2.1)
		if math.Sin(m/2.1+1.4) < -0.25 {
			power = 0
		}
	}
	vac := 82.4 * (1 - math.Exp(-m/2.4))
	charge := ramp(20, 58.5, 3, r.distilling)
	vapor := 22.0 + ramp(0, 8, 20, r.distilling)
	condensate, volume, air := 18+0.3*noise(0.2), 0.0, 620+9*noise(0.7)
	if m > r.distilling && !r.open {
		charge, vapor = ramp(58.5, 61, r.distilling, r.dryOut), 58+0.3*noise(0.4)
		volume = ramp(0, 52.3, r.distilling+2, r.dryOut)
		vac -= 1.2 + 0.25*noise(0.3)
		condensate += ramp(0, 7, r.distilling, r.distilling+20)
	}
	if m > r.dryOut && !r.open {
		charge, volume = ramp(61, 139, r.dryOut, r.cool+15), 52.3+ramp(0, 1.1, r.dryOut, r.cool)
		vapor = ramp(58, 41, r.dryOut, r.cool)
	}
	if m > r.cool && !r.open {
		power, air = 0, 640
		oil, charge = 150-85*(1-math.Exp(-(m-r.cool)/60)), 139-70*(1-math.Exp(-(m-r.cool)/50))
		vac = 82 * math.Exp(-max(0, m-r.over+5)/0.6)
	}
	if r.open {
		vac = 2.1*(1-math.Exp(-m/0.5)) + 0.12*noise(1)
	}
	if m < 0 || m > r.over && !r.open {
		oil, charge, vapor, condensate, vac, power, volume, air = 22+0.2*noise(0.1), 21, 21, 17, 0.05*noise(1), 0, 0, 640
		if m > r.over {
			oil += 40 * math.Exp(-(m-r.over)/90)
			charge += 40 * math.Exp(-(m-r.over)/80)
		}
	}
	good := func(v float64) analysis.Value { return analysis.Value{V: v} }
	return []analysis.Value{
		good(oil + 0.15*noise(2)), good(charge + 0.1*noise(1.7)), good(vapor), good(condensate), good(vac), good(air), good(max(0, power)), good(max(0, volume)),
		good(1), {Quality: analysis.BrokenWire},
	}
}

// newScene sets the shop up as it is at sceneNow.
func newScene() (*fakeShop, *fakeArchive) {
	arch := &fakeArchive{layouts: map[string]archive.Layout{}, scans: map[string][]analysis.Scan{}}
	shop := &fakeShop{book: alarm.NewBook(nil), archive: arch, subs: map[chan Update]bool{}}
	ago := func(d time.Duration) time.Time { return sceneNow.Add(-d) }
	type plan struct {
		name, solvent string
		litres        float64
		run           int
		runs          []sceneRun
		running       bool
		sentence      string
	}
	plans := []plan{
		{"north", "toluene", 60, 41, []sceneRun{goodRun(ago(19 * time.Hour)), goodRun(ago(162 * time.Minute))}, true,
			"Distilling: 9.6 gal over so far, oil at 302 °F."},
		{"south", "toluene", 60, 18, []sceneRun{goodRun(ago(21 * time.Hour)), {ago(4 * time.Minute), true, 7, 34, 226, 262, 60}}, true, ""},
		{"east", "toluene", 60, 63, []sceneRun{goodRun(ago(8 * time.Hour))}, false, "Idle, oil at 95 °F."},
		{"west", "toluene", 60, 7, []sceneRun{goodRun(ago(245 * time.Minute))}, true, "Drying the residue: little comes over any more, oil at 302 °F."},
		{"yard", "toluene", 60, 3, []sceneRun{goodRun(ago(30 * time.Hour))}, false, "Idle, oil at 72 °F."},
	}
	for i, p := range plans {
		st := sceneStill(p.name, p.solvent, p.litres, uint8(i+1))
		v := StillView{Config: st, Status: analysis.Status{Phase: analysis.Idle, Runs: p.run, Sentence: p.sentence}}
		arch.layouts[p.name] = archive.LayoutOf(st.Channels)
		for k, r := range p.runs {
			n := p.run - len(p.runs) + 1 + k
			journalRun(arch, st, n, r, p.running && k == len(p.runs)-1)
		}
		last := p.runs[len(p.runs)-1]
		v.Status.PhaseSince = last.start.Add(time.Duration(last.over * float64(time.Minute)))
		if p.running {
			v.Status = runningStatus(v.Status, st, p.run, last)
		}
		scans := sceneScans(p.name, p.runs, float64(i+1))
		arch.scans[p.name] = scans
		v.Scan = scans[len(scans)-1]
		v.Status.At = v.Scan.At
		p0 := math.Round((sceneAtmosphere-v.Scan.Values[4].V)*1e4) / 1e4
		v.Status.PressureKPa = &p0
		v.Status.TargetKPa = &st.Equipment.Vacuum.TargetKPa
		v.LastGood = make([]time.Time, len(st.Channels))
		v.Raw = [][]uint16{{0x0BEA}, {0x0578}, {0x055A}, {0x0302}, {0x4123}, {0x3A98}, {0x40BC, 0xCCCD}, {0x4113, 0x3333}, {1}, {0x0DAC}} // as a device would send them
		shop.views = append(shop.views, v)
	}
	shop.sceneFaults()
	for _, p := range plans {
		arch.add(archive.CheckListEntry, ago(40*24*time.Hour), p.name, 0, archive.CheckList{Checks: sceneChecks.List})
	}
	arch.sceneRecords()
	shop.sceneUpkeep()
	return shop, arch
}

// sceneChecks is the list of start checks of the scene.
var sceneChecks = config.Checks{List: config.DefaultChecks, AfterStart: 15 * time.Minute, GoodFor: 12 * time.Hour, Sheets: "red binder at the door"}

// sceneRecords is what people have ticked and entered: all of a run, a correction, and little of the next.
func (a *fakeArchive) sceneRecords() {
	start := goodRun(sceneNow.Add(-19 * time.Hour)).start
	at := func(min int) time.Time { return start.Add(time.Duration(min) * time.Minute) }
	for i, c := range sceneChecks.List[:7] {
		a.add(archive.CheckEntry, at(i-20), "north", 40, archive.Check{Check: c, Done: true, By: "R. Okafor"})
	}
	a.add(archive.CheckEntry, at(-4), "north", 40, archive.Check{Check: sceneChecks.List[1], By: "R. Okafor"})
	amend := func(min int, e archive.Amend) { a.add(archive.AmendEntry, at(min), "north", 40, e) }
	amend(-15, archive.Amend{Field: "lot", New: "D-2207", By: "R. Okafor"})
	amend(-15, archive.Amend{Field: "liner", New: "nylon, 0.1 mm", By: "R. Okafor"})
	amend(310, archive.Amend{Field: "residue", New: "14 lb", Number: new(6.350293), Unit: "kg", By: "R. Okafor"})
	amend(330, archive.Amend{Field: "residue", Old: "14 lb", New: "12 lb", Number: new(5.443108), Unit: "kg", By: "M. Adeyemi", Why: "scale read with the bag’s pallet"})
	amend(340, archive.Amend{Field: "operator", New: "R. Okafor", By: "R. Okafor"})
	a.add(archive.NoteEntry, at(345), "north", 40, archive.Note{By: "M. Adeyemi", Text: "Residue a little soft at the rim; hold 15 min longer next time."})
	a.add(archive.CheckEntry, sceneNow.Add(-10*time.Minute), "yard", 4, archive.Check{Check: sceneChecks.List[3], Done: true, By: "R. Okafor"})
}

// sceneUpkeep is what is to be looked after, and a seal that wears on south.
func (s *fakeShop) sceneUpkeep() {
	day := 24 * time.Hour
	for i := range s.views {
		v := &s.views[i]
		v.Config.Equipment.Upkeep = []analysis.Upkeep{
			{Name: "thermal oil", Hours: 2000, Days: 730}, {Name: "lid gasket", Runs: 60}, {Name: "ejector silencer", Days: 180}, {Name: "liner stock", Runs: 25},
		}
		k := float64(i)
		since := sceneNow.Add(-time.Duration(100+15*i) * day)
		v.Memory = analysis.Memory{Version: 1, Runs: v.Status.Runs, Solvent: "toluene", Upkeep: []analysis.Counter{
			{Name: "thermal oil", Hours: 1980 - 400*(4-k), Runs: 300, Since: since.Add(-200 * day)}, {Name: "lid gasket", Runs: 59 - 9*i, Since: since},
			{Name: "ejector silencer", Since: since, Runs: 80}, {Name: "liner stock", Runs: 10 + 2*i, Since: sceneNow.Add(-20 * day)},
		}}
		if v.Config.Name == "yard" {
			v.Memory.Upkeep[0].Hours = 2003
		}
		for n := range 8 {
			l := 46 + float64(n)
			v.Memory.Learned.Energy = append(v.Memory.Learned.Energy, analysis.EnergyPoint{KWh: math.Round(10*(6.5+0.28*l+0.2*math.Sin(7*l))) / 10, L: l, StartC: 21})
		}
		for n := range min(16, v.Status.Runs-1) {
			end := 15.6 + 0.15*math.Sin(float64(5*n)+k)
			if v.Config.Name == "south" {
				end += 0.14 * float64(n)
			}
			v.Memory.Learned.Wear = append(v.Memory.Learned.Wear, analysis.WearPoint{Run: v.Status.Runs - min(16, v.Status.Runs-1) + n, EndKPa: math.Round(100*end) / 100, TauS: 144, SD: 0.1})
		}
	}
	for _, d := range []struct {
		ago         time.Duration
		still, what string
	}{{400 * day, "south", "lid gasket"}, {115 * day, "south", "lid gasket"}, {20 * day, "north", "liner stock"}} {
		at := sceneNow.Add(-d.ago)
		s.archive.add(archive.ActEntry, at, d.still, 0, analysis.Act{Kind: analysis.ActDone, Upkeep: d.what, By: "R. Okafor", At: at})
	}
}

var (
	sceneScansMu sync.Mutex
	sceneScansOf = map[string][]analysis.Scan{}
)

// sceneScans draws the last day of a still, once for all tests.
func sceneScans(name string, runs []sceneRun, seed float64) []analysis.Scan {
	sceneScansMu.Lock()
	defer sceneScansMu.Unlock()
	if known := sceneScansOf[name]; known != nil {
		return slices.Clip(known)
	}
	var out []analysis.Scan
	for at := sceneNow.Add(-24 * time.Hour).Truncate(5 * time.Second); !at.After(sceneNow); at = at.Add(5 * time.Second) {
		r := runs[0]
		for _, next := range runs[1:] {
			if !at.Before(next.start.Add(-10 * time.Minute)) {
				r = next
			}
		}
		out = append(out, analysis.Scan{At: at, Values: asRead(r.values(at, seed))})
	}
	sceneScansOf[name] = slices.Clip(out)
	return sceneScansOf[name]
}

// scanAt is one scan of a run.
func scanAt(r sceneRun, at time.Time) analysis.Scan {
	return analysis.Scan{At: at, Values: asRead(r.values(at, 1))}
}

// asRead rounds to hundredths of the unit a channel is read in, as devices do; the golden files then do not
// hang on the last bit of a machine's sine.
func asRead(values []analysis.Value) []analysis.Value {
	for i, c := range sceneUnits {
		if values[i].Quality == analysis.Good {
			values[i].V = c.Unit.Inside(math.Round(c.Unit.FromInside(values[i].V)*100) / 100)
		}
	}
	return values
}

var sceneUnits = sceneStill("any", "toluene", 60, 1).Channels

func runningStatus(s analysis.Status, st *config.Still, run int, r sceneRun) analysis.Status {
	s.Run, s.RunStart = run, &r.start
	for _, p := range r.phases() {
		if p.Start.After(sceneNow) {
			break
		}
		if p.End.After(sceneNow) {
			p.End = time.Time{}
		}
		s.Phases = append(s.Phases, p)
		s.Phase, s.PhaseSince = p.Name, p.Start
	}
	if s.Phase == analysis.Distilling {
		rest := r.start.Add(time.Duration(r.cool * float64(time.Minute))).Sub(sceneNow).Seconds()
		s.RemainingS, s.RemainingBasis = &rest, "this still's good runs"
	}
	if s.Phase == analysis.PumpDown {
		s.Forecast = &analysis.Forecast{EndKPa: 96.8, EndSDKPa: 0.4, TauS: 31, ChanceOK: 0.0001, TargetInS: nil}
		floor := 2.9
		s.VaporFloorKPa = &floor
	}
	kwh := math.Round(sceneNow.Sub(r.start).Hours()*46) / 10
	s.EnergyKWh = &kwh
	if !r.open {
		l := asRead(r.values(sceneNow, 1))[7].V
		s.RecoveredL, s.RecoveredBasis = &l, "volume"
	}
	return s
}

// journalRun writes a run down: its phases, and its end unless it still goes on.
func journalRun(arch *fakeArchive, st *config.Still, n int, r sceneRun, running bool) {
	event := func(at time.Time, e analysis.Event) {
		e.At, e.Still = at, st.Name
		arch.add(archive.EventEntry, at, st.Name, e.Run, e)
	}
	phases := r.phases()
	for _, p := range phases {
		if !p.Start.After(sceneNow) {
			event(p.Start, analysis.Event{Run: n, Kind: analysis.PhaseEvent, Phase: p.Name})
		}
	}
	end := phases[len(phases)-1].End
	if running {
		return
	}
	f := func(v float64) *float64 { return &v }
	dry := r.start.Add(time.Duration((r.dryOut + 22) * float64(time.Minute)))
	event(end, analysis.Event{Run: n, Kind: analysis.RunEvent, Summary: &analysis.Summary{
		Start: r.start, End: end, Verdict: analysis.GoodRun, Phases: phases, Faults: []analysis.Fault{}, Solvent: solventWords(st),
		Vacuum: &analysis.VacuumResult{TauS: f(144), EndKPa: f(16.5), TimeToTargetS: f(402), LeakMbarLS: f(0.31)},
		DryAt:  &dry, DryBasis: "distillate rate", EnergyKWh: f(20.4), EnergyBasis: "power", RecoveredL: f(53.4 - float64(n%4)), RecoveredBasis: "volume",
		KWhPerGal: f(1.45 + 0.03*float64(n%4)), KWhPerGalU: f(0.04), MinimumKWhPerGal: f(0.43),
	}})
	event(end, analysis.Event{Kind: analysis.PhaseEvent, Phase: analysis.Idle})
}

var sceneLeak = analysis.StandingFault{
	Fault: analysis.VacuumNotPulled, Since: sceneNow.Add(-195 * time.Second), Run: 18,
	Text: "No vacuum: 0.6 inHg after 45 s, and it has levelled off. Check that the lid is locked and the drain valve closed before the batch heats up.", TextMetric: "No vacuum: 2.0 kPa after 45 s, and it has levelled off. Check that the lid is locked and the drain valve closed before the batch heats up.",
	Likely: []analysis.Likely{
		{Cause: analysis.OpenToAir, Weight: 0.86, Because: "The pressure levelled off at once, close to that of the surroundings; a hole of about 14 mm would do this."},
		{Cause: analysis.Ejector, Weight: 0.08, Because: "Air supply is good at 90 psi, so the ejector is driven; a blocked nozzle would look the same."},
		{Cause: analysis.Gauge, Weight: 0.06, Because: "The gauge moved by 0.6 inHg at the start, so it is alive."},
	},
}

// sceneFaults raises what stands at sceneNow.
func (s *fakeShop) sceneFaults() {
	s.raise("south", sceneLeak)
	s.raise("west", analysis.StandingFault{Fault: analysis.SignalOutOfRange, Channel: "coolant_flow", Since: sceneNow.Add(-3 * time.Hour), Run: 7,
		Text: "coolant_flow: broken wire, the loop current is below 3.6 mA."})
	s.raise("yard", analysis.StandingFault{Fault: analysis.UpkeepDue, Since: sceneNow.Add(-26 * time.Hour), Text: "Thermal oil is due: 2,000 h at heat since it was changed."})
	for _, c := range []alarm.Command{
		{Key: alarm.Key{Still: "west", Fault: analysis.SignalOutOfRange, Channel: "coolant_flow"}, Action: alarm.Acknowledge, At: sceneNow.Add(-170 * time.Minute), By: "R. Okafor"},
		{Key: alarm.Key{Still: "yard", Fault: analysis.UpkeepDue}, Action: alarm.Shelve, At: sceneNow.Add(-2 * time.Hour), By: "R. Okafor", Reason: "oil ordered, comes Thursday", Until: sceneNow.Add(6 * time.Hour)},
	} {
		if err := s.Do(context.Background(), c); err != nil {
			panic(err)
		}
	}
	s.set("west", func(v *StillView) {
		v.Status.Sentence = "Drying the residue: little comes over any more, oil at 302 °F."
	})
	s.set("yard", func(v *StillView) { v.Status.Sentence = "Idle, oil at 72 °F." })
}

// sceneOptions mounts a scene.
func sceneOptions(shop *fakeShop, arch *fakeArchive) Options {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		panic(err)
	}
	return Options{
		Site:      config.Site{Name: "Quay Lane finishing shop", AltitudeM: 200, Display: analysis.US, TimeZone: zone},
		Prices:    config.Prices{Prices: analysis.Prices{Currency: "USD", PerKWh: 0.14, Fresh: analysis.UnitPrice{PerL: 9.5 / analysis.LPerGal}, Waste: analysis.UnitPrice{PerL: 4.1 / analysis.LPerGal}}},
		Simulated: true, Shop: shop, Archive: arch, Version: "test", Now: func() time.Time { return sceneNow },
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		Metrics: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			io.WriteString(w, "luted_up 1\n")
		}),
	}
}

func newHandler(t testing.TB, o Options) http.Handler {
	t.Helper()
	h, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}
