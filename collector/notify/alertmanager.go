package notify

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"luted/analysis/alarm"
	"luted/collector/export/outlet"
	"luted/config"
)

// An alert that is not said again goes away in the Alertmanager by itself, at its endsAt. So each is said
// again every repeatTime, and ends after lives of these: long enough for a restart of luted, short enough
// for what nobody watches any more to be seen as such (Prometheus does the same).
const (
	repeatTime = time.Minute
	lives      = 4
)

// alert is one alert of the Alertmanager's v2 API (POST /api/v2/alerts).
type alert struct {
	Labels       map[string]string `json:"labels"`
	Annotations  map[string]string `json:"annotations"`
	StartsAt     time.Time         `json:"startsAt"`
	EndsAt       time.Time         `json:"endsAt"`
	GeneratorURL string            `json:"generatorURL,omitempty"`
}

// alertmanager keeps an Alertmanager told of the present state of every alarm.
type alertmanager struct {
	url      string
	w        writer
	poster   poster
	log      *slog.Logger
	every    time.Duration // repeatTime, but for tests
	standing map[alarm.Key]alarm.Alarm
	told     time.Time // when all that stands was last said
	failed   bool      // the last repetition failed, and that was logged
}

func newAlertmanager(cfg config.Alertmanager, o Options) (*alertmanager, error) {
	u, err := checkURL(cfg.URL)
	if err != nil {
		return nil, err
	}
	if !strings.HasSuffix(u.Path, "/api/v2/alerts") {
		u = u.JoinPath("api/v2/alerts")
	}
	return &alertmanager{
		url: u.String(), w: newWriter(o), poster: newPoster(o.Transport),
		log: o.Log.With(keyOutlet, AlertmanagerName), every: repeatTime, standing: make(map[alarm.Key]alarm.Alarm),
	}, nil
}

func (a *alertmanager) policy() policy  { return policy{} }
func (a *alertmanager) wants(Item) bool { return true }
func (a *alertmanager) close()          { a.poster.close() }

func (a *alertmanager) start(all []alarm.Alarm) {
	clear(a.standing)
	for _, al := range all {
		if al.Standing() {
			a.standing[al.Key] = al
		}
	}
	a.told = time.Time{}
}

// send says, of every alarm in the message, what its last transition made of it. What came and went
// before is not said: the Alertmanager holds states, not a history.
func (a *alertmanager) send(ctx context.Context, m *message) error {
	last := make(map[alarm.Key]Item)
	for _, it := range m.items {
		last[it.Key] = it
	}
	var alerts []alert
	for _, k := range slices.SortedFunc(maps.Keys(last), compareKeys) {
		if it := last[k]; !it.Raised.IsZero() { // hidden before it was ever raised: nothing to say
			alerts = append(alerts, a.alert(it.Alarm, it.At, m.sent))
		}
	}
	if m.kind == Test {
		alerts = []alert{a.sample(m)}
	}
	if err := a.post(ctx, alerts); err != nil {
		return err
	}
	for k, it := range last {
		if it.Standing() {
			a.standing[k] = it.Alarm
		} else {
			delete(a.standing, k)
		}
	}
	return nil
}

// repeat says all that stands when it is time to, and returns how long until the next time.
func (a *alertmanager) repeat(ctx context.Context) time.Duration {
	now := time.Now()
	if wait := a.told.Add(a.every).Sub(now); wait > 0 {
		return wait
	}
	a.told = now
	var alerts []alert
	for _, k := range slices.SortedFunc(maps.Keys(a.standing), compareKeys) {
		alerts = append(alerts, a.alert(a.standing[k], now, now))
	}
	err := a.post(ctx, alerts)
	switch {
	case err != nil && !a.failed && ctx.Err() == nil:
		a.log.Warn("standing alarms not said again", keyErr, err)
	case err == nil && a.failed:
		a.log.Info("standing alarms said again")
	}
	a.failed = err != nil
	return a.every
}

// post sends alerts; if the server refuses them together, one by one, so that one bad alert keeps no
// other from being heard. The error is a refusal only if every one was refused.
func (a *alertmanager) post(ctx context.Context, alerts []alert) error {
	if len(alerts) == 0 {
		return nil
	}
	body, err := json.Marshal(alerts)
	if err != nil {
		return fmt.Errorf("alerts: %w", err)
	}
	err = a.poster.post(ctx, a.url, body, http.Header{})
	if !outlet.IsRefused(err) || len(alerts) == 1 {
		return err
	}
	refused := 0
	for i := range alerts {
		one := a.post(ctx, alerts[i:i+1])
		switch {
		case outlet.IsRefused(one):
			refused++
			a.log.Error("alert refused", "labels", alerts[i].Labels, keyErr, one)
		case one != nil:
			return one
		}
	}
	if refused == len(alerts) {
		return err
	}
	return nil
}

// severities are the words that Alertmanager configurations commonly use (common practice, no source).
var severities = map[alarm.Priority]string{alarm.High: "critical", alarm.Medium: "warning", alarm.Low: "info"}

func (a *alertmanager) alert(al alarm.Alarm, changed, now time.Time) alert {
	labels := map[string]string{
		"alertname": string(al.Fault), "still": al.Still, "severity": severities[al.Priority],
		"site": a.w.site, "channel": al.Channel,
	}
	if a.w.simulated {
		labels["simulated"] = "true"
	}
	maps.DeleteFunc(labels, func(_, v string) bool { return v == "" }) // an empty label is no label
	it := Item{Transition: alarm.Transition{At: changed, Action: alarm.Raise, Alarm: al}}
	var b strings.Builder
	for _, l := range al.Likely {
		fmt.Fprintf(&b, "%.0f %% %s: %s\n", l.Weight*100, causeName(l.Cause), l.Because)
	}
	out := alert{
		Labels: labels,
		Annotations: map[string]string{
			"summary":     al.Still + ": " + words(al.Key),
			"description": al.Text,
			"likely":      b.String(),
			"state":       string(al.State),
			"raised":      a.w.time(al.Raised),
			"caution":     Caution,
		},
		StartsAt: al.Raised, EndsAt: now.Add(lives * a.every), GeneratorURL: a.w.page,
	}
	if it.urgent() {
		out.Annotations["emergency"] = emergency
	}
	if !al.Standing() {
		out.EndsAt = changed
		if !out.EndsAt.After(out.StartsAt) { // the API wants an end after the start
			out.EndsAt = out.StartsAt.Add(time.Millisecond)
		}
	}
	maps.DeleteFunc(out.Annotations, func(_, v string) bool { return v == "" })
	return out
}

// sample is an alert that ends by itself.
func (a *alertmanager) sample(m *message) alert {
	s := a.alert(m.items[0].Alarm, m.sent, m.sent)
	s.Labels["alertname"], s.Labels["severity"] = "sample", "info"
	s.Annotations = map[string]string{"summary": "sample message: no alarm has been raised", "caution": Caution}
	s.EndsAt = m.sent.Add(a.every)
	return s
}

func compareKeys(x, y alarm.Key) int { return strings.Compare(x.String(), y.String()) }
