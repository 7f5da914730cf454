package config

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Error is one mistake in the file, in words for the person who will mend it.
type Error struct {
	Pos
	Found string // what is written there; empty if that says nothing
	Wrong string // what is wrong with it
	Want  string // what to write instead; empty if Wrong says it
}

// Error is the mistake in one line: file, line, key, what was found, what is wrong, what to write.
func (e *Error) Error() string { return e.Pos.String() + ": " + render(e.Found, e.Wrong, e.Want) }

// Warning is something that luted can run with, but that is probably not what was meant, or that
// people should know before a still is hot.
type Warning struct {
	Pos  Pos
	Text string
}

// String is the warning in one line: file, line, key, text.
func (w Warning) String() string { return w.Pos.String() + ": " + w.Text }

// String is file:line: key, leaving out what is not known.
func (p Pos) String() string {
	s := p.File
	if p.Line > 0 {
		s = fmt.Sprintf("%s:%d", s, p.Line)
	}
	if p.Key != "" {
		s += ": " + p.Key
	}
	return s
}

// Errors takes apart what Load and Parse return: every mistake, sorted by line.
func Errors(err error) []*Error {
	if one, ok := err.(*Error); ok {
		return []*Error{one}
	}
	var out []*Error
	switch e := err.(type) {
	case interface{ Unwrap() []error }:
		for _, one := range e.Unwrap() {
			out = append(out, Errors(one)...)
		}
	case interface{ Unwrap() error }:
		out = Errors(e.Unwrap())
	}
	return out
}

// join sorts the mistakes by line, drops repeats (an alias is read more than once) and joins them; nil if there are none.
func join(list []*Error) error {
	slices.SortStableFunc(list, func(a, b *Error) int { return cmp.Compare(a.Line, b.Line) })
	var out []error
	seen := map[string]bool{}
	for _, e := range list {
		if s := e.Error(); !seen[s] {
			seen[s] = true
			out = append(out, e)
		}
	}
	return errors.Join(out...)
}
