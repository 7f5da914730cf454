package dashboards

import (
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// recording sends the scans later than from and not later than to as a recording that luted replay reads,
// with every digit. Its columns are the still's present channels; what an older configuration recorded
// under other names is not in it.
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
	control := http.NewResponseController(w)
	var out io.Writer = &patient{w, control}
	if acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip")
		z := gzip.NewWriter(out)
		defer z.Close()
		out = z
	}
	layout := archive.LayoutOf(v.Config.Channels)
	rw, err := archive.NewRecordingWriter(out, layout)
	if err != nil {
		return err
	}
	var from1 archive.Layout
	var place []int
	row := make([]analysis.Value, len(layout.Columns))
	err = s.Archive.ReadScans(r.Context(), v.Config.Name, from, to, func(l archive.Layout, sc analysis.Scan) error {
		if place == nil || !l.Equal(from1) {
			from1, place = l, make([]int, len(layout.Columns))
			for i, c := range layout.Columns {
				place[i] = l.Column(c.Name)
				if place[i] >= 0 && l.Columns[place[i]].Dimension != c.Dimension {
					place[i] = -1 // the same name meant another quantity then
				}
			}
		}
		for i, at := range place {
			row[i] = analysis.Value{Quality: analysis.Missing}
			if at >= 0 {
				row[i] = sc.Values[at]
			}
		}
		return rw.Write(analysis.Scan{At: sc.At, Values: row})
	})
	if err == nil {
		err = rw.Flush()
	}
	if err != nil {
		if r.Context().Err() == nil && !errors.Is(err, errStreamOver) {
			s.Log.Error("recording broken off", "still", v.Config.Name, "err", err)
		}
		panic(http.ErrAbortHandler) // the only way to tell the other side that what it got is not whole
	}
	return nil
}

// patient pushes the write deadline ahead for as long as the other side keeps reading.
type patient struct {
	w       io.Writer
	control *http.ResponseController
}

func (p *patient) Write(b []byte) (int, error) {
	if err := p.control.SetWriteDeadline(time.Now().Add(slowWrite)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, errStreamOver
	}
	return p.w.Write(b)
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
