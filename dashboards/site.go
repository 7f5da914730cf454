package dashboards

import (
	"net/http"
	"os"
	"strings"
	"time"

	"luted/analysis"
	"luted/config"
)

// siteView is what the page must know once: the place, its units and the words.
type siteView struct {
	Name       string    `json:"name"`
	Simulated  bool      `json:"simulated"`
	Notice     string    `json:"notice"`
	SimNotice  string    `json:"simulated_notice,omitempty"`
	Now        time.Time `json:"now"`
	TimeZone   string    `json:"time_zone"` // IANA name
	Display    string    `json:"display"`   // us, metric
	AltitudeM  float64   `json:"altitude_m"`
	Version    string    `json:"version,omitempty"`
	MaxShelfS  float64   `json:"max_shelf_s"`
	Units      unitsView `json:"units"`
	Words      wordsView `json:"words"`
	PhaseOrder []string  `json:"phase_order"`
}

// unitsView holds, for each choice of display and each dimension, how the page turns an inside number into
// the one people read: display = (inside - offset) / factor.
type unitsView map[analysis.Display]map[analysis.Dimension]unitView

type unitView struct {
	Inside string  `json:"inside"` // the unit of the number in JSON
	Symbol string  `json:"symbol"`
	Factor float64 `json:"factor"`
	Offset float64 `json:"offset"`
	Places int     `json:"places"` // decimals people read
}

type wordsView struct {
	Faults    map[analysis.Fault]string `json:"faults"`
	Causes    map[analysis.Cause]string `json:"causes"`
	Phases    map[analysis.Phase]string `json:"phases"`
	Qualities map[string]string         `json:"qualities"`
	States    map[string]string         `json:"states"`
}

var phaseOrder = []string{"pump-down", "heat-up", "distilling", "dry-out", "cool-down"}

func (s *server) site(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	display := s.Site.Display
	if display == "" {
		display = analysis.Metric
	}
	v := siteView{
		Name: s.Site.Name, Simulated: s.Simulated, Notice: notice, Now: stamp(s.Now()),
		TimeZone: zoneName(s.Site.TimeZone), Display: string(display), AltitudeM: s.Site.AltitudeM,
		Version: s.Version, MaxShelfS: maxShelf.Seconds(), Units: units(), PhaseOrder: phaseOrder,
		Words: wordsView{
			Faults: faultWords, Causes: causeWords, Phases: phaseWords,
			Qualities: map[string]string{}, States: map[string]string{},
		},
	}
	if s.Simulated {
		v.SimNotice = simulatedNotice
	}
	for q, words := range qualityNames {
		v.Words.Qualities[q.String()] = words
	}
	for st, words := range stateWords {
		v.Words.States[string(st)] = words
	}
	return s.writeJSON(w, r, v)
}

// units is the table of display units, taken from the configuration package: there is one truth about
// what an inch of mercury is.
func units() unitsView {
	out := unitsView{}
	for _, disp := range []analysis.Display{analysis.US, analysis.Metric} {
		out[disp] = map[analysis.Dimension]unitView{}
		for _, d := range []analysis.Dimension{
			analysis.Temperature, analysis.AbsolutePressure, analysis.Vacuum, analysis.GaugePressure, analysis.Power,
			analysis.Energy, analysis.Volume, analysis.Mass, analysis.Flow, analysis.Percent,
		} {
			u := config.DisplayUnit(d, disp)
			out[disp][d] = unitView{d.InsideUnit(), u.Symbol, u.Factor, u.Offset, places(d, u)}
		}
	}
	return out
}

// places is how many decimals the instruments of a still are good for (common practice, no source).
func places(d analysis.Dimension, u config.Unit) int {
	switch d {
	case analysis.Temperature, analysis.Percent:
		return 0
	case analysis.Flow:
		return 2
	case analysis.GaugePressure:
		if u.Symbol == "kPa" || u.Symbol == "psi" {
			return 0
		}
	}
	return 1
}

// stamp is how times are written in JSON: UTC, to the millisecond, as scans are stamped.
func stamp(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }

// zoneName is the name under which a browser knows the zone. The machine's own zone has none in Go, so it
// is read from where the system keeps it; if that fails too, the page shows UTC and says so.
func zoneName(loc *time.Location) string {
	if name := loc.String(); name != "Local" {
		return name
	}
	if tz := strings.TrimPrefix(os.Getenv("TZ"), ":"); tz != "" {
		if _, err := time.LoadLocation(tz); err == nil {
			return tz
		}
	}
	if b, err := os.ReadFile("/etc/timezone"); err == nil {
		name := strings.TrimSpace(string(b))
		if _, err := time.LoadLocation(name); err == nil && name != "" {
			return name
		}
	}
	if to, err := os.Readlink("/etc/localtime"); err == nil {
		if _, name, ok := strings.Cut(to, "zoneinfo/"); ok {
			return name
		}
	}
	return "UTC"
}
