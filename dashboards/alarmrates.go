package dashboards

import (
	"net/http"
	"slices"
	"time"

	"luted/analysis/alarm"
)

// ratesSpan is how far the rates of alarms look back if nobody says.
const ratesSpan = 30 * 24 * time.Hour

// ratesView is how often people were asked for, beside what the standards say is bearable.
type ratesView struct {
	Now time.Time `json:"now"`
	alarm.Report
	Stale  []alarmView `json:"stale"` // longest first
	Limits ratesLimits `json:"limits"`
}

// ratesLimits are the figures of ISA-18.2 and IEC 62682 that the rates are held against.
type ratesLimits struct {
	PerHour     [2]float64 `json:"per_hour"` // very likely acceptable, the most that is manageable
	PerDay      [2]float64 `json:"per_day"`
	Per10Min    [2]float64 `json:"per_10_min"`
	CrowdedHour int        `json:"crowded_hour"`
	FloodBegin  int        `json:"flood_begin"` // more than this many within 10 min
	FloodEnd    int        `json:"flood_end"`   // fewer than this many
	MostCrowded float64    `json:"most_crowded"`
	Stale       int        `json:"stale"` // fewer than this many
	StaleAfterS float64    `json:"stale_after_s"`
	Top10Share  float64    `json:"top_10_share"`
	ChatterS    float64    `json:"chatter_s"` // raised chatter_count times within so long
	Chatter     int        `json:"chatter_count"`
	BurstS      float64    `json:"burst_s"`
}

var theLimits = ratesLimits{
	PerHour: [2]float64{alarm.AcceptablePerHour, alarm.ManageablePerHour}, PerDay: [2]float64{alarm.AcceptablePerDay, alarm.ManageablePerDay},
	Per10Min: [2]float64{alarm.AcceptablePer10Min, alarm.ManageablePer10Min}, CrowdedHour: alarm.CrowdedHour,
	FloodBegin: alarm.FloodBegin, FloodEnd: alarm.FloodEnd, MostCrowded: alarm.MostCrowded, Stale: alarm.AcceptableStale,
	StaleAfterS: alarm.StaleAfter.Seconds(), Top10Share: alarm.AcceptableTop10, ChatterS: alarm.ChatterWindow.Seconds(), Chatter: alarm.ChatterCount,
	BurstS: alarm.BurstGap.Seconds(),
}

// alarmRates answers with the rates of all stills together, or of one.
func (s *server) alarmRates(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	still := p.text("still")
	to := p.moment("to", stamp(s.Now()))
	from := p.moment("from", to.Add(-ratesSpan))
	if len(p.errs) == 0 {
		checkSpan(p, from, to)
	}
	if err := p.done(); err != nil {
		return err
	}
	if still != "" {
		if _, err := s.findStill(still); err != nil {
			return err
		}
	}
	journal, err := s.ledgerNow(r.Context())
	if err != nil {
		return err
	}
	out := ratesView{Now: stamp(s.Now()), Stale: []alarmView{}, Limits: theLimits}
	out.Report = alarm.NewReport(raisesOf(journal.moves, still), from, to, s.Site.TimeZone)
	for _, v := range s.Shop.Stills() {
		if still == "" || v.Config.Name == still {
			for _, a := range alarm.Stale(v.Alarms, s.Now()) {
				out.Stale = append(out.Stale, newAlarmView(a))
			}
		}
	}
	slices.SortStableFunc(out.Stale, func(a, b alarmView) int { return a.Raised.Compare(b.Raised) })
	return s.writeJSON(w, r, out)
}

// raisesOf are the alarms that were put before people, in time order: the journal's order is that of the
// commits, which differs by a moment between stills.
func raisesOf(moves []alarmMove, still string) []alarm.Raised {
	var out []alarm.Raised
	for _, m := range moves {
		if m.action == alarm.Raise && (still == "" || m.key.Still == still) {
			out = append(out, alarm.Raised{Key: m.key, At: m.at, Priority: m.prio})
		}
	}
	slices.SortStableFunc(out, func(a, b alarm.Raised) int { return a.At.Compare(b.At) })
	return out
}
