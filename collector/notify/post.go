package notify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"time"

	"luted/collector/export/outlet"
)

// answerTime is how long a server may take to answer.
const answerTime = 20 * time.Second

// poster sends JSON. Redirects are answers to report, not to follow: after some of them the client would
// send a GET without the message and take its 200 for acceptance.
type poster struct{ client http.Client }

func newPoster(rt http.RoundTripper) poster {
	return poster{http.Client{
		Transport:     rt,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
}

// close ends the connections that are kept for the next time.
func (p *poster) close() { p.client.CloseIdleConnections() }

func (p *poster) post(ctx context.Context, to string, body []byte, header http.Header) error {
	ctx, cancel := context.WithTimeout(ctx, answerTime)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, to, bytes.NewReader(body))
	if err != nil {
		return err
	}
	for k, v := range header {
		req.Header[k] = v
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "luted")
	resp, err := p.client.Do(req)
	if err != nil {
		if op, ok := errors.AsType[*net.OpError](err); ok && op.Op == "dial" {
			return err
		}
		return &outlet.Unsure{Why: err}
	}
	defer resp.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(resp.Body, 4096)) // the status decides; this is for the log
	io.Copy(io.Discard, io.LimitReader(resp.Body, 1<<20))  // so that the connection can be used again
	return outlet.Answer(resp.StatusCode, resp.Header, said, time.Now())
}

// checkURL refuses what cannot be posted to.
func checkURL(s string) (*url.URL, error) {
	u, err := url.Parse(s)
	if err != nil {
		return nil, fmt.Errorf("%q is no address: %w", s, err)
	}
	if (u.Scheme != "http" && u.Scheme != "https") || u.Host == "" {
		return nil, fmt.Errorf("%q is no web address: write http://host/path or https://host/path", s)
	}
	return u, nil
}
