package dashboards

import (
	"fmt"
	"io"
	"net/http"

	"luted/analysis/solvent"
)

// generalCaution is what stands beside every list of start checks, whatever is distilled.
var generalCaution = solvent.GeneralCautions[0]

// readMonth sums a month up for a request.
func (s *server) readMonth(r *http.Request) (*Month, error) {
	p := queryParams(r)
	display, still := displayParam(p), p.text("still")
	month := r.PathValue("month")
	if _, _, err := ParseMonth(month, s.Site.TimeZone); err != nil {
		return nil, problemf(http.StatusNotFound, "%v.", err)
	}
	if err := p.done(); err != nil {
		return nil, err
	}
	if still != "" {
		if _, err := s.findStill(still); err != nil {
			return nil, err
		}
	}
	return s.reports(display).Month(r.Context(), month, still)
}

func (s *server) month(w http.ResponseWriter, r *http.Request) error {
	m, err := s.readMonth(r)
	if err != nil {
		return err
	}
	return s.writeJSON(w, r, m)
}

func (s *server) monthCSV(w http.ResponseWriter, r *http.Request) error {
	m, err := s.readMonth(r)
	if err != nil {
		return err
	}
	name := m.Month
	if m.Still != "" {
		name = m.Still + "-" + name
	}
	return writeDownload(w, name+".csv", func(b io.Writer) error { return WriteMonthCSV(b, m) })
}

func (s *server) monthPage(w http.ResponseWriter, r *http.Request) error {
	m, err := s.readMonth(r)
	if err != nil {
		return err
	}
	return writePage(w, monthSheet(m))
}

// thisMonth leads to the month that it is at the site.
func (s *server) thisMonth(w http.ResponseWriter, r *http.Request) error {
	http.Redirect(w, r, fmt.Sprintf("/month/%s", s.Now().In(s.Site.TimeZone).Format("2006-01")), http.StatusFound)
	return nil
}
