package notify

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/collector/export/outlet"
	"luted/collector/export/outlet/outlettest"
	"luted/config"
)

// RFC 4231, Identifiers and Test Vectors for HMAC-SHA-224 ... HMAC-SHA-512, sections 4.2 to 4.8 (4.6, a
// truncated output, does not apply).
func TestSignAgainstRFC4231(t *testing.T) {
	rep := func(b byte, n int) []byte { return bytes.Repeat([]byte{b}, n) }
	count := make([]byte, 25)
	for i := range count {
		count[i] = byte(i + 1)
	}
	for _, tt := range []struct {
		section   string
		key, data []byte
		want      string
	}{
		{"4.2", rep(0x0b, 20), []byte("Hi There"), "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"},
		{"4.3", []byte("Jefe"), []byte("what do ya want for nothing?"), "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"},
		{"4.4", rep(0xaa, 20), rep(0xdd, 50), "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"},
		{"4.5", count, rep(0xcd, 50), "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"},
		{"4.7", rep(0xaa, 131), []byte("Test Using Larger Than Block-Size Key - Hash Key First"), "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"},
		{"4.8", rep(0xaa, 131), []byte("This is a test using a larger than block-size key and a larger than block-size data. The key needs to be hashed before being used by the HMAC algorithm."), "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"},
	} {
		if got := Sign(tt.key, tt.data); got != "sha256="+tt.want {
			t.Errorf("RFC 4231, section %s: %s, want %s", tt.section, got, tt.want)
		}
	}
}

// hook is a webhook to a handler, and the message to send.
func hook(t *testing.T, secret string, handle http.HandlerFunc) (*webhook, *message) {
	t.Helper()
	server := httptest.NewServer(handle)
	t.Cleanup(server.Close)
	o := Options{Site: "Quay Lane", Page: "http://luted.example/"}
	o.defaults()
	h, err := newWebhook(config.Webhook{URL: server.URL + "/hook?shop=1", Secret: config.NewSecret(secret)}, o, people)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(h.close)
	m := newMessage(News, []Item{item(7, "north", t0, nil)}, &past{})
	m.sent = t0.Add(30 * time.Second)
	return h, m
}

func TestWebhookRequest(t *testing.T) {
	var got *http.Request
	var body []byte
	h, m := hook(t, "a secret", func(w http.ResponseWriter, r *http.Request) {
		got = r.Clone(context.Background())
		body, _ = io.ReadAll(r.Body)
		w.WriteHeader(http.StatusAccepted)
	})
	if err := h.send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"Content-Type": "application/json", IdempotencyHeader: "luted-7-7-1772463680000",
		TimestampHeader: strconv.FormatInt(t0.Unix()+30, 10), SignatureHeader: Sign([]byte("a secret"), body),
	} {
		if v := got.Header.Get(name); v != want {
			t.Errorf("%s: %q, want %q", name, v, want)
		}
	}
	if got.Method != http.MethodPost || got.URL.String() != "/hook?shop=1" {
		t.Errorf("%s %s", got.Method, got.URL)
	}
	var indented bytes.Buffer
	json.Indent(&indented, body, "", "  ")
	golden(t, "webhook.json", indented.String()+"\n")
	independentHMAC(t, "a secret", body, got.Header.Get(SignatureHeader))
}

// independentHMAC computes the signature with a program that shares no code with us.
func independentHMAC(t *testing.T, secret string, body []byte, want string) {
	t.Helper()
	cmd := exec.Command(outlettest.Program(t, "openssl"), "dgst", "-sha256", "-mac", "HMAC", "-macopt", "hexkey:"+hex.EncodeToString([]byte(secret)), "-r")
	cmd.Stdin = bytes.NewReader(body)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if got := "sha256=" + strings.Fields(string(out))[0]; got != want {
		t.Errorf("openssl computes %s, we sent %s", got, want)
	}
}

func TestWebhookWithoutSecretIsNotSigned(t *testing.T) {
	h, m := hook(t, "", func(w http.ResponseWriter, r *http.Request) {
		if v, ok := r.Header[SignatureHeader]; ok {
			t.Errorf("signed with nothing: %v", v)
		}
	})
	if err := h.send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
}

func TestWebhookAnswers(t *testing.T) {
	for _, tt := range []struct {
		status  int
		refused bool
		after   time.Duration
		reason  string
	}{
		{200, false, 0, "accepted"}, {201, false, 0, "accepted"}, {204, false, 0, "accepted"},
		{400, true, 0, "about the message"}, {413, true, 0, "about the message"}, {422, true, 0, "about the message"}, {409, true, 0, "about the message"},
		{401, false, 0, "about the login: the next message would fare no better"}, {403, false, 0, "the same"}, {404, false, 0, "about the address"},
		{408, false, 0, "slow"}, {425, false, 0, "early"}, {429, false, 42 * time.Second, "too fast"},
		{500, false, 0, "their trouble"}, {502, false, 0, "a proxy's trouble"}, {503, false, 42 * time.Second, "busy"},
		{301, false, 0, "elsewhere"}, {302, false, 0, "elsewhere"}, {307, false, 0, "elsewhere"},
	} {
		t.Run(strconv.Itoa(tt.status), func(t *testing.T) {
			asked := 0
			h, m := hook(t, "s", func(w http.ResponseWriter, r *http.Request) {
				asked++
				if tt.status >= 300 && tt.status < 400 {
					w.Header().Set("Location", "/elsewhere")
				}
				if tt.after > 0 {
					w.Header().Set("Retry-After", "42")
				}
				w.WriteHeader(tt.status)
				io.WriteString(w, "why not\nsecond line")
			})
			err := h.send(t.Context(), m)
			accepted := tt.status >= 200 && tt.status < 300
			if accepted != (err == nil) || tt.refused != outlet.IsRefused(err) || outlet.After(err) != tt.after || outlet.IsUnsure(err) {
				t.Errorf("%v (refused %v, after %s), want refused %v, after %s: %s", err, outlet.IsRefused(err), outlet.After(err), tt.refused, tt.after, tt.reason)
			}
			if asked != 1 {
				t.Errorf("asked %d times: redirects are not to be followed", asked)
			}
			if err != nil && !strings.Contains(err.Error(), strconv.Itoa(tt.status)) {
				t.Errorf("%q does not say what the server answered", err)
			}
		})
	}
}

func TestWebhookUnreachable(t *testing.T) {
	h, m := hook(t, "s", func(w http.ResponseWriter, r *http.Request) {})
	h.url = "http://127.0.0.1:1/hook" // tcpmux: nobody listens
	if err := h.send(t.Context(), m); err == nil || outlet.IsUnsure(err) || outlet.IsRefused(err) {
		t.Errorf("no connection: %v, want an error that is certain", err)
	}
	h, m = hook(t, "s", func(w http.ResponseWriter, r *http.Request) {
		io.Copy(io.Discard, r.Body)
		panic(http.ErrAbortHandler)
	})
	if err := h.send(t.Context(), m); !outlet.IsUnsure(err) {
		t.Errorf("connection lost before the answer: %v, want one that leaves open whether it was accepted", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	h, m = hook(t, "s", func(w http.ResponseWriter, r *http.Request) {
		io.Copy(io.Discard, r.Body) // only then does the server see the client go
		cancel()
		<-r.Context().Done()
	})
	if err := h.send(ctx, m); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
