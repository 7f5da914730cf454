package notify

import (
	"context"
	"errors"
	"fmt"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/config"
)

// Channels names the configured channels, as Sample takes them: mail, webhook, alertmanager.
func Channels(cfg config.Notify) []string {
	var out []string
	if cfg.Mail != nil {
		out = append(out, "mail")
	}
	if cfg.Webhook != nil {
		out = append(out, "webhook")
	}
	if cfg.Alertmanager != nil {
		out = append(out, "alertmanager")
	}
	return out
}

// Sample sends one sample through a configured channel (mail, webhook, alertmanager), or with which
// empty through each of them. It tries once, and the error says of every channel that failed why.
func Sample(ctx context.Context, cfg config.Notify, which string, o Options) error {
	chs, err := channels(cfg, &o)
	if err != nil {
		return err
	}
	m := sampleMessage(time.Now())
	var errs []error
	sent := 0
	for _, c := range chs {
		if which != "" && c.name != "notify/"+which {
			continue
		}
		sent++
		defer c.close()
		if err := c.send(ctx, m); err != nil {
			errs = append(errs, fmt.Errorf("%s: %w", c.name, err))
		}
	}
	if sent == 0 {
		if which == "" {
			return errors.New("nobody to notify: configure notify.mail, notify.webhook or notify.alertmanager")
		}
		return fmt.Errorf("notify.%s is not configured; configured are: %v", which, Channels(cfg))
	}
	return errors.Join(errs...)
}

// sampleMessage is an invented alarm that nobody can take for a real one.
func sampleMessage(now time.Time) *message {
	at := now.UTC().Truncate(time.Second)
	a := alarm.Alarm{
		Key:   alarm.Key{Still: "sample", Fault: analysis.VacuumNotPulled},
		State: alarm.Unacknowledged, Active: true, Priority: alarm.Medium, Run: 1, Raised: at, Changed: at,
		Text: "This text stands where the alarm says what was measured and what to look at.",
		Likely: []analysis.Likely{
			{Cause: analysis.OpenToAir, Weight: 0.8, Because: "Here stands the evidence for the cause."},
			{Cause: analysis.AirSupply, Weight: 0.2, Because: "Causes come with the likeliest first; their weights sum to 100 %."},
		},
	}
	it := Item{Transition: alarm.Transition{At: at, From: alarm.Normal, Action: alarm.Raise, Alarm: a}}
	return &message{
		id: fmt.Sprintf("luted-sample-%d", at.UnixMilli()), kind: Test, items: []Item{it}, sent: now,
	}
}
