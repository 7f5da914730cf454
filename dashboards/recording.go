package dashboards

import (
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"
)

// recording sends the scans later than from and not later than to as a recording that luted replay reads,
// with every digit.
func (s *server) recording(w http.ResponseWriter, r *http.Request) error {
	v, err := s.findStill(r.PathValue("still"))
	if err != nil {
		return err
	}
	p := queryParams(r)
	to := p.moment("to", s.Now().UTC())
	from := p.moment("from", to.Add(-24*time.Hour))
	if len(p.errs) == 0 {
		checkSpan(p, from, to)
	}
	if err := p.done(); err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8; header=present")
	h.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="%s"`, recordingName(v.Config.Name, from, s.Site.TimeZone)))
	h.Set("Cache-Control", "no-store")
	h.Add("Vary", "Accept-Encoding")
	out := &patient{w: w, control: http.NewResponseController(w)}
	if acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip")
		z := gzip.NewWriter(out)
		_, err = s.Archive.Export(r.Context(), v.Config.Name, from, to, z)
		err = errors.Join(err, z.Close())
	} else {
		_, err = s.Archive.Export(r.Context(), v.Config.Name, from, to, out)
	}
	if err == nil || out.n == 0 {
		return err
	}
	if r.Context().Err() == nil && !errors.Is(err, errStreamOver) {
		s.Log.Error("recording broken off", "still", v.Config.Name, "err", err)
	}
	panic(http.ErrAbortHandler) // the only way to tell the other side that what it got is not whole
}

// patient pushes the write deadline ahead for as long as the other side keeps reading.
type patient struct {
	w       io.Writer
	control *http.ResponseController
	n       int // bytes taken
}

func (p *patient) Write(b []byte) (int, error) {
	if err := p.control.SetWriteDeadline(time.Now().Add(slowWrite)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, errStreamOver
	}
	n, err := p.w.Write(b)
	p.n += n
	return n, err
}

// recordingName is the name under which a browser keeps a recording.
func recordingName(still string, from time.Time, zone *time.Location) string {
	safe := []rune(still)
	for i, c := range safe {
		if !('a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '_') {
			safe[i] = '_'
		}
	}
	return fmt.Sprintf("%s-%s.csv", string(safe), from.In(zone).Format("2006-01-02-1504"))
}
