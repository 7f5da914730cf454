package notify

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/quotedprintable"
	"net"
	"net/http"
	"net/mail"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/export/outlet/outlettest"
	"luted/config"
)

// raisedAt is a transition: a still has no vacuum. The still's name is the thing's id.
func raisedAt(still string, at time.Time) alarm.Transition {
	return alarm.Transition{At: at, From: alarm.Normal, Action: alarm.Raise, Alarm: alarm.Alarm{
		Key: alarm.Key{Still: still, Fault: analysis.VacuumNotPulled}, State: alarm.Unacknowledged, Active: true,
		Priority: alarm.Medium, Run: 3, Raised: at, Changed: at, Text: "The pressure stays near atmospheric.",
		Likely: []analysis.Likely{
			{Cause: analysis.OpenToAir, Weight: 0.8, Because: "The pressure has not moved since the air was turned on."},
			{Cause: analysis.AirSupply, Weight: 0.2, Because: "The air supply is not measured."},
		},
	}}
}

func entry(t alarm.Transition) archive.Entry {
	body, err := json.Marshal(t)
	if err != nil {
		panic(err)
	}
	return archive.Entry{At: t.At, Still: t.Still, Run: t.Run, Kind: archive.AlarmEntry, Body: body}
}

func thing(i int, at time.Time) (archive.Batch, string) {
	id := fmt.Sprintf("s%03d", i)
	tr := raisedAt(id, at)
	return archive.Batch{Entries: []archive.Entry{entry(tr)}, Alarms: []alarm.Alarm{tr.Alarm}}, id
}

func one(t testing.TB, cfg config.Notify, a *outlettest.Archive, o Options) outlettest.Runner {
	outs, err := New(cfg, a, o)
	if err != nil || len(outs) != 1 {
		t.Fatalf("%d outlets, %v", len(outs), err)
	}
	return outs[0]
}

func TestWebhookSuite(t *testing.T) {
	outlettest.Run(t, outlettest.Rig{
		Name: WebhookName, Thing: thing,
		New: func(t testing.TB, a *outlettest.Archive, far *outlettest.Far) outlettest.Runner {
			cfg := config.Notify{Webhook: &config.Webhook{URL: "https://hooks.example/luted", Secret: config.NewSecret("s")}}
			return one(t, cfg, a, Options{Transport: far.HTTP(func(h http.Header, body []byte) (string, []string) {
				var p Payload
				if err := json.Unmarshal(body, &p); err != nil {
					return "", []string{err.Error()}
				}
				var ids []string
				for _, it := range p.Transitions {
					ids = append(ids, it.Still)
				}
				return h.Get(IdempotencyHeader), ids
			})})
		},
	})
}

func TestAlertmanagerSuite(t *testing.T) {
	outlettest.Run(t, outlettest.Rig{
		Name: AlertmanagerName, Thing: thing, Repeats: true,
		New: func(t testing.TB, a *outlettest.Archive, far *outlettest.Far) outlettest.Runner {
			cfg := config.Notify{Alertmanager: &config.Alertmanager{URL: "http://alerts.example:9093"}}
			return one(t, cfg, a, Options{Transport: far.HTTP(func(h http.Header, body []byte) (string, []string) {
				var as []alert
				if err := json.Unmarshal(body, &as); err != nil {
					return "", []string{err.Error()}
				}
				var ids []string
				for _, a := range as {
					ids = append(ids, a.Labels["still"])
				}
				return "", ids
			})})
		},
	})
}

func TestMailSuite(t *testing.T) {
	outlettest.Run(t, outlettest.Rig{
		Name: MailName, Thing: thing, CannotAsk: true,
		New: func(t testing.TB, a *outlettest.Archive, far *outlettest.Far) outlettest.Runner {
			p := newPipes()
			s := &mailServer{}
			s.conversation = func(c *smtp.Conn, m *mail.Message, body string) error {
				switch far.Ask(t.Context(), m.Header.Get("Message-Id"), stillsOf(body)) {
				case outlettest.Accepted:
					return nil
				case outlettest.Refused:
					return &smtp.SMTPError{Code: 554, Message: "this will never do"}
				case outlettest.Later:
					return &smtp.SMTPError{Code: 451, Message: "try again later"}
				}
				c.Conn().Close()
				return errors.New("gone")
			}
			s.serve(t, p, nil)
			cfg := config.Notify{Mail: &config.Mail{Server: "mail.example:25", TLS: "none", From: "luted@shop.example", To: []string{"ada@shop.example"}}}
			return one(t, cfg, a, Options{Dial: func(ctx context.Context, network, addr string) (net.Conn, error) {
				if err := far.Dial(); err != nil {
					return nil, err
				}
				return p.dial(ctx, network, addr)
			}})
		},
	})
}

var stillName = regexp.MustCompile(`\bs\d{3}: `)

// stillsOf lists the stills whose transitions a mail tells of, in order.
func stillsOf(body string) []string {
	if _, happened, ok := strings.Cut(body, "What happened:"); ok {
		body = happened
	}
	var ids []string
	for _, m := range stillName.FindAllString(body, -1) {
		if id := strings.TrimSuffix(m, ": "); !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids
}

// readBody undoes the transfer encoding.
func readBody(m *mail.Message) (string, error) {
	r := m.Body
	switch strings.ToLower(m.Header.Get("Content-Transfer-Encoding")) {
	case "quoted-printable":
		r = quotedprintable.NewReader(r)
	case "base64":
		r = base64.NewDecoder(base64.StdEncoding, r)
	}
	b, err := io.ReadAll(r)
	return strings.ReplaceAll(string(b), "\r\n", "\n"), err
}
