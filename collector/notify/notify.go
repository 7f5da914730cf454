package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"luted/analysis/alarm"
	"luted/collector/export/outlet"
	"luted/config"
)

// Journal is the part of the archive that notifications are read from. *archive.Archive is one.
type Journal interface {
	outlet.Spool
	// Alarms returns the present state of every alarm.
	Alarms(ctx context.Context) ([]alarm.Alarm, error)
}

// Options say what messages need to know beyond the alarm. The zero value works.
type Options struct {
	Site      string         // name of the site
	Zone      *time.Location // of the times that people read; nil means UTC
	Page      string         // address of luted's page, for links; empty: no link
	Simulated bool           // marks every message as simulated
	Log       *slog.Logger   // nil: nothing is logged
	Health    outlet.Health  // nil: nobody asks
	// Stale is the age at which a transition is no news any more and goes into a summary. Zero: 1 h.
	Stale time.Duration

	TLS       *tls.Config                                                       // nil: the system's certificates
	Transport http.RoundTripper                                                 // for webhook and Alertmanager; nil: the usual one, with TLS
	Dial      func(ctx context.Context, network, addr string) (net.Conn, error) // for mail; nil: the usual one
}

// Names of the outlets, as in cursors, logs and metrics.
const (
	MailName         = "notify/mail"
	WebhookName      = "notify/webhook"
	AlertmanagerName = "notify/alertmanager"
)

// New returns an outlet for each configured channel, in the order mail, webhook, Alertmanager.
func New(cfg config.Notify, j Journal, o Options) ([]*Outlet, error) {
	chs, err := channels(cfg, &o)
	if err != nil {
		return nil, err
	}
	var out []*Outlet
	for _, c := range chs {
		out = append(out, newOutlet(c.name, c.channel, j, o))
	}
	return out, nil
}

type named struct {
	name string
	channel
}

// channels makes the configured channels; every mistake is reported, not the first only.
func channels(cfg config.Notify, o *Options) ([]named, error) {
	o.defaults()
	var out []named
	var errs []error
	add := func(name string, at config.Pos, c channel, err error) {
		if err != nil {
			errs = append(errs, fmt.Errorf("%s:%d: %s: %w", at.File, at.Line, at.Key, err))
			return
		}
		out = append(out, named{name, c})
	}
	group := cfg.Group
	if group <= 0 {
		group = 30 * time.Second
	}
	people := policy{group: group, stale: o.Stale}
	if m := cfg.Mail; m != nil {
		c, err := newMail(*m, *o, people)
		add(MailName, m.At, c, err)
	}
	if w := cfg.Webhook; w != nil {
		c, err := newWebhook(*w, *o, people)
		add(WebhookName, w.At, c, err)
	}
	if a := cfg.Alertmanager; a != nil {
		c, err := newAlertmanager(*a, *o)
		add(AlertmanagerName, a.At, c, err)
	}
	return out, errors.Join(errs...)
}

func (o *Options) defaults() {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Health == nil {
		o.Health = func(string, time.Duration, int, int, int) {}
	}
	if o.Stale <= 0 {
		o.Stale = time.Hour
	}
	if o.Dial == nil {
		o.Dial = (&net.Dialer{}).DialContext
	}
	if o.Transport == nil {
		t := http.DefaultTransport.(*http.Transport).Clone()
		t.TLSClientConfig = o.TLS
		o.Transport = t
	}
}
