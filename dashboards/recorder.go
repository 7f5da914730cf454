package dashboards

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"

	"luted/collector"
	"luted/collector/archive"
)

// Recorder takes what people tick, enter and write about the runs of a still, and journals it. Nothing is
// ever changed by it: a correction is a further entry. collector.ErrNotStored means taken but not stored
// yet; any other error says in words why it was not taken.
type Recorder interface {
	// Check is a start check of the still's list, ticked or with its tick taken back, for the run that
	// collector.CheckRun names.
	Check(ctx context.Context, still string, run int, k archive.Check) error
	// Amend is a value of a run's record, entered, corrected or taken back.
	Amend(ctx context.Context, still string, run int, a archive.Amend) error
	// Note is what somebody wrote about a run that has begun, or about the still if run is 0.
	Note(ctx context.Context, still string, run int, n archive.Note) error
}

// maxNote is the longest note and maxValue the longest value in words, in characters.
const (
	maxNote  = 2000
	maxValue = 120
)

// said is one thing that people have written in a request.
type said struct {
	name, value string
	most        int
	needed      bool
	lines       bool // line breaks are allowed
}

// unprintable is what has no place in what people write: control characters, and the marks of Unicode
// (UAX #9, explicit directions) that make text read otherwise than it is stored.
func unprintable(c rune) bool {
	return unicode.IsControl(c) || c >= '\u202a' && c <= '\u202e' || c >= '\u2066' && c <= '\u2069'
}

// checkSaid names what is wrong with what people have written.
func checkSaid(all ...said) []paramProblem {
	var errs []paramProblem
	for _, t := range all {
		control := func(c rune) bool { return unprintable(c) && !(t.lines && c == '\n') }
		switch {
		case strings.TrimSpace(t.value) == "" && t.needed:
			errs = append(errs, paramProblem{t.name, "missing; it is journaled"})
		case utf8.RuneCountInString(t.value) > t.most:
			errs = append(errs, paramProblem{t.name, fmt.Sprintf("longer than %d characters", t.most)})
		case strings.ContainsFunc(t.value, control) || !utf8.ValidString(t.value):
			errs = append(errs, paramProblem{t.name, "must be plain text" + map[bool]string{true: "", false: " in one line"}[t.lines]})
		}
	}
	return errs
}

// actingAs is who acts: whoever logged in, else the name that was given.
func actingAs(r *http.Request, by string) string {
	if user, _, ok := r.BasicAuth(); ok && user != "" {
		return user
	}
	return strings.TrimSpace(by)
}

// recorded turns what a Recorder says into an answer: nil goes on.
func (s *server) recorded(r *http.Request, what string, err error) error {
	switch {
	case errors.Is(err, collector.ErrNotStored):
		s.Log.Warn("what a person entered is not stored yet", "what", what)
		return nil
	case err != nil && r.Context().Err() == nil:
		return problemf(http.StatusConflict, "%s", sentence(err.Error()))
	}
	return err
}

// sentence makes an error a sentence.
func sentence(text string) string {
	c, n := utf8.DecodeRuneInString(text)
	if n == 0 {
		return text
	}
	return string(unicode.ToUpper(c)) + text[n:] + "."
}
