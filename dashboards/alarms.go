package dashboards

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector"
)

// maxShelf is the longest time an alarm may be shelved from here; the alarm book has the last word.
const maxShelf = alarm.MaxShelf

// Lengths of what people write, in characters: enough for a name and a reason, too little for a flood.
const (
	maxName   = 64
	maxReason = 300
)

type alarmsView struct {
	Now    time.Time   `json:"now"`
	Alarms []alarmView `json:"alarms"` // not normal, in the order of the stills
}

func (s *server) alarms(w http.ResponseWriter, r *http.Request) error {
	if err := queryParams(r).done(); err != nil {
		return err
	}
	out := alarmsView{Now: stamp(s.Now()), Alarms: []alarmView{}}
	for _, v := range s.Shop.Stills() {
		for _, a := range v.Alarms {
			if a.State != alarm.Normal {
				out.Alarms = append(out.Alarms, newAlarmView(a))
			}
		}
	}
	return s.writeJSON(w, r, out)
}

// alarmRequest is the body of everything a person does about an alarm.
type alarmRequest struct {
	Still   string         `json:"still"`
	Fault   analysis.Fault `json:"fault"`
	Channel string         `json:"channel"`
	By      string         `json:"by"`
	Reason  string         `json:"reason"`
	Until   *time.Time     `json:"until"`
	Minutes *float64       `json:"minutes"`
}

// act makes the handler that carries out one action and answers with the alarm as it is then.
func act(action alarm.Action) func(*server, http.ResponseWriter, *http.Request) error {
	return func(s *server, w http.ResponseWriter, r *http.Request) error { return s.act(w, r, action) }
}

func (s *server) act(w http.ResponseWriter, r *http.Request, action alarm.Action) error {
	p := queryParams(r)
	if err := p.done(); err != nil {
		return err
	}
	var req alarmRequest
	if err := readJSON(w, r, &req); err != nil {
		return err
	}
	if user, _, ok := r.BasicAuth(); ok && user != "" {
		req.By = user // whoever logged in is who acted
	}
	c, err := req.command(action, stamp(s.Now()))
	if err != nil {
		return err
	}
	before, err := s.findAlarm(c.Key)
	if err != nil && !(action == alarm.RemoveService && s.mayCome(c.Key)) {
		return err
	}
	switch err := s.Shop.Do(r.Context(), c); {
	case errors.Is(err, collector.ErrNotStored):
		s.Log.Warn("an action on an alarm is not stored yet", "alarm", c.Key.String(), "action", string(action))
	case err != nil && r.Context().Err() != nil:
		return err
	case err != nil:
		return problemf(http.StatusConflict, "%v", err)
	}
	after, err := s.findAlarm(c.Key)
	if err != nil {
		// It is normal now, and so no longer in the list.
		after = before
		after.State, after.Changed, after.By, after.Reason = alarm.Normal, c.At, c.By, c.Reason
	}
	return s.writeJSON(w, r, newAlarmView(after))
}

// command checks a request field by field and makes the command of it.
func (q alarmRequest) command(action alarm.Action, now time.Time) (alarm.Command, error) {
	var errs []paramProblem
	wrong := func(name, format string, args ...any) {
		errs = append(errs, paramProblem{name, fmt.Sprintf(format, args...)})
	}
	c := alarm.Command{Key: alarm.Key{Still: q.Still, Fault: q.Fault, Channel: q.Channel}, Action: action, At: now, By: q.By, Reason: q.Reason}
	if q.Still == "" {
		wrong("still", "missing; name the still")
	}
	if !slices.Contains(alarm.Faults, q.Fault) {
		wrong("fault", "%q is not a fault; take the name from /api/alarms", q.Fault)
	}
	for _, t := range []struct {
		name, value string
		most        int
		needed      bool
	}{
		{"by", q.By, maxName, true},
		{"reason", q.Reason, maxReason, action == alarm.Shelve || action == alarm.RemoveService},
	} {
		switch {
		case strings.TrimSpace(t.value) == "" && t.needed:
			wrong(t.name, "missing; it is journaled with the action")
		case utf8.RuneCountInString(t.value) > t.most:
			wrong(t.name, "longer than %d characters", t.most)
		case strings.ContainsFunc(t.value, unprintable) || !utf8.ValidString(t.value):
			wrong(t.name, "must be one line of plain text")
		}
	}
	until, err := q.end(action, now)
	if err != "" {
		wrong("minutes", "%s", err)
	}
	c.Until = until
	if len(errs) > 0 {
		return alarm.Command{}, badRequest(errs)
	}
	return c, nil
}

// end is when a shelf ends, from either way to say it.
func (q alarmRequest) end(action alarm.Action, now time.Time) (time.Time, string) {
	if action != alarm.Shelve {
		if q.Until != nil || q.Minutes != nil {
			return time.Time{}, "only shelving has an end; leave out minutes and until"
		}
		return time.Time{}, ""
	}
	most := fmt.Sprintf("more than 0 and at most %.0f", maxShelf.Minutes())
	switch {
	case q.Until != nil && q.Minutes != nil:
		return time.Time{}, "given together with until; give one of them"
	case q.Until != nil:
		if d := q.Until.Sub(now); d <= 0 || d > maxShelf {
			return time.Time{}, "until must lie in the future, by " + most + " minutes"
		}
		return stamp(*q.Until), ""
	case q.Minutes == nil:
		return time.Time{}, "missing; say for how many minutes, " + most
	case *q.Minutes > 0 && *q.Minutes <= maxShelf.Minutes():
		return stamp(now.Add(time.Duration(*q.Minutes * float64(time.Minute)))), ""
	}
	return time.Time{}, "must be " + most
}

// mayCome reports whether an alarm that is normal now can be hidden before it comes: one of a still that
// there is, and of a channel that it has.
func (s *server) mayCome(k alarm.Key) bool {
	v, err := s.findStill(k.Still)
	return err == nil && (k.Channel == "" || slices.ContainsFunc(v.Config.Channels, nameIs(k.Channel)))
}

// findAlarm returns the present state of an alarm that there is.
func (s *server) findAlarm(k alarm.Key) (alarm.Alarm, error) {
	v, err := s.findStill(k.Still)
	if err != nil {
		return alarm.Alarm{}, err
	}
	for _, a := range v.Alarms {
		if a.Key == k {
			return a, nil
		}
	}
	return alarm.Alarm{}, problemf(http.StatusNotFound, "There is no alarm %s; /api/alarms lists what there is.", k)
}
