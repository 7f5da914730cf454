package dashboards

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"sync"
	"time"
)

// live keeps the last picture of the shop, so that any number of open pages cost one look a moment, and
// remembers when each part of each still last changed, so that a page is sent only what it has not seen.
type live struct {
	mu      sync.Mutex
	taken   time.Time // by the real clock: pictures are shared for freshFor
	version int64
	now     time.Time
	names   []string
	stills  map[string]map[string]part // still → key of its JSON object → value
	runs    map[string]lastRun
	ticks   map[string]lastTick
}

// part is one key of a still's JSON object; a nil value means that the key has gone.
type part struct {
	value   json.RawMessage
	version int64
}

// picture is the shop at one moment: the parts that changed after some version.
type picture struct {
	Now    time.Time                             `json:"now"`
	Full   bool                                  `json:"full,omitempty"` // everything, not only changes
	Names  []string                              `json:"names,omitempty"`
	Stills map[string]map[string]json.RawMessage `json:"stills"`
}

// freshFor is how long one look at the shop is good for.
const freshFor = 200 * time.Millisecond

// lastRun remembers the latest finished run of a still, and what it was looked up for.
type lastRun struct {
	key runKey
	run *runView
}

// runKey changes whenever there may be another latest run.
type runKey struct {
	run, runs int
}

// lookAround takes a new picture if the last one is too old.
func (s *server) lookAround(ctx context.Context) error {
	l := &s.live
	if time.Since(l.taken) < freshFor {
		return nil
	}
	views := s.Shop.Stills()
	l.version++
	l.now, l.names = stamp(s.Now()), l.names[:0]
	for _, v := range views {
		st, err := s.stateNow(ctx, v)
		if err != nil {
			return err
		}
		fields, err := partsOf(st)
		if err != nil {
			return err
		}
		name := v.Config.Name
		l.names = append(l.names, name)
		if l.stills[name] == nil {
			l.stills[name] = map[string]part{}
		}
		mergeParts(l.stills[name], fields, l.version)
	}
	l.taken = time.Now()
	return nil
}

// mergeParts writes what differs into the known parts, stamped with the version.
func mergeParts(known map[string]part, fields map[string]json.RawMessage, version int64) {
	for key, value := range fields {
		if !bytes.Equal(known[key].value, value) {
			known[key] = part{value, version}
		}
	}
	for key, p := range known {
		if _, ok := fields[key]; !ok && p.value != nil {
			known[key] = part{nil, version}
		}
	}
}

func partsOf(st stillState) (map[string]json.RawMessage, error) {
	b, err := json.Marshal(st)
	if err != nil {
		return nil, err
	}
	var fields map[string]json.RawMessage
	return fields, json.Unmarshal(b, &fields)
}

// since returns what changed after a version, and the version it leads to. Version 0 gives everything. For
// the page of one still, the others are there with their alarms only: those are told on every page.
func (s *server) since(ctx context.Context, version int64, still string) (picture, int64, error) {
	s.live.mu.Lock()
	defer s.live.mu.Unlock()
	if err := s.lookAround(ctx); err != nil {
		return picture{}, version, err
	}
	l := &s.live
	p := picture{Now: l.now, Full: version == 0, Stills: map[string]map[string]json.RawMessage{}}
	for _, name := range l.names {
		changed := map[string]json.RawMessage{}
		for key, part := range l.stills[name] {
			switch {
			case part.version <= version, still != "" && name != still && !toldEverywhere[key]:
			case part.value != nil:
				changed[key] = part.value
			case version > 0:
				changed[key] = json.RawMessage("null")
			}
		}
		if len(changed) > 0 {
			p.Stills[name] = changed
		}
	}
	if p.Full {
		p.Names = append(p.Names, l.names...)
	}
	return p, l.version, nil
}

// toldEverywhere are the parts of a still that the pages of other stills show too.
var toldEverywhere = map[string]bool{"name": true, "faults": true, "alarms": true}

// lookAgain forgets what was looked up about the runs of a still: somebody has entered or ticked something.
func (s *server) lookAgain(still string) {
	s.live.mu.Lock()
	defer s.live.mu.Unlock()
	delete(s.live.runs, still)
	delete(s.live.ticks, still)
}

// latestRun is the last finished run of a still as people have it, looked up again only when there may be
// another.
func (s *server) latestRun(ctx context.Context, v StillView) (*runView, error) {
	key := runKey{v.Status.Run, v.Status.Runs}
	name := v.Config.Name
	if known, ok := s.live.runs[name]; ok && known.key == key {
		return known.run, nil
	}
	run, err := s.lastFinished(ctx, name)
	if err != nil {
		return nil, err
	}
	if run != nil {
		if err := s.withEntered(ctx, v.Config, run); err != nil {
			return nil, err
		}
	}
	found := lastRun{key: key, run: run}
	s.live.runs[name] = found
	return found.run, nil
}

type stillsView struct {
	Now    time.Time    `json:"now"`
	Stills []stillState `json:"stills"`
}

func (s *server) stills(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	out := stillsView{Now: stamp(s.Now()), Stills: []stillState{}}
	for _, v := range s.Shop.Stills() {
		st, err := s.stateOf(r.Context(), v)
		if err != nil {
			return err
		}
		out.Stills = append(out.Stills, st)
	}
	return s.writeJSON(w, r, out)
}

func (s *server) stateOf(ctx context.Context, v StillView) (stillState, error) {
	s.live.mu.Lock()
	defer s.live.mu.Unlock()
	return s.stateNow(ctx, v)
}

// stateNow is the state of a still. s.live.mu is held.
func (s *server) stateNow(ctx context.Context, v StillView) (stillState, error) {
	last, err := s.latestRun(ctx, v)
	if err != nil {
		return stillState{}, err
	}
	st := newState(v, last)
	st.ChecksOpen, err = s.checksOpen(ctx, v)
	return st, err
}

// stillDetail is everything about one still.
type stillDetail struct {
	Now   time.Time `json:"now"`
	Line  string    `json:"line,omitempty"`
	Field fieldView `json:"equipment"`
	stillState
	Channels []channelView `json:"channels"`
}

// defaultGasLimitLEL is the limit that the analysis takes when none is stated (analysis.Still.GasLimit).
const defaultGasLimitLEL = 10

// fieldView is what the configuration says about the still; what it does not say is absent.
type fieldView struct {
	GasVolumeL  float64 `json:"gas_volume_l,omitempty"`
	HeaterKW    float64 `json:"heater_kw,omitempty"`
	HoldS       float64 `json:"hold_s,omitempty"`
	TargetKPa   float64 `json:"vacuum_target_kpa,omitempty"` // absolute
	WithinS     float64 `json:"vacuum_within_s,omitempty"`
	AirMinKPa   float64 `json:"air_minimum_kpa,omitempty"` // gauge
	OilLimitC   float64 `json:"oil_limit_c,omitempty"`
	GasLimitLEL float64 `json:"gas_limit_percent_lel,omitempty"`
}

func (s *server) still(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return err
	}
	st, err := s.stateOf(r.Context(), v)
	if err != nil {
		return err
	}
	eq := v.Config.Equipment
	out := stillDetail{
		Now: stamp(s.Now()), stillState: st, Channels: newChannels(v),
		Field: fieldView{
			GasVolumeL: eq.GasVolumeL, HeaterKW: eq.Heater.RatedKW, HoldS: eq.Recipe.Hold.Seconds(),
			TargetKPa: eq.Vacuum.TargetKPa, WithinS: eq.Vacuum.Within.Seconds(), AirMinKPa: eq.Air.MinimumKPa,
			OilLimitC: eq.OilLimitC, GasLimitLEL: eq.GasLimit,
		},
	}
	if out.Field.GasLimitLEL == 0 {
		out.Field.GasLimitLEL = defaultGasLimitLEL
	}
	if v.Config.Line != nil {
		out.Line = v.Config.Line.Name
	}
	return s.writeJSON(w, r, out)
}
