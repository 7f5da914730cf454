package dashboards

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
)

// problem is an error for whoever asked, as problem details (RFC 9457, application/problem+json). The
// type is always about:blank, so the title is that of the status; the detail says what is wrong and what
// to write instead.
type problem struct {
	Type   string         `json:"type"`
	Title  string         `json:"title"`
	Status int            `json:"status"`
	Detail string         `json:"detail"`
	Errors []paramProblem `json:"errors,omitempty"` // every wrong parameter, not only the first
}

// paramProblem is one wrong parameter or field of a body.
type paramProblem struct {
	Name   string `json:"name"`
	Detail string `json:"detail"`
}

func (p *problem) Error() string { return p.Detail }

// problemf makes a problem of a status and a sentence.
func problemf(status int, format string, args ...any) *problem {
	return &problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: fmt.Sprintf(format, args...)}
}

// badRequest names every wrong parameter at once.
func badRequest(errs []paramProblem) *problem {
	var all []string
	for _, e := range errs {
		all = append(all, e.Name+": "+e.Detail)
	}
	p := problemf(http.StatusBadRequest, "%s", strings.Join(all, "; "))
	p.Errors = errs
	return p
}

// fail answers with the problem that err is. Anything else is our own fault: it is logged, and the other
// side learns only that it happened.
func (s *server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem
	if !errors.As(err, &p) {
		if r.Context().Err() != nil {
			return // nobody is listening any more
		}
		s.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "err", err)
		p = problemf(http.StatusInternalServerError, "Something went wrong inside luted; its log says what.")
	}
	body, err := json.Marshal(p)
	if err != nil {
		s.Log.Error("problem not written", "err", err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "application/problem+json")
	h.Set("Cache-Control", "no-store")
	h.Del("Content-Encoding")
	h.Del("ETag")
	h.Del("Content-Disposition")
	w.WriteHeader(p.Status)
	w.Write(append(body, '\n'))
}
