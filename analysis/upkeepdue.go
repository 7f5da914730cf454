package analysis

import (
	"math"
	"time"
)

// Pace is how much a still is used, as far as its last runs show.
type Pace struct {
	Days        float64 `json:"days"`          // looked back on
	Runs        int     `json:"runs"`          // in them
	RunsPerDay  float64 `json:"runs_per_day"`  //
	HoursPerDay float64 `json:"hours_per_day"` // at heat
}

// PaceDays is how far back use is looked at: four weeks, so that weekends count as they come (common
// practice, no source).
const PaceDays = 28

// Coming is when an upkeep will be due at the present pace.
type Coming struct {
	InDays float64 `json:"in_days"` // from now; 0: it is due
	By     string  `json:"by"`      // hours, runs or days: what will be reached first
}

// Coming tells when the upkeep will be due at a pace; ok is false if at that pace it never will, or if
// there is no pace to go by.
func (s UpkeepState) Coming(p Pace, at time.Time) (c Coming, ok bool) {
	if s.Due != "" {
		return Coming{By: s.furthest(at)}, true
	}
	c.InDays = math.Inf(1)
	first := func(left, perDay float64, by string) {
		if perDay > 0 && left/perDay < c.InDays {
			c = Coming{max(0, left/perDay), by}
		}
	}
	if s.Hours > 0 {
		first(s.Hours-s.Counter.Hours, p.HoursPerDay, "hours")
	}
	if s.Runs > 0 {
		first(float64(s.Runs-s.Counter.Runs), p.RunsPerDay, "runs")
	}
	if s.Days > 0 && !s.Counter.Since.IsZero() {
		first(s.Days-at.Sub(s.Counter.Since).Hours()/24, 1, "days")
	}
	return c, !math.IsInf(c.InDays, 1)
}

// furthest names the count that has come furthest.
func (s UpkeepState) furthest(at time.Time) string {
	by, most := "hours", 0.0
	for _, u := range []struct {
		by string
		of Upkeep
	}{{"hours", Upkeep{Hours: s.Hours}}, {"runs", Upkeep{Runs: s.Runs}}, {"days", Upkeep{Days: s.Days}}} {
		if share := u.of.share(s.Counter, at); share > most {
			by, most = u.by, share
		}
	}
	return by
}
