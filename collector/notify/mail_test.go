package notify

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"mime"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/emersion/go-smtp"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/export/outlet"
	"luted/config"
)

// certificate makes a certificate for 127.0.0.1 and the pool that trusts it.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(leaf)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

// listen is a listener on the loopback.
func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// aMailer is the channel that a configuration gives.
func aMailer(t *testing.T, cfg config.Mail, o Options) *mailer {
	t.Helper()
	o.defaults()
	if cfg.From == "" {
		cfg.From = "luted at Quay Lane <luted@shop.example>"
	}
	if cfg.To == nil {
		cfg.To = []string{"ada@shop.example"}
	}
	m, err := newMail(cfg, o, people)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func aMessage() *message {
	m := newMessage(News, []Item{item(7, "north", t0, nil)}, &past{})
	m.sent = t0.Add(30 * time.Second)
	return m
}

// A real server over real sockets, with every kind of encryption and login.
func TestMailOverTheNetwork(t *testing.T) {
	cert, pool := certificate(t)
	for _, tt := range []struct {
		name                 string
		mode                 string
		server               *mailServer
		user, password       string
		noTLS, implicit      bool
		wantErr              string
		wantEncrypted, login bool
	}{
		{name: "starttls and login", mode: "", server: &mailServer{user: "luted", password: "pa ss"}, user: "luted", password: "pa ss", wantEncrypted: true, login: true},
		{name: "starttls", mode: "starttls", server: &mailServer{}, wantEncrypted: true},
		{name: "tls and login", mode: "tls", server: &mailServer{user: "luted", password: "pa ss"}, user: "luted", password: "pa ss", implicit: true, wantEncrypted: true, login: true},
		{name: "none", mode: "none", server: &mailServer{}, noTLS: true},
		{name: "wrong password", mode: "", server: &mailServer{user: "luted", password: "pa ss"}, user: "luted", password: "wrong", wantErr: "535"},
		{name: "login wanted, none configured", mode: "", server: &mailServer{user: "luted", password: "pa ss"}, wantErr: "530"},
		{name: "no starttls offered", mode: "starttls", server: &mailServer{}, noTLS: true, wantErr: "STARTTLS"},
		{name: "password only in the clear", mode: "none", server: &mailServer{user: "luted", password: "pa ss"}, user: "luted", password: "pa ss", noTLS: true, wantErr: "only in the clear"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l := listen(t)
			addr := l.Addr().String()
			conf := &tls.Config{Certificates: []tls.Certificate{cert}}
			switch {
			case tt.implicit:
				l = tls.NewListener(l, conf)
				conf = nil
			case tt.noTLS:
				conf = nil
			}
			tt.server.insecure = tt.name == "password only in the clear"
			tt.server.serve(t, l, conf)
			m := aMailer(t, config.Mail{Server: addr, TLS: tt.mode, User: tt.user, Password: config.NewSecret(tt.password)}, Options{TLS: &tls.Config{RootCAs: pool}})
			err := m.send(t.Context(), aMessage())
			if tt.wantErr != "" {
				if err == nil || !strings.Contains(err.Error(), tt.wantErr) || outlet.IsRefused(err) || outlet.IsUnsure(err) {
					t.Errorf("%v, want an error to be tried again that says %q", err, tt.wantErr)
				}
				if strings.Contains(err.Error(), tt.password) && tt.password != "" {
					t.Errorf("the error tells the password: %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			got := tt.server.received()
			if len(got) != 1 || got[0].encrypted != tt.wantEncrypted && !tt.implicit || got[0].login != tt.login {
				t.Errorf("%+v, want one mail, encrypted %v, login %v", got, tt.wantEncrypted, tt.login)
			}
		})
	}
	t.Run("unknown certificate", func(t *testing.T) {
		l := listen(t)
		s := &mailServer{}
		s.serve(t, l, &tls.Config{Certificates: []tls.Certificate{cert}})
		m := aMailer(t, config.Mail{Server: l.Addr().String()}, Options{})
		if err := m.send(t.Context(), aMessage()); err == nil || !strings.Contains(err.Error(), "certificate") {
			t.Errorf("%v, want an error about the certificate", err)
		}
		if len(s.received()) != 0 {
			t.Error("and yet it was sent")
		}
	})
}

func TestMailAsReceived(t *testing.T) {
	l := listen(t)
	s := &mailServer{}
	s.serve(t, l, nil)
	m := aMailer(t, config.Mail{Server: l.Addr().String(), TLS: "none", To: []string{"Ada <ada@shop.example>", "bo@shop.example"}}, Options{Zone: mountain, Site: "Quay Lane"})
	msg := newMessage(News, []Item{item(1, "north", t0, as(analysis.GasLevelHigh, alarm.High))}, &past{})
	msg.sent = t0.Add(30 * time.Second)
	if err := m.send(t.Context(), msg); err != nil {
		t.Fatal(err)
	}
	got := s.received()
	if len(got) != 2 || got[0].to != "ada@shop.example" || got[1].to != "bo@shop.example" || got[0].from != "luted@shop.example" {
		t.Fatalf("received %+v", got)
	}
	h := got[0].message.Header
	subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
	if err != nil || subject != "[luted] north: flammable vapour above its limit" {
		t.Errorf("subject %q, %v", subject, err)
	}
	for name, want := range map[string]string{
		"Message-Id": "<luted-1-1-1772463680000@shop.example>", "Auto-Submitted": "auto-generated",
		"Date": "Mon, 02 Mar 2026 08:01:50 -0700", "From": `"luted at Quay Lane" <luted@shop.example>`, "To": `"Ada" <ada@shop.example>`,
		"Importance": "high",
	} {
		if v := h.Get(name); v != want {
			t.Errorf("%s: %q, want %q", name, v, want)
		}
	}
	if want := m.w.write(msg).Body; strings.TrimSpace(got[0].body) != strings.TrimSpace(want) {
		t.Errorf("body %q, want %q", got[0].body, want)
	}
}

// reply is what a server says.
func reply(code int) error {
	return &smtp.SMTPError{Code: code, EnhancedCode: smtp.EnhancedCodeNotSet, Message: "says the server"}
}

func TestMailReplies(t *testing.T) {
	const bad = "bo@shop.example"
	only := func(code int) func(string) error {
		return func(to string) error {
			if to == bad {
				return reply(code)
			}
			return nil
		}
	}
	for _, tt := range []struct {
		name   string
		server *mailServer
		want   string // accepted, again, refused, partly, same
		got    string // who has it after one try
		reason string
	}{
		{"all well", &mailServer{}, "accepted", "ada bo cy", ""},
		{"one unknown recipient", &mailServer{rcpt: only(550)}, "partly", "ada cy", "a bad address is one recipient's affair"},
		{"one full mailbox", &mailServer{rcpt: only(452)}, "same", "ada cy", "4yz: try again (RFC 5321, section 4.2.1), and no other message, since two have this one"},
		{"message refused for one", &mailServer{data: only(554)}, "partly", "ada cy", "5yz: do not"},
		{"nobody known", &mailServer{rcpt: func(string) error { return reply(550) }}, "refused", "", "nobody is left to try"},
		{"refused for everybody", &mailServer{data: func(string) error { return reply(554) }}, "refused", "", "the content, most likely"},
		{"sender not allowed", &mailServer{mailFrom: func(string) error { return reply(550) }}, "again", "", "the configuration is wrong, and somebody will mend it"},
		{"too large", &mailServer{mailFrom: func(string) error { return reply(552) }}, "refused", "", "about the message"},
		{"greylisted", &mailServer{rcpt: func(string) error { return reply(451) }}, "again", "", "4yz"},
		{"server going down", &mailServer{rcpt: only(421)}, "same", "ada", "421 closes the conversation"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l := listen(t)
			tt.server.serve(t, l, nil)
			m := aMailer(t, config.Mail{Server: l.Addr().String(), TLS: "none", To: []string{"ada@shop.example", bad, "cy@shop.example"}}, Options{})
			err := m.send(t.Context(), aMessage())
			got := "again"
			switch {
			case err == nil:
				got = "accepted"
			case outlet.IsRefused(err):
				got = "refused"
			case isPartly(err):
				got = "partly"
			case outlet.IsUnsure(err):
				got = "same"
			}
			if got != tt.want {
				t.Errorf("%s (%v), want %s: %s", got, err, tt.want, tt.reason)
			}
			if has := recipients(tt.server); has != tt.got {
				t.Errorf("%q have it, want %q", has, tt.got)
			}
		})
	}
}

func recipients(s *mailServer) string {
	var names []string
	for _, r := range s.received() {
		name, _, _ := strings.Cut(r.to, "@")
		names = append(names, name)
	}
	return strings.Join(names, " ")
}

// Who has a message does not get it again while another mailbox puts us off; and that one has ten
// minutes.
func TestMailRemembersWhoHasIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newPipes()
		full := true
		s := &mailServer{rcpt: func(to string) error {
			if full && strings.HasPrefix(to, "bo@") {
				return reply(452)
			}
			return nil
		}}
		s.serve(t, p, nil)
		m := aMailer(t, config.Mail{Server: "mail.example:25", TLS: "none", To: []string{"ada@shop.example", "bo@shop.example"}}, Options{Dial: p.dial})
		msg := aMessage()
		for range 3 {
			if err := m.send(t.Context(), msg); err == nil || isPartly(err) || outlet.IsRefused(err) {
				t.Fatalf("%v, want to try again", err)
			}
			time.Sleep(time.Minute)
		}
		full = false
		if err := m.send(t.Context(), msg); err != nil {
			t.Fatal(err)
		}
		if got := recipients(s); got != "ada bo" {
			t.Errorf("received by %q, want each once", got)
		}

		full = true
		next := aMessage()
		next.id = "luted-8-8-0"
		m.send(t.Context(), next)
		time.Sleep(11 * time.Minute)
		if err := m.send(t.Context(), next); !isPartly(err) {
			t.Errorf("after 11 min: %v, want to go on without the full mailbox", err)
		}
		if got := recipients(s); got != "ada bo ada" {
			t.Errorf("received by %q", got)
		}
	})
}

// The connection breaks between the message and the reply: it may have been accepted.
func TestMailLostReply(t *testing.T) {
	l := listen(t)
	s := &mailServer{broken: true}
	s.serve(t, l, nil)
	m := aMailer(t, config.Mail{Server: l.Addr().String(), TLS: "none"}, Options{})
	if err := m.send(t.Context(), aMessage()); !outlet.IsUnsure(err) {
		t.Errorf("%v, want one that leaves open whether it was accepted", err)
	}
}

// Each recipient who was refused is set aside by himself, and the message is told to the others once.
func TestRefusedRecipientsAreSetAside(t *testing.T) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		a := open(t, path)
		defer a.Close()
		p := newPipes()
		s := &mailServer{rcpt: func(to string) error {
			if !strings.HasPrefix(to, "ada@") {
				return reply(550)
			}
			return nil
		}}
		s.serve(t, p, nil)
		cfg := config.Notify{Mail: &config.Mail{Server: "m.example:25", TLS: "none", From: "l@shop.example", To: []string{"bo@shop.example", "ada@shop.example", "cy@shop.example"}}}
		defer run(t, cfg, a, Options{Dial: p.dial})()
		for range 2 {
			commit(t, a, raisedAt("north", time.Now().UTC()))
			pass(10 * time.Minute)
		}
		if got := recipients(s); got != "ada ada" {
			t.Errorf("received by %q", got)
		}
		set, err := a.SetAsides(t.Context(), MailName, 0)
		if err != nil || len(set) != 4 || !strings.Contains(set[3].Item, `"to":"bo@shop.example"`) || !strings.Contains(set[2].Reason, "550") {
			t.Errorf("set aside: %+v, %v, want two recipients of two messages", set, err)
		}
	})
}

// The server goes away for hours between the first and the second recipient: afterwards the second gets
// the message, and the first does not get it again, in whatever form.
func TestOutageBetweenTwoRecipients(t *testing.T) {
	path := filepath.Join(t.TempDir(), "archive.db")
	synctest.Test(t, func(t *testing.T) {
		a := open(t, path)
		defer a.Close()
		p := newPipes()
		var up atomic.Bool
		s := &mailServer{rcpt: func(to string) error {
			if !up.Load() && strings.HasPrefix(to, "bo@") {
				return reply(421)
			}
			return nil
		}}
		s.serve(t, p, nil)
		dial := func(ctx context.Context, network, addr string) (net.Conn, error) {
			if len(s.received()) > 0 && !up.Load() {
				return nil, &net.OpError{Op: "dial", Err: net.ErrClosed}
			}
			return p.dial(ctx, network, addr)
		}
		cfg := config.Notify{Mail: &config.Mail{Server: "m.example:25", TLS: "none", From: "l@shop.example", To: []string{"ada@shop.example", "bo@shop.example"}}}
		defer run(t, cfg, a, Options{Dial: dial})()
		commit(t, a, raisedAt("s000", time.Now().UTC()))
		pass(3 * time.Hour)
		commit(t, a, raisedAt("s001", time.Now().UTC()))
		pass(time.Hour)
		up.Store(true)
		pass(20 * time.Minute)
		told := map[string]string{}
		for _, r := range s.received() {
			told[r.to] += strings.Join(stillsOf(r.body), " ") + " "
		}
		for _, to := range []string{"ada@shop.example", "bo@shop.example"} {
			if told[to] != "s000 s001 " {
				t.Errorf("%s was told of %q, want each of the two once", to, told[to])
			}
		}
	})
}

func TestMailCancelled(t *testing.T) {
	l := listen(t) // takes one connection and says nothing
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		c, err := l.Accept()
		cancel()
		if err == nil {
			defer c.Close()
		}
		l.Close()
	}()
	m := aMailer(t, config.Mail{Server: l.Addr().String(), TLS: "none"}, Options{})
	before := time.Now()
	if err := m.send(ctx, aMessage()); err == nil || time.Since(before) > mailTime/2 {
		t.Errorf("%v after %s, want an error at once", err, time.Since(before))
	}
	<-done
}

func TestMailConfiguration(t *testing.T) {
	_, err := New(config.Notify{
		Mail:         &config.Mail{Server: "mail.example", TLS: "ssl", From: "luted", To: []string{"ada", "bo@shop.example"}, At: config.Pos{File: "luted.yaml", Line: 12, Key: "notify.mail"}},
		Webhook:      &config.Webhook{URL: "hooks.example/x", At: config.Pos{File: "luted.yaml", Line: 20, Key: "notify.webhook"}},
		Alertmanager: &config.Alertmanager{URL: "ftp://x", At: config.Pos{File: "luted.yaml", Line: 30, Key: "notify.alertmanager"}},
	}, nil, Options{})
	if err == nil {
		t.Fatal("accepted")
	}
	for _, want := range []string{
		"luted.yaml:12: notify.mail: ", `"mail.example" is no mail server: write host:port`, `"luted" is no mail address`,
		`recipient "ada" is no mail address`, `tls: "ssl" is not known: write starttls, tls or none`,
		"luted.yaml:20: notify.webhook: ", "luted.yaml:30: notify.alertmanager: ",
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\nlacks %q", err, want)
		}
	}
	if _, err := New(config.Notify{Mail: &config.Mail{Server: "m.example:25", From: "a@b.example"}}, nil, Options{}); err == nil || !strings.Contains(err.Error(), "no recipients") {
		t.Errorf("nobody to tell: %v", err)
	}
}
