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
	for len(rejected) > 0 {
		n := alike(rejected)
		if n < manyAlike {
			n = 1
		}
		if err := x.keeper.Aside(ctx, asideOf(rejected[:n])); err != nil {
			return err
		}
		x.setAside += n
		rejected = rejected[n:]
	}
	return nil
}

// manyAlike is how many scans in a row must be refused for one reason to be set aside as one thing. A
// database that keeps a month refuses a year's backlog; one transaction for each of 30 million scans
// would take days, and the archive has the scans anyway.
const manyAlike = 20

// alike counts the first rejections that are scans of one still refused for one reason.
func alike(rejected []rejection) int {
	first := rejected[0]
	n := 1
	for n < len(rejected) && !first.scan.IsZero() && rejected[n].still == first.still && !rejected[n].scan.IsZero() &&
		rejected[n].why.Error() == first.why.Error() {
		n++
	}
	return n
}

// asideOf is what is kept of rejections that are alike: the point itself, or of many the first and the
// last.
func asideOf(group []rejection) archive.Aside {
	first, last := group[0], group[len(group)-1]
	item := first.line
	if len(group) > 1 {
		item = fmt.Sprintf("%s\n%s\n# %d points of %s, of these the first and the last; the archive has them all", first.line, last.line, len(group), first.still)
	}
	return archive.Aside{At: time.Now(), Still: first.still, Scan: first.scan, Seq: first.seq, Item: item, Reason: first.why.Error()}
}
