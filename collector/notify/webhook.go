package notify

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"luted/analysis/alarm"
	"luted/config"
)

// Payload is the body of a webhook. Fields may be added; none changes its meaning.
type Payload struct {
	Version     int           `json:"version"`            // 1
	ID          string        `json:"id"`                 // the same whenever the same message is sent again
	Kind        Kind          `json:"kind"`               // news, flood, history, sample
	Sent        time.Time     `json:"sent"`               // of this try; part of what is signed
	Site        string        `json:"site"`               //
	Simulated   bool          `json:"simulated"`          // true: nothing real has happened
	Title       string        `json:"title"`              // one line for people
	Text        string        `json:"text"`               // the whole message for people
	Page        string        `json:"page"`               // address of luted's page; empty if not configured
	Caution     string        `json:"caution"`            //
	Transitions []Item        `json:"transitions"`        // in the order of the journal; seq is unique for ever
	Standing    []alarm.Alarm `json:"standing,omitempty"` // what stands now; only in flood and history
}

// Headers of a webhook.
const (
	SignatureHeader   = "X-Luted-Signature"
	TimestampHeader   = "X-Luted-Timestamp"
	IdempotencyHeader = "Idempotency-Key"
)

// Sign returns the signature header's value for a body: sha256= and the HMAC-SHA256 (RFC 2104) in hex.
func Sign(secret, body []byte) string {
	h := hmac.New(sha256.New, secret)
	h.Write(body)
	return "sha256=" + hex.EncodeToString(h.Sum(nil))
}

type webhook struct {
	url    string
	secret config.Secret
	people policy
	w      writer
	poster poster
}

func newWebhook(cfg config.Webhook, o Options, people policy) (*webhook, error) {
	if _, err := checkURL(cfg.URL); err != nil {
		return nil, err
	}
	return &webhook{url: cfg.URL, secret: cfg.Secret, people: people, w: newWriter(o), poster: newPoster(o.Transport)}, nil
}

func (h *webhook) policy() policy  { return h.people }
func (h *webhook) wants(Item) bool { return true }
func (h *webhook) close()          { h.poster.close() }

func (h *webhook) send(ctx context.Context, m *message) error {
	t := h.w.write(m)
	body, err := json.Marshal(Payload{
		Version: 1, ID: m.id, Kind: m.kind, Sent: m.sent.UTC(), Site: h.w.site, Simulated: h.w.simulated,
		Title: t.Title, Text: t.Body, Page: h.w.page, Caution: Caution,
		Transitions: m.items, Standing: m.standing,
	})
	if err != nil {
		return fmt.Errorf("webhook body: %w", err)
	}
	header := http.Header{}
	header.Set(IdempotencyHeader, m.id)
	header.Set(TimestampHeader, strconv.FormatInt(m.sent.Unix(), 10))
	if h.secret.Set() {
		header.Set(SignatureHeader, Sign([]byte(h.secret.Reveal()), body))
	}
	return h.poster.post(ctx, h.url, body, header)
}
