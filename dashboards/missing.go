package dashboards

import (
	"errors"
	"net/http"
	"strings"
)

// missing answers a person in a browser with a page that leads on, and a program with the problem.
func (s *server) missing(w http.ResponseWriter, r *http.Request, err error) error {
	var p *problem
	if !errors.As(err, &p) || p.Status != http.StatusNotFound || !wantsPage(r) {
		return err
	}
	f := s.files["web/missing.html"]
	h := w.Header()
	h.Set("Content-Type", f.contentType)
	h.Set("Cache-Control", "no-store")
	h.Add("Vary", "Accept")
	w.WriteHeader(http.StatusNotFound)
	_, _ = w.Write(f.plain.bytes) // the other side has gone: nothing to do about it
	return nil
}

// wantsPage tells a browser that opens an address from a program: it asks for HTML by name.
func wantsPage(r *http.Request) bool {
	api := strings.HasPrefix(r.URL.Path, "/api/") || strings.HasPrefix(r.URL.Path, "/web/")
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) && !api && strings.Contains(r.Header.Get("Accept"), "text/html")
}
