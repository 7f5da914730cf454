package notify

import (
	"net/http"
	"strings"
	"testing"

	"luted/config"
)

// The sample goes through each configured channel, says that it is one, and says who could not be
// reached.
func TestSample(t *testing.T) {
	p := newPipes()
	mails := &mailServer{}
	mails.serve(t, p, nil)
	cfg := config.Notify{
		Mail:         &config.Mail{Server: "mail.example:25", TLS: "none", From: "luted@shop.example", To: []string{"ada@shop.example"}},
		Webhook:      &config.Webhook{URL: "http://hooks.example/"},
		Alertmanager: &config.Alertmanager{URL: "http://alerts.example/"},
	}
	h, am := &hooks{}, &posts{}
	both := roundTrip(func(r *http.Request) (*http.Response, error) {
		if r.URL.Host == "alerts.example" {
			return am.RoundTrip(r)
		}
		return h.RoundTrip(r)
	})
	o := Options{Site: "Quay Lane", Transport: both, Dial: p.dial}
	if err := Sample(t.Context(), cfg, "", o); err != nil {
		t.Fatal(err)
	}
	if got := mails.received(); len(got) != 1 || !strings.Contains(got[0].body, "This is a sample. No alarm has been raised.") {
		t.Errorf("mail: %+v", got)
	}
	if got := h.take(); len(got) != 1 || got[0].Kind != Test {
		t.Errorf("webhook: %+v", got)
	}
	if got := am.take(); len(got) != 1 || len(got[0]) != 1 || got[0][0].Labels["alertname"] != "sample" || got[0][0].Labels["severity"] != "info" {
		t.Errorf("alertmanager: %+v", got)
	}

	if err := Sample(t.Context(), cfg, "webhook", o); err != nil || len(mails.received()) != 1 || len(h.take()) != 1 {
		t.Errorf("only the webhook: %v", err)
	}
	p.Close()
	err := Sample(t.Context(), cfg, "", o)
	if err == nil || !strings.Contains(err.Error(), "notify/mail: ") || strings.Contains(err.Error(), "webhook") {
		t.Errorf("mail server gone: %v", err)
	}
	if len(h.take()) != 1 {
		t.Error("one channel that fails kept another from being tried")
	}
	if err := Sample(t.Context(), config.Notify{}, "", o); err == nil || !strings.Contains(err.Error(), "nobody to notify") {
		t.Errorf("nothing configured: %v", err)
	}
	if err := Sample(t.Context(), config.Notify{Webhook: cfg.Webhook}, "mail", o); err == nil || !strings.Contains(err.Error(), "notify.mail is not configured; configured are: [webhook]") {
		t.Errorf("another channel: %v", err)
	}
}
