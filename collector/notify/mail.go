package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"strconv"
	"time"

	"github.com/wneessen/go-mail"

	"luted/collector/export/outlet"
	"luted/config"
)

// mailTime is how long one step of the conversation with the mail server may take.
const mailTime = 30 * time.Second

// patience is how long a mailbox that puts us off may hold up the messages behind, once another
// recipient has the message. Greylisting servers commonly ask for 5 min (common practice, no source).
const patience = 10 * time.Minute

// mailer sends mail. Each recipient gets a mail of his own in one conversation: what a server says about
// one mailbox then concerns nobody else.
type mailer struct {
	host    string
	options []mail.Option
	tls     *tls.Config // nil: not encrypted from the first byte
	dial    func(ctx context.Context, network, addr string) (net.Conn, error)
	from    *netmail.Address
	to      []*netmail.Address
	people  policy
	w       writer
	state   *mailState // of the message that is being sent
}

// mailState is who has a message already, over all tries.
type mailState struct {
	id      string
	done    map[string]bool // recipients that have it, or were refused
	refused []refusal
	first   time.Time // when the first recipient had it
}

func newMail(cfg config.Mail, o Options, people policy) (*mailer, error) {
	var errs []error
	host, portText, err := net.SplitHostPort(cfg.Server)
	port, perr := strconv.ParseUint(portText, 10, 16)
	if err != nil || perr != nil || host == "" || port == 0 {
		errs = append(errs, fmt.Errorf("%q is no mail server: write host:port, as in mail.example.com:587", cfg.Server))
	}
	m := &mailer{host: host, people: people, w: newWriter(o), dial: o.Dial}
	if m.from, err = netmail.ParseAddress(cfg.From); err != nil {
		errs = append(errs, fmt.Errorf("sender %q is no mail address: write name@example.com", cfg.From))
	}
	for _, to := range cfg.To {
		a, err := netmail.ParseAddress(to)
		if err != nil {
			errs = append(errs, fmt.Errorf("recipient %q is no mail address: write name@example.com", to))
			continue
		}
		m.to = append(m.to, a)
	}
	if len(cfg.To) == 0 {
		errs = append(errs, errors.New("no recipients: say who is told"))
	}
	secure := &tls.Config{}
	if o.TLS != nil {
		secure = o.TLS.Clone()
	}
	if secure.ServerName == "" {
		secure.ServerName = host
	}
	starttls := mail.TLSMandatory
	switch cfg.TLS {
	case "", "starttls":
	case "tls":
		m.tls = secure
		starttls = mail.TLSOpportunistic // the connection is encrypted from its first byte; there is nothing to start
	case "none":
		starttls = mail.NoTLS
	default:
		errs = append(errs, fmt.Errorf("tls: %q is not known: write starttls, tls or none", cfg.TLS))
	}
	if len(errs) > 0 {
		return nil, errors.Join(errs...)
	}
	m.options = []mail.Option{mail.WithPort(int(port)), mail.WithTLSPolicy(starttls), mail.WithTLSConfig(secure), mail.WithTimeout(mailTime), mail.WithoutNoop()}
	if cfg.User != "" {
		m.options = append(m.options, mail.WithUsername(cfg.User), mail.WithPassword(cfg.Password.Reveal()),
			mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover))
	}
	return m, nil
}

func (m *mailer) policy() policy     { return m.people }
func (m *mailer) wants(it Item) bool { return it.forPeople() }
func (m *mailer) close()             {} // no conversation outlives send

// send sends the message to every recipient that does not have it yet.
func (m *mailer) send(ctx context.Context, msg *message) error {
	if m.state == nil || m.state.id != msg.id {
		m.state = &mailState{id: msg.id, done: make(map[string]bool)}
	}
	talk, err := m.open(ctx)
	if err != nil {
		return m.state.keep(err)
	}
	defer talk.close()
	t := m.w.write(msg)
	var waiting []refusal // who was put off
	for _, to := range m.to {
		if m.state.done[to.Address] {
			continue
		}
		one := m.compose(msg, t, to)
		err := talk.client.SendWithSMTPClient(talk.smtp, one)
		if one.IsDelivered() { // whatever went wrong afterwards
			m.state.has(to, nil)
			continue
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		err = fmt.Errorf("mail to %s: %w", to.Address, err)
		switch judge(err) {
		case refusedMail:
			m.state.has(to, err)
		case unsureMail:
			return &outlet.Unsure{Why: err}
		case brokenTalk:
			return m.state.keep(joined(append(waiting, refusal{to.Address, err})))
		default:
			waiting = append(waiting, refusal{to.Address, err})
		}
	}
	if m.state.patienceOver(time.Now()) {
		m.state.refused, waiting = append(m.state.refused, waiting...), nil
	}
	return m.state.outcome(waiting)
}

// has notes that a recipient is done with: it has the message, or never will.
func (s *mailState) has(to *netmail.Address, refused error) {
	s.done[to.Address] = true
	if refused != nil {
		s.refused = append(s.refused, refusal{to.Address, refused})
	} else if s.first.IsZero() {
		s.first = time.Now()
	}
}

// patienceOver reports whether a mailbox that puts us off has done so for long enough: it is tried again,
// but once somebody has the message, one full mailbox must not silence the others for ever.
func (s *mailState) patienceOver(now time.Time) bool {
	return !s.first.IsZero() && now.Sub(s.first) > patience
}

// outcome is the answer for the message as a whole.
func (s *mailState) outcome(waiting []refusal) error {
	switch {
	case len(waiting) > 0:
		return s.keep(joined(waiting))
	case len(s.refused) == 0:
		return nil
	case s.first.IsZero():
		return &outlet.Refused{Why: joined(s.refused)}
	}
	return &partly{refused: s.refused}
}

// keep marks a failure after which the same message must be sent again, because somebody has it.
func (s *mailState) keep(err error) error {
	if s.first.IsZero() {
		return err
	}
	return &outlet.Unsure{Why: err}
}

// compose makes the mail for one recipient. Its Message-ID comes from the place in the journal, so a
// mail that is sent twice can be known as the same (RFC 5322, section 3.6.4).
func (m *mailer) compose(msg *message, t text, to *netmail.Address) *mail.Msg {
	one := mail.NewMsg(mail.WithNoDefaultUserAgent())
	one.FromMailAddress(m.from)
	one.ToMailAddress(to)
	one.Subject(m.w.subject(t))
	one.SetDateWithValue(msg.sent.In(m.w.zone))
	one.SetMessageIDWithValue(msg.id + "@" + domain(m.from.Address))
	one.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no out-of-office answers, please
	for _, it := range msg.items {
		if it.urgent() {
			one.SetImportance(mail.ImportanceHigh)
			break
		}
	}
	one.SetBodyString(mail.TypeTextPlain, t.Body)
	return one
}

func domain(address string) string {
	for i := len(address) - 1; i >= 0; i-- {
		if address[i] == '@' {
			return address[i+1:]
		}
	}
	return "luted.invalid"
}
