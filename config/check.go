package config

import (
	"cmp"
	"slices"
	"strings"
)

func choicesOf(names []string) string { return "(" + strings.Join(names, ", ") + ")" }

// warnings are sorted by line.
func (r *reader) warnings() []Warning {
	slices.SortStableFunc(r.warns, func(a, b Warning) int { return cmp.Compare(a.Pos.Line, b.Pos.Line) })
	return r.warns
}

// check adds the warnings about a file that can be run.
func (r *reader) check(c *Config) {
	for _, s := range c.Stills {
		for _, ch := range s.Channels {
			if near := nearSignal(ch.Name); near != "" {
				r.warn(ch.At.Key, "logged but not analysed; did you mean "+near+"?")
			}
		}
	}
}
