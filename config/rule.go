package config

import (
	"regexp"
	"strings"

	"gopkg.in/yaml.v3"
)

// keys are the keys that are written in an object, and whether what is written there was good.
type keys map[string]bool

// has reports whether the key is written.
func (k keys) has(name string) bool { _, ok := k[name]; return ok }

// good reports whether all of the keys are written and good.
func (k keys) good(names ...string) bool {
	for _, n := range names {
		if !k[n] {
			return false
		}
	}
	return true
}

// rule is a condition between the keys of one object.
type rule[T any] struct {
	check  func(r *reader, n node, written keys, v *T) bool
	schema func() schema // a part for allOf; nil if the schema language cannot say it
}

// exactlyOne wants one of the keys and no second.
func exactlyOne[T any](want string, names ...string) rule[T] {
	return rule[T]{
		func(r *reader, n node, written keys, _ *T) bool {
			var got []string
			for _, k := range names {
				if written.has(k) {
					got = append(got, k)
				}
			}
			switch len(got) {
			case 1:
				return true
			case 0:
				r.fail(node{&yaml.Node{Line: n.Line}, n.key}, "none of "+strings.Join(names, ", "), want)
			default:
				r.fail(node{&yaml.Node{Line: r.pos(sub(n.key, got[1])).Line}, n.key}, strings.Join(got, " and ")+" contradict each other", want)
			}
			return false
		},
		func() schema {
			var one []any
			for _, k := range names {
				one = append(one, schema{"required": []string{k}})
			}
			return schema{"oneOf": one}
		},
	}
}

// atMostOne refuses the two keys together.
func atMostOne[T any](a, b, why string) rule[T] {
	return rule[T]{
		func(r *reader, n node, written keys, _ *T) bool {
			if written.has(a) && written.has(b) {
				r.failAt(sub(n.key, b), "", "contradicts "+a, why)
				return false
			}
			return true
		},
		func() schema { return schema{"not": schema{"required": []string{a, b}}} },
	}
}

// needs wants others wherever a is written.
func needs[T any](a, why string, others ...string) rule[T] {
	return rule[T]{
		func(r *reader, n node, written keys, _ *T) bool {
			var missing []string
			for _, o := range others {
				if written.has(a) && !written.has(o) {
					missing = append(missing, o)
				}
			}
			if missing != nil {
				r.failAt(sub(n.key, a), "", a+" without "+strings.Join(missing, " and "), why)
			}
			return missing == nil
		},
		func() schema { return schema{"dependentRequired": schema{a: others}} },
	}
}

// needsAny wants at least one of others wherever a is written.
func needsAny[T any](a, why string, others ...string) rule[T] {
	return rule[T]{
		func(r *reader, n node, written keys, _ *T) bool {
			if !written.has(a) {
				return true
			}
			for _, o := range others {
				if written.has(o) {
					return true
				}
			}
			r.failAt(sub(n.key, a), "", a+" without "+strings.Join(others, " or "), why)
			return false
		},
		func() schema {
			var any []any
			for _, o := range others {
				any = append(any, schema{"required": []string{o}})
			}
			return schema{"if": schema{"required": []string{a}}, "then": schema{"anyOf": any}}
		},
	}
}

// checked is a condition that only Go can say.
func checked[T any](f func(r *reader, n node, written keys, v *T) bool) rule[T] {
	return rule[T]{check: f}
}

// nameRule says which names are names.
type nameRule struct {
	pattern string
	words   string
}

var (
	plainName   = nameRule{`^[a-z][a-z0-9_-]*$`, "a name begins with a small letter and has small letters, digits, - and _ only"}
	channelName = nameRule{`^[a-z][a-z0-9_]*$`, "a channel name begins with a small letter and has small letters, digits and _ only"}
)

const longestName = 64

func (u nameRule) check(name string) (wrong, want string) {
	if len(name) > longestName {
		return "a name of more than 64 letters", "shorten it"
	}
	if regexp.MustCompile(u.pattern).MatchString(name) {
		return "", ""
	}
	if better := u.mend(name); better != "" {
		want = "write for instance " + better
	}
	return u.words, want
}

// mend makes a legal name of what was written, or "".
func (u nameRule) mend(name string) string {
	s := strings.Map(func(c rune) rune {
		switch {
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '_', c == '-' && u.pattern == plainName.pattern:
			return c
		case c >= 'A' && c <= 'Z':
			return c + 'a' - 'A'
		case c == ' ' || c == '-' || c == '.':
			return '_'
		}
		return -1
	}, name)
	if regexp.MustCompile(u.pattern).MatchString(s) && len(s) > len(name)/2 {
		return s
	}
	return ""
}

// except is the pattern without the names given.
func (u nameRule) except(names []string) string {
	return `^(?!(?:` + strings.Join(names, "|") + `)$)` + strings.TrimPrefix(u.pattern, "^")
}
