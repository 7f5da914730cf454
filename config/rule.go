package config

import (
	"slices"
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

// among are those of the names that are written.
func (k keys) among(names []string) []string {
	return slices.DeleteFunc(slices.Clone(names), func(n string) bool { return !k.has(n) })
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
			got := written.among(names)
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
			return schema{"oneOf": required(names)}
		},
	}
}

// excludes refuses each of others wherever a is written. In why, %s is the other key.
func excludes[T any](a, why string, others ...string) rule[T] {
	return rule[T]{
		func(r *reader, n node, written keys, _ *T) bool {
			ok := true
			for _, o := range others {
				if written.has(a) && written.has(o) {
					r.failAt(sub(n.key, o), "", "contradicts "+a, strings.ReplaceAll(why, "%s", o))
					ok = false
				}
			}
			return ok
		},
		func() schema {
			return schema{"dependentSchemas": schema{a: schema{"not": schema{"anyOf": required(others)}}}}
		},
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
			if len(written.among(others)) > 0 {
				return true
			}
			r.failAt(sub(n.key, a), "", a+" without "+strings.Join(others, " or "), why)
			return false
		},
		func() schema {
			return schema{"dependentSchemas": schema{a: schema{"anyOf": required(others)}}}
		},
	}
}

// checked is a condition that only Go can say.
func checked[T any](f func(r *reader, n node, written keys, v *T) bool) rule[T] {
	return rule[T]{check: f}
}

// required is a list of schemas, each of which wants one of the keys.
func required(names []string) []any {
	var out []any
	for _, k := range names {
		out = append(out, schema{"required": []string{k}})
	}
	return out
}
