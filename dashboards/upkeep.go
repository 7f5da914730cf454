package dashboards

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"luted/analysis"
	"luted/collector"
)

// upkeepView is what is to be looked after, what is coming, and how tight each still is.
type upkeepView struct {
	Now      time.Time     `json:"now"`
	PaceDays int           `json:"pace_days"` // how far back use is looked at
	Stills   []stillUpkeep `json:"stills"`
	History  []doneView    `json:"history"` // newest first
}

type stillUpkeep struct {
	Still    string              `json:"still"`
	Pace     *analysis.Pace      `json:"pace,omitempty"` // absent: no run in that time
	Items    []upkeepItem        `json:"items"`          // in the order of the configuration
	Wear     analysis.WearRecord `json:"wear"`           // of the present solvent
	Leaks    []leakPoint         `json:"leaks"`          // of the same runs, where it is known
	Standing []analysis.Fault    `json:"standing"`       // wear that stands as a fault
}

type upkeepItem struct {
	Name   string           `json:"name"`
	Hours  *upkeepCount     `json:"hours,omitempty"` // at heat; absent: not counted by it
	Runs   *upkeepCount     `json:"runs,omitempty"`
	Days   *upkeepCount     `json:"days,omitempty"`
	Since  *time.Time       `json:"since,omitempty"` // last done, else the first run counted
	By     string           `json:"by,omitempty"`    // who did it last
	Share  float64          `json:"share"`           // of what it may have; 1 and more: due
	Due    string           `json:"due,omitempty"`   // why it is due; absent: it is not
	Coming *analysis.Coming `json:"coming,omitempty"`
	At     *time.Time       `json:"at,omitempty"` // when it will be due at the present pace
}

// upkeepCount is what has gone by, of how much.
type upkeepCount struct {
	Gone float64 `json:"gone"`
	Of   float64 `json:"of"`
}

// leakPoint is the leak that a run found.
type leakPoint struct {
	Run   int       `json:"run"`
	Start time.Time `json:"start"`
	Leak  float64   `json:"leak_mbar_l_s"`
}

// doneView is an upkeep that somebody has done.
type doneView struct {
	Seq    int64     `json:"seq"`
	At     time.Time `json:"at"`
	Still  string    `json:"still"`
	Upkeep string    `json:"upkeep"`
	By     string    `json:"by"`
	// After is how long the one before had lasted by the calendar, s; absent: it is the first.
	After *float64 `json:"after_s,omitempty"`
}

func (s *server) upkeep(w http.ResponseWriter, r *http.Request) error {
	p := queryParams(r)
	still := p.text("still")
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
	out := upkeepView{Now: stamp(s.Now()), PaceDays: analysis.PaceDays, Stills: []stillUpkeep{}, History: historyOf(journal.done, still)}
	for _, v := range s.Shop.Stills() {
		if still == "" || v.Config.Name == still {
			out.Stills = append(out.Stills, s.stillUpkeep(v, journal))
		}
	}
	return s.writeJSON(w, r, out)
}

func (s *server) stillUpkeep(v StillView, j ledgerView) stillUpkeep {
	now := stamp(s.Now())
	name := v.Config.Name
	out := stillUpkeep{Still: name, Items: []upkeepItem{}, Wear: v.Memory.WearRecord(v.Config.Equipment), Leaks: []leakPoint{}, Standing: []analysis.Fault{}}
	if out.Wear.Points == nil {
		out.Wear.Points = []analysis.WearPoint{}
	}
	pace := paceOf(j.runs, name, now)
	if pace.Runs > 0 {
		out.Pace = &pace
	}
	for _, u := range v.Memory.UpkeepStates(v.Config.Equipment, now) {
		out.Items = append(out.Items, newUpkeepItem(u, pace, now, lastDone(j.done, name, u.Name)))
	}
	first := 0
	if n := len(out.Wear.Points); n > 0 {
		first = out.Wear.Points[0].Run
	}
	for i := range j.runs {
		r := &j.runs[i]
		if r.still == name && r.run >= first && r.Vacuum != nil && r.Vacuum.LeakMbarLS != nil {
			out.Leaks = append(out.Leaks, leakPoint{r.run, r.Start, *r.Vacuum.LeakMbarLS})
		}
	}
	for _, f := range v.Status.Faults {
		if f.Fault == analysis.SealWear || f.Fault == analysis.HeatTransferFalling {
			out.Standing = append(out.Standing, f.Fault)
		}
	}
	return out
}

func newUpkeepItem(u analysis.UpkeepState, p analysis.Pace, now time.Time, done *doneUpkeep) upkeepItem {
	it := upkeepItem{Name: u.Name, Since: moment(u.Counter.Since), Share: u.Share, Due: u.Due}
	if done != nil {
		it.By = done.by
	}
	if u.Hours > 0 {
		it.Hours = &upkeepCount{u.Counter.Hours, u.Hours}
	}
	if u.Runs > 0 {
		it.Runs = &upkeepCount{float64(u.Counter.Runs), float64(u.Runs)}
	}
	if u.Days > 0 {
		gone := 0.0
		if !u.Counter.Since.IsZero() {
			gone = now.Sub(u.Counter.Since).Hours() / 24
		}
		it.Days = &upkeepCount{*figure(gone), u.Days}
	}
	if c, ok := u.Coming(p, now); ok {
		c.InDays = *figure(c.InDays)
		it.Coming = &c
		if c.InDays < 36525 {
			it.At = moment(now.Add(time.Duration(c.InDays * 24 * float64(time.Hour))))
		}
	}
	return it
}

// paceOf is how much a still was used in the last weeks: from the first of its runs in them, or all of them
// if it ran before.
func paceOf(runs []runRow, still string, now time.Time) analysis.Pace {
	begin := now.Add(-analysis.PaceDays * 24 * time.Hour)
	var p analysis.Pace
	hours, first, earlier := 0.0, now, false
	for i := len(runs) - 1; i >= 0; i-- {
		r := &runs[i]
		if r.still != still {
			continue
		}
		if r.Start.Before(begin) {
			earlier = true
			break
		}
		p.Runs++
		hours += r.heatS / 3600
		first = r.Start
	}
	if earlier {
		first = begin
	}
	p.Days = max(1, now.Sub(first).Hours()/24) // what began this morning is no pace yet
	p.RunsPerDay, p.HoursPerDay, p.Days = *figure(float64(p.Runs) / p.Days), *figure(hours / p.Days), *figure(p.Days)
	return p
}

func lastDone(all []doneUpkeep, still, upkeep string) *doneUpkeep {
	for i := len(all) - 1; i >= 0; i-- {
		if d := &all[i]; d.still == still && d.upkeep == upkeep {
			return d
		}
	}
	return nil
}

// historyOf is what was done, newest first.
func historyOf(all []doneUpkeep, still string) []doneView {
	out := []doneView{}
	last := map[string]time.Time{}
	for _, d := range all {
		if still != "" && d.still != still {
			continue
		}
		v := doneView{Seq: d.seq, At: d.at, Still: d.still, Upkeep: d.upkeep, By: d.by}
		key := d.still + "\n" + d.upkeep
		if before, ok := last[key]; ok {
			after := d.at.Sub(before).Seconds()
			v.After = &after
		}
		last[key] = d.at
		out = append(out, v)
	}
	slices.Reverse(out)
	return out
}

// doneRequest is the body of an upkeep done.
type doneRequest struct {
	Still  string `json:"still"`
	Upkeep string `json:"upkeep"`
	By     string `json:"by"`
}

// upkeepDone journals that an upkeep was done, and answers with the still's upkeep as it is then.
func (s *server) upkeepDone(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	var req doneRequest
	if err := readJSON(w, r, &req); err != nil {
		return err
	}
	if user, _, ok := r.BasicAuth(); ok && user != "" {
		req.By = user // whoever logged in is who acted
	}
	if errs := req.check(); len(errs) > 0 {
		return badRequest(errs)
	}
	v, err := s.findStill(req.Still)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(v.Config.Equipment.Upkeep, func(u analysis.Upkeep) bool { return u.Name == req.Upkeep }) {
		return problemf(http.StatusNotFound, "Still %s has no upkeep %q; /api/upkeep lists what it has.", req.Still, req.Upkeep)
	}
	switch err := s.Shop.Done(r.Context(), req.Still, req.Upkeep, req.By); {
	case errors.Is(err, collector.ErrNotStored):
		s.Log.Warn("an upkeep done is not stored yet", "still", req.Still, "upkeep", req.Upkeep)
	case err != nil && r.Context().Err() != nil:
		return err
	case err != nil:
		return problemf(http.StatusConflict, "%v", err)
	}
	if v, err = s.findStill(req.Still); err != nil {
		return err
	}
	journal, err := s.ledgerNow(r.Context())
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, s.stillUpkeep(v, journal))
}

func (q *doneRequest) check() []paramProblem {
	var errs []paramProblem
	for _, t := range []struct{ name, value, missing string }{
		{"still", q.Still, "missing; name the still"}, {"upkeep", q.Upkeep, "missing; say what was done, as /api/upkeep names it"}, {"by", q.By, "missing; it is journaled with the act"},
	} {
		switch {
		case strings.TrimSpace(t.value) == "":
			errs = append(errs, paramProblem{t.name, t.missing})
		case utf8.RuneCountInString(t.value) > maxName:
			errs = append(errs, paramProblem{t.name, "longer than 64 characters"})
		case strings.ContainsFunc(t.value, unprintable) || !utf8.ValidString(t.value):
			errs = append(errs, paramProblem{t.name, "must be one line of plain text"})
		}
	}
	return errs
}
