package dashboards

import "net/http"

type healthView struct {
	Status string `json:"status"`
}

// healthz says that the process answers.
func (s *server) healthz(w http.ResponseWriter, r *http.Request) error {
	return s.writeJSON(w, r, healthView{"ok"})
}

// readyz says whether it can do its work: the archive answers, and whatever Options.Ready adds.
func (s *server) readyz(w http.ResponseWriter, r *http.Request) error {
	if _, err := s.Archive.LastSeq(r.Context()); err != nil {
		s.Log.Warn("not ready", "err", err)
		return problemf(http.StatusServiceUnavailable, "The archive does not answer; the log says why.")
	}
	if s.Ready != nil {
		if err := s.Ready(r.Context()); err != nil {
			return problemf(http.StatusServiceUnavailable, "Not ready: %v.", err)
		}
	}
	return s.writeJSON(w, r, healthView{"ready"})
}
