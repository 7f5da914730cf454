package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/mail"
	"sync"
	"testing"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// mailServer is a real SMTP server in this process. It keeps what it takes.
type mailServer struct {
	insecure       bool                                                   // offers the login without encryption
	broken         bool                                                   // breaks the connection instead of replying to a message
	user, password string                                                 // required if set
	rcpt           func(to string) error                                  // nil: everybody is known
	data           func(to string) error                                  // nil: everything is taken
	conversation   func(c *smtp.Conn, m *mail.Message, body string) error // nil: everything is taken
	mailFrom       func(from string) error                                // nil: everybody may send
	server         *smtp.Server

	mu     sync.Mutex
	logins int
	mails  []received
}

type received struct {
	from, to  string
	encrypted bool
	login     bool
	message   *mail.Message
	body      string
}

func (s *mailServer) received() []received {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]received(nil), s.mails...)
}

// serve starts the server on l; it ends with the test.
func (s *mailServer) serve(t testing.TB, l net.Listener, tlsConfig *tls.Config) {
	s.server = smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) {
		return &session{server: s, conn: c}, nil
	}))
	s.server.TLSConfig = tlsConfig
	s.server.AllowInsecureAuth = s.insecure
	s.server.Domain = "mail.example"
	s.server.ErrorLog = quiet{}
	done := make(chan struct{})
	go func() {
		defer close(done)
		s.server.Serve(l)
	}()
	t.Cleanup(func() {
		s.server.Close()
		l.Close()
		<-done
	})
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

type session struct {
	server *mailServer
	conn   *smtp.Conn
	login  bool
	from   string
	to     string
}

func (s *session) AuthMechanisms() []string {
	if s.server.user == "" {
		return nil
	}
	return []string{sasl.Plain}
}

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != s.server.user || password != s.server.password {
			return smtp.ErrAuthFailed
		}
		s.login = true
		s.server.mu.Lock()
		s.server.logins++
		s.server.mu.Unlock()
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if s.server.user != "" && !s.login {
		return &smtp.SMTPError{Code: 530, EnhancedCode: smtp.EnhancedCode{5, 7, 0}, Message: "Authentication required"}
	}
	s.from = from
	if s.server.mailFrom != nil {
		return s.server.mailFrom(from)
	}
	return nil
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.to = to
	if s.server.rcpt != nil {
		return s.server.rcpt(to)
	}
	return nil
}

func (s *session) Data(r io.Reader) error {
	m, err := mail.ReadMessage(r)
	if err != nil {
		return err
	}
	body, err := readBody(m)
	if err != nil {
		return err
	}
	if s.server.data != nil {
		if err := s.server.data(s.to); err != nil {
			return err
		}
	}
	if s.server.conversation != nil {
		if err := s.server.conversation(s.conn, m, body); err != nil {
			return err
		}
	}
	_, encrypted := s.conn.TLSConnectionState()
	s.server.mu.Lock()
	s.server.mails = append(s.server.mails, received{s.from, s.to, encrypted, s.login, m, body})
	s.server.mu.Unlock()
	if s.server.broken {
		s.conn.Conn().Close()
	}
	return nil
}

func (s *session) Reset()        { s.from, s.to = "", "" }
func (s *session) Logout() error { return nil }

// pipes is a listener without a network: dial hands one end of a pipe to Accept. It works in a bubble of
// synctest.
type pipes struct {
	conns chan net.Conn
	ended chan struct{}
	once  sync.Once
}

func newPipes() *pipes { return &pipes{conns: make(chan net.Conn), ended: make(chan struct{})} }

func (p *pipes) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	near, far := net.Pipe()
	select {
	case p.conns <- far:
		return near, nil
	case <-p.ended:
		return nil, errors.New("connection refused")
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.ended:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	p.once.Do(func() { close(p.ended) })
	return nil
}

func (p *pipes) Addr() net.Addr { return &net.UnixAddr{Name: "pipe", Net: "unix"} }
