package dashboards

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// params reads the query of a request and gathers every mistake in it. A parameter that no one asks for
// is a mistake too: a misspelt name must not be silently ignored.
type params struct {
	query url.Values
	known []string
	errs  []paramProblem
}

func queryParams(r *http.Request) *params {
	p := &params{}
	q, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		p.wrong("query", "not readable: %v", err)
	}
	p.query = q
	return p
}

func (p *params) wrong(name, format string, args ...any) {
	p.errs = append(p.errs, paramProblem{name, fmt.Sprintf(format, args...)})
}

// text returns a parameter, or "" if it is not there.
func (p *params) text(name string) string {
	p.known = append(p.known, name)
	v := p.query[name]
	if len(v) > 1 {
		p.wrong(name, "given %d times; give it once", len(v))
	}
	if len(v) == 0 {
		return ""
	}
	return v[0]
}

// integer returns a parameter between low and high, or otherwise if it is not there.
func (p *params) integer(name string, otherwise, low, high int64) int64 {
	s := p.text(name)
	if s == "" {
		return otherwise
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < low || n > high {
		p.wrong(name, "%q is not a whole number from %d to %d", s, low, high)
		return otherwise
	}
	return n
}

// moment returns a time parameter in UTC, or otherwise if it is not there.
func (p *params) moment(name string, otherwise time.Time) time.Time {
	s := p.text(name)
	if s == "" {
		return otherwise
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	switch {
	case err != nil && strings.Contains(s, " "):
		p.wrong(name, "%q is not a time; a + in an address is written %%2B, or give the time in UTC, such as 2026-03-02T08:00:00Z", s)
	case err != nil:
		p.wrong(name, "%q is not a time; write it as in RFC 3339, such as 2026-03-02T08:00:00Z", s)
	case t.Year() < 1970 || t.Year() > 2200:
		p.wrong(name, "%q is not between the years 1970 and 2200", s)
	default:
		return t.UTC()
	}
	return otherwise
}

// oneOf returns a parameter that must be one of some words, or the first of them if it is not there.
func (p *params) oneOf(name string, words ...string) string {
	s := p.text(name)
	if s == "" {
		return words[0]
	}
	if !slices.Contains(words, s) {
		p.wrong(name, "%q is not one of %s", s, strings.TrimPrefix(strings.Join(words, ", "), ", "))
		return words[0]
	}
	return s
}

// list returns a comma-separated parameter, each word once, in the order given; nil if it is not there.
func (p *params) list(name string, allowed []string) []string {
	s := p.text(name)
	if s == "" {
		return nil
	}
	var out []string
	for w := range strings.SplitSeq(s, ",") {
		if !slices.Contains(allowed, w) {
			p.wrong(name, "there is no %q here; there are %s", w, strings.Join(allowed, ", "))
			continue
		}
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// done returns every mistake as one problem, or nil.
func (p *params) done() error {
	var unknown []string
	for name := range p.query {
		if !slices.Contains(p.known, name) {
			unknown = append(unknown, name)
		}
	}
	slices.Sort(unknown)
	for _, name := range unknown {
		if name == "" {
			p.wrong("query", "has a value without a name")
		} else if len(p.known) == 0 {
			p.wrong(name, "not known here; this address takes no parameters")
		} else {
			p.wrong(name, "not known here; there are %s", strings.Join(p.known, ", "))
		}
	}
	if len(p.errs) > 0 {
		return badRequest(p.errs)
	}
	return nil
}
