package export

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"
	influxhttp "github.com/influxdata/influxdb-client-go/v2/api/http"

	"luted/collector/archive"
	"luted/collector/export/outlet"
	"luted/config"
)

// answerTime is how long the server may take over one write.
const answerTime = 30 * time.Second

// connect makes the official client's blocking write interface. Retrying is ours: the client's own
// retries keep batches in memory and drop them in the end.
func connect(cfg config.Influx, rt http.RoundTripper) (*http.Client, api.WriteAPIBlocking) {
	h := &http.Client{
		Transport: suspicious{rt}, Timeout: answerTime,
		// A redirected POST comes back as a GET whose 200 would pass for acceptance.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	o := influxdb2.DefaultOptions().
		SetPrecision(time.Millisecond).
		SetUseGZip(true).
		SetApplicationName("luted").
		SetLogLevel(0).
		SetHTTPClient(h)
	return h, influxdb2.NewClientWithOptions(cfg.URL, cfg.Token.Reveal(), o).WriteAPIBlocking(cfg.Org, cfg.Bucket)
}

// suspicious takes no web page for an acceptance: a login page in between answers 200 to everything.
type suspicious struct{ rt http.RoundTripper }

// RoundTrip implements http.RoundTripper.
func (s suspicious) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := s.rt.RoundTrip(r)
	if err == nil && resp.StatusCode == http.StatusOK && strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") {
		resp.Body.Close()
		return nil, fmt.Errorf("%s answered with a web page: something between here and the database wants a login", r.URL.Host)
	}
	return resp, err
}

// CloseIdleConnections is what http.Client.CloseIdleConnections asks for.
func (s suspicious) CloseIdleConnections() {
	(&http.Client{Transport: s.rt}).CloseIdleConnections()
}

// send writes points once and tells the three answers apart.
func send(ctx context.Context, w api.WriteAPIBlocking, points []point) error {
	lines := make([]string, len(points))
	for i, p := range points {
		lines[i] = p.line
	}
	err := w.WriteRecord(ctx, lines...)
	if err == nil {
		return nil
	}
	e, ok := errors.AsType[*influxhttp.Error](err)
	if !ok || e.StatusCode == 0 {
		return &outlet.Later{Why: err}
	}
	return outlet.Answer(e.StatusCode, e.Header, []byte(e.Message), time.Now())
}

// dropped reads how many points a partial write has left out, from the words that InfluxDB 1 and 2 use:
// "partial write: field type conflict: ... dropped=3".
func dropped(err error) (n int, ok bool) {
	m := droppedWords.FindStringSubmatch(err.Error())
	if m == nil {
		return 0, false
	}
	n, cerr := strconv.Atoi(m[1])
	return n, cerr == nil
}

var droppedWords = regexp.MustCompile(`dropped=(\d+)`)

// rejection is a point that the server will never take.
type rejection struct {
	point
	why error
}

// putAside keeps what was rejected, and says so once for all of it.
func (x *Influx) putAside(ctx context.Context, rejected []rejection) error {
	if len(rejected) == 0 {
		return nil
	}
	x.log.Error("points refused for good, set aside", "points", len(rejected), "first", rejected[0].line, "err", rejected[0].why)
	for _, r := range rejected {
		item := archive.Aside{At: time.Now(), Still: r.still, Scan: r.scan, Seq: r.seq, Item: r.line, Reason: r.why.Error()}
		if err := x.keeper.Aside(ctx, item); err != nil {
			return err
		}
		x.setAside++
	}
	return nil
}
