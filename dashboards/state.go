package dashboards

import (
	"fmt"
	"net/http"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/config"
)

// stillState is one still at the present moment, as JSON. It carries no age: ages are worked out against
// now, which comes with every answer, so that nothing changes in a still of which nothing has changed.
type stillState struct {
	Name        string                 `json:"name"`
	At          *time.Time             `json:"at"` // of the latest scan; null before the first
	EveryS      float64                `json:"every_s"`
	StaleAfterS float64                `json:"stale_after_s"` // older than this is not live
	Solvent     string                 `json:"solvent,omitempty"`
	ChargeL     float64                `json:"charge_l,omitempty"`
	SetPointC   float64                `json:"set_point_c,omitempty"`
	Phase       analysis.Phase         `json:"phase"`
	PhaseSince  *time.Time             `json:"phase_since,omitempty"`
	Run         int                    `json:"run"`
	Runs        int                    `json:"runs"`
	RunStart    *time.Time             `json:"run_start,omitempty"`
	Sentence    string                 `json:"sentence"`
	SentenceUS  string                 `json:"sentence_us,omitempty"` // in units that are not the site's
	SentenceSI  string                 `json:"sentence_metric,omitempty"`
	Phases      []spanView             `json:"phases,omitempty"`
	Faults      []faultView            `json:"faults,omitempty"`
	Alarms      []alarmView            `json:"alarms,omitempty"` // not normal
	PressureKPa *float64               `json:"pressure_kpa,omitempty"`
	TargetKPa   *float64               `json:"target_kpa,omitempty"`
	FloorKPa    *float64               `json:"vapor_floor_kpa,omitempty"`
	SaturationC *float64               `json:"saturation_c,omitempty"`
	Forecast    *analysis.Forecast     `json:"forecast,omitempty"`
	EnergyKWh   *float64               `json:"energy_kwh,omitempty"`
	RecoveredL  *float64               `json:"recovered_l,omitempty"`
	RecBasis    string                 `json:"recovered_basis,omitempty"`
	DryAt       *time.Time             `json:"dry_at,omitempty"`
	RemainingS  *float64               `json:"remaining_s,omitempty"`
	RemBasis    string                 `json:"remaining_basis,omitempty"`
	Values      map[string]readingView `json:"values"`
	LastRun     *runView               `json:"last_run,omitempty"`
	ChecksOpen  bool                   `json:"checks_open,omitempty"` // idle, and no start check of the next run is ticked
	NotStored   bool                   `json:"not_stored,omitempty"`  // the archive cannot be written
}

// spanView is one phase of the present run; the last has no end.
type spanView struct {
	Name  analysis.Phase `json:"name"`
	Start time.Time      `json:"start"`
	End   *time.Time     `json:"end,omitempty"`
}

type faultView struct {
	Fault   analysis.Fault    `json:"fault"`
	Channel string            `json:"channel,omitempty"`
	Since   time.Time         `json:"since"`
	Run     int               `json:"run"`
	Text    string            `json:"text"`
	TextUS  string            `json:"text_us,omitempty"` // in units that are not the site's
	TextSI  string            `json:"text_metric,omitempty"`
	Likely  []analysis.Likely `json:"likely,omitempty"`
}

// readingView is one channel's reading: a number in the inside unit, or no number and the reason.
type readingView struct {
	Value   *float64         `json:"value,omitempty"`
	Unit    string           `json:"unit,omitempty"`
	Quality analysis.Quality `json:"quality"`
}

// alarmView is one alarm, with whether a person still has to take note of it.
type alarmView struct {
	alarm.Alarm
	NeedsAck bool `json:"needs_acknowledgement"`
}

// channelView is one channel in full, for the still's own page.
type channelView struct {
	Name      string             `json:"name"`
	Words     string             `json:"words"`
	Analysed  bool               `json:"analysed"`
	Dimension analysis.Dimension `json:"dimension"`
	readingView
	LastGood *time.Time `json:"last_good,omitempty"`
	Source   string     `json:"source,omitempty"` // where it is read
	Raw      []uint16   `json:"raw,omitempty"`    // what the device sent last: registers as they came, or one 0 or 1
	RawBit   bool       `json:"raw_bit,omitempty"`
	Low      *float64   `json:"limit_low,omitempty"`
	High     *float64   `json:"limit_high,omitempty"`
}

// staleAfter is the age from which readings are not shown as live: three beats missed, but not less than
// five seconds, so that one lost request does not grey a page (common practice, no source).
func staleAfter(every time.Duration) time.Duration { return max(3*every, 5*time.Second) }

func newState(v StillView, last *runView) stillState {
	st := v.Status
	s := stillState{
		Name: v.Config.Name, At: moment(v.Scan.At), EveryS: v.Config.Every.Seconds(),
		StaleAfterS: staleAfter(v.Config.Every).Seconds(), Solvent: solventWords(v.Config),
		ChargeL: v.Config.Equipment.ChargeL, SetPointC: v.Config.Equipment.Recipe.JacketC,
		Phase: st.Phase, PhaseSince: moment(st.PhaseSince), Run: st.Run, Runs: st.Runs,
		Sentence: st.Sentence, SentenceUS: st.SentenceUS, SentenceSI: st.SentenceMetric, PressureKPa: st.PressureKPa, TargetKPa: st.TargetKPa, FloorKPa: st.VaporFloorKPa,
		SaturationC: st.SaturationC, Forecast: st.Forecast, EnergyKWh: st.EnergyKWh, RecoveredL: st.RecoveredL,
		RecBasis: st.RecoveredBasis, RemainingS: st.RemainingS, RemBasis: st.RemainingBasis,
		Values: map[string]readingView{}, LastRun: last, NotStored: v.NotStored,
	}
	if s.Phase == "" {
		s.Phase = analysis.Idle
	}
	if st.RunStart != nil {
		s.RunStart = moment(*st.RunStart)
	}
	if st.DryAt != nil {
		s.DryAt = moment(*st.DryAt)
	}
	for i, p := range st.Phases {
		span := spanView{p.Name, stamp(p.Start), moment(p.End)}
		if i == len(st.Phases)-1 && st.Run > 0 {
			span.End = nil // it lasts; the time of the latest scan is said once, in at
		}
		s.Phases = append(s.Phases, span)
	}
	for _, f := range st.Faults {
		s.Faults = append(s.Faults, faultView{f.Fault, f.Channel, stamp(f.Since), f.Run, f.Text, f.TextUS, f.TextMetric, f.Likely})
	}
	for _, a := range v.Alarms {
		if a.State != alarm.Normal {
			s.Alarms = append(s.Alarms, newAlarmView(a))
		}
	}
	for i, c := range v.Config.Channels {
		if i < len(v.Scan.Values) {
			s.Values[c.Name] = newReading(c, v.Scan.Values[i])
		}
	}
	return s
}

func newReading(c *config.Channel, v analysis.Value) readingView {
	r := readingView{Unit: insideUnit(c), Quality: v.Quality}
	if n, ok := v.OK(); ok {
		r.Value = &n
	}
	return r
}

// insideUnit is the unit of a channel's numbers in JSON.
func insideUnit(c *config.Channel) string {
	if c.Dimension == analysis.Other {
		return c.Channel.Unit
	}
	return c.Dimension.InsideUnit()
}

func newAlarmView(a alarm.Alarm) alarmView {
	needs := a.State == alarm.Unacknowledged || a.State == alarm.RTNUnacknowledged || a.State == alarm.LatchedUnacknowledged
	return alarmView{a, needs}
}

func newChannels(v StillView) []channelView {
	out := []channelView{}
	for i, c := range v.Config.Channels {
		ch := channelView{
			Name: c.Name, Words: signalWords(c.Name), Analysed: c.Signal != "", Dimension: c.Dimension,
			readingView: readingView{Unit: insideUnit(c), Quality: analysis.Missing},
			Source:      sourceWords(v.Config, c.Source), Low: c.Limits.Low, High: c.Limits.High,
		}
		if i < len(v.Scan.Values) {
			ch.readingView = newReading(c, v.Scan.Values[i])
		}
		switch {
		case ch.Value != nil:
			ch.LastGood = moment(v.Scan.At)
		case i < len(v.LastGood):
			ch.LastGood = moment(v.LastGood[i])
		}
		if i < len(v.Raw) {
			ch.Raw = v.Raw[i]
			ch.RawBit = len(ch.Raw) > 0 && (c.Source.Table == config.Coil || c.Source.Table == config.Discrete)
		}
		out = append(out, ch)
	}
	return out
}

// moment is a time for JSON, or null for one that is not known.
func moment(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = stamp(t)
	return &t
}

// solventWords names the solvent or the blend of a still; empty if it is not stated.
func solventWords(c *config.Still) string {
	parts := c.Equipment.Solvent.Parts
	if len(parts) == 1 {
		return parts[0].Name
	}
	words := ""
	for i, p := range parts {
		if i > 0 {
			words += ", "
		}
		words += fmt.Sprintf("%.0f %% %s", 100*p.Fraction, p.Name)
	}
	return words
}

var tableWords = map[config.Table]string{
	config.Coil: "coil", config.Discrete: "discrete input", config.Holding: "holding register", config.Input: "input register",
}

// sourceWords says where a channel is read, as the configuration says it: "plc, device 1, input register 4,
// uint16".
func sourceWords(st *config.Still, src config.Source) string {
	if st.Line == nil || src.Table == 0 {
		return ""
	}
	w := fmt.Sprintf("%s, device %d, %s %d", st.Line.Name, st.Device, tableWords[src.Table], src.Address)
	switch {
	case src.As != config.Bool:
		w += ", " + string(src.As)
	case src.Bit >= 0 && (src.Table == config.Holding || src.Table == config.Input):
		w += fmt.Sprintf(", bit %d", src.Bit)
	}
	if src.LowFirst {
		w += ", low word first"
	}
	if src.SwapByte {
		w += ", bytes swapped"
	}
	if src.Loop {
		w += ", 4–20 mA"
	}
	return w
}

// findStill returns the still of that name as it is now.
func (s *server) findStill(name string) (StillView, error) {
	views := s.Shop.Stills()
	for _, v := range views {
		if v.Config.Name == name {
			return v, nil
		}
	}
	var names string
	for i, v := range views {
		if i > 0 {
			names += ", "
		}
		if i == 20 {
			names += "…"
			break
		}
		names += v.Config.Name
	}
	return StillView{}, problemf(http.StatusNotFound, "There is no still %q here; there are %s.", name, names)
}
