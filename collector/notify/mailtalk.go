package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"

	"github.com/wneessen/go-mail"
	"github.com/wneessen/go-mail/smtp"
)

// talk is one conversation with the mail server.
type talk struct {
	client *mail.Client
	smtp   *smtp.Client
	conn   net.Conn
	stop   func() bool
}

// open connects and logs in. The end of ctx closes the connection under whatever is going on.
func (m *mailer) open(ctx context.Context) (*talk, error) {
	t := &talk{stop: func() bool { return true }}
	dial := func(dctx context.Context, network, addr string) (net.Conn, error) {
		conn, err := m.dial(dctx, network, addr)
		if err != nil {
			return nil, err
		}
		t.conn = conn // kept, because the library leaves it open when what follows goes wrong
		t.stop = context.AfterFunc(ctx, func() { conn.Close() })
		if m.tls == nil {
			return conn, nil
		}
		secure := tls.Client(conn, m.tls)
		if err := secure.HandshakeContext(dctx); err != nil {
			return nil, err
		}
		return secure, nil
	}
	client, err := mail.NewClient(m.host, append(m.options[:len(m.options):len(m.options)], mail.WithDialContextFunc(dial))...)
	if err != nil {
		return nil, err
	}
	t.client = client
	t.smtp, err = client.DialToSMTPClientWithContext(ctx)
	if errors.Is(err, mail.ErrNoSupportedAuthDiscovered) {
		err = fmt.Errorf("%w: the server takes the login only in the clear; use tls: starttls or tls", err)
	}
	if err != nil {
		t.drop()
		return nil, err
	}
	return t, nil
}

// drop closes the connection, if there is one.
func (t *talk) drop() {
	t.stop()
	if t.conn != nil {
		t.conn.Close()
	}
}

func (t *talk) close() {
	t.client.CloseWithSMTPClient(t.smtp) // QUIT; what it says changes nothing any more
	t.drop()
}

// verdict is what a failed delivery to one recipient means.
type verdict int

const (
	waitingMail verdict = iota // this recipient, later
	refusedMail                // this recipient, never
	unsureMail                 // it may have been accepted
	brokenTalk                 // everybody, later
)

// judge reads the server's reply (RFC 5321, section 4.2.1: 4yz try again, 5yz do not). Replies about the
// login or the sender would be the same for every message: they are a mistake in the configuration, and
// wait until it is mended.
func judge(err error) verdict {
	se, ok := errors.AsType[*mail.SendError](err)
	if !ok {
		return brokenTalk
	}
	code := se.ErrorCode()
	switch {
	case code == 0 && se.Reason == mail.ErrSMTPDataClose:
		return unsureMail // the connection broke between the message and the reply to it
	case code == 0, code == 421, code == 530, code == 534, code == 535, code == 538:
		return brokenTalk
	case se.Reason == mail.ErrSMTPMailFrom && code != 552: // 552: too large, which is about the message
		return brokenTalk
	case code >= 500:
		return refusedMail
	}
	return waitingMail
}
