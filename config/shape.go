package config

import (
	"slices"

	"gopkg.in/yaml.v3"
)

// shape is one kind of value in the file. It is the only description there is: what is read, what is
// refused, what is taken when nothing is written and what the JSON Schema says all come from it, so
// that they cannot disagree.
type shape[T any] struct {
	// read turns n into a T. False means that it could not, and that r has been told why.
	read func(r *reader, n node) (T, bool)
	// schema describes what read takes.
	schema func(d defs) schema
}

// field is one key of an object.
type field[T any] struct {
	name, doc string
	need      bool
	def       string // what stands for the key when it is left out, as it would be written
	defNode   yaml.Node
	never     string // why the key cannot be here; such a key is refused with this reason
	read      func(r *reader, n node, into *T) bool
	schema    func(d defs) schema
}

// key is a field of an object: its name, its shape, what it means, and where it is kept.
func key[T, V any](name string, s shape[V], doc string, at func(*T) *V) field[T] {
	return field[T]{
		name: name, doc: doc, schema: s.schema,
		read: func(r *reader, n node, into *T) bool {
			v, ok := s.read(r, n)
			*at(into) = v // even if it is only partly good: the rest of it can be checked all the same
			return ok
		},
	}
}

// needed makes the field one that must be written.
func (f field[T]) needed() field[T] { f.need = true; return f }

// otherwise is what is taken when the field is left out, as it would be written.
func (f field[T]) otherwise(text string) field[T] {
	f.def, f.defNode = text, defaultNode(text)
	return f
}

// never is a key that people could expect here, with the reason why it cannot be.
func never[T any](name, why string) field[T] { return field[T]{name: name, never: why} }

// object is a mapping with fixed keys. A key that is not among them is refused, with the nearest one named.
func object[T any](name string, fields []field[T], rules ...rule[T]) shape[T] {
	var known []string
	for _, f := range fields {
		if f.never == "" {
			known = append(known, f.name)
		}
	}
	read := func(r *reader, n node) (T, bool) {
		var out T
		pairs, ok := r.pairs(n)
		if n.Kind != yaml.MappingNode {
			return out, false
		}
		written := keys{}
		// In the order of the description, not of the file: what later keys refer to comes first.
		slices.SortStableFunc(pairs, func(a, b pair) int { return index(fields, a.name) - index(fields, b.name) })
		for _, p := range pairs {
			child := sub(n.key, p.name)
			at := index(fields, p.name)
			var f field[T]
			if at < len(fields) {
				f = fields[at]
			}
			switch {
			case at == len(fields):
				ok = false
				if !r.full() {
					r.fail(node{&yaml.Node{Line: p.key.Line}, child}, "no such key", oneOf(p.name, known))
				}
			case f.never != "":
				written[p.name] = false
				r.lines[child] = max(p.key.Line, 1)
				r.fail(node{&yaml.Node{Line: p.key.Line}, child}, f.never, "leave it out")
				ok = false
			default:
				v, in := r.at(p.value, child)
				written[p.name] = in && f.read(r, v, &out)
				ok = ok && written[p.name]
			}
		}
		for _, f := range fields {
			if written.has(f.name) || f.never != "" {
				continue
			}
			if f.need {
				r.fail(node{&yaml.Node{Line: n.Line}, n.key}, "no "+f.name, "it is needed ("+f.doc+")")
				ok = false
			}
			if f.def != "" {
				stand := f.defNode
				stand.Line = n.Line
				f.read(r, node{&stand, sub(n.key, f.name)}, &out)
			}
		}
		for _, u := range rules {
			ok = u.check(r, n, written, &out) && ok
		}
		return out, ok
	}
	return shape[T]{read, func(d defs) schema { return d.object(name, func() schema { return objectSchema(d, fields, rules) }) }}
}

// index is the place of a field, or len(fields) if there is none of that name.
func index[T any](fields []field[T], name string) int {
	if i := slices.IndexFunc(fields, func(f field[T]) bool { return f.name == name }); i >= 0 {
		return i
	}
	return len(fields)
}

// optional makes the place of a shape a pointer: nil when the key is left out.
func optional[T any](s shape[T]) shape[*T] {
	return shape[*T]{func(r *reader, n node) (*T, bool) {
		v, ok := s.read(r, n)
		return &v, ok
	}, s.schema}
}

// list is a sequence of least to most values.
func list[T any](s shape[T], least, most int) shape[[]T] {
	read := func(r *reader, n node) ([]T, bool) {
		if n.Kind != yaml.SequenceNode {
			r.fail(n, article(n)+" where a list belongs", "write [ ... ]")
			return nil, false
		}
		if len(n.Content) < least || len(n.Content) > most {
			r.fail(n, "a list of "+count(len(n.Content), "value"), "write "+listOf(least, most))
			return nil, false
		}
		var out []T
		ok := true
		for i, c := range n.Content {
			e, in := r.at(c, n.key+"["+itoa(i)+"]")
			if !in {
				return nil, false
			}
			v, good := s.read(r, e)
			out, ok = append(out, v), ok && good
		}
		return out, ok
	}
	return shape[[]T]{read, func(d defs) schema {
		out := schema{"type": "array", "items": s.schema(d), "minItems": least}
		if most < maxNodes {
			out["maxItems"] = most
		}
		return out
	}}
}

// named is a mapping from names to values of one shape, kept in the order of the file. The shape may
// depend on the name; those the schema should know by name are in known.
func named[T any](rule nameRule, shapeOf func(name string) shape[T], known []string, name func(*T) *string, at func(*T) *Pos) shape[[]*T] {
	read := func(r *reader, n node) ([]*T, bool) {
		pairs, ok := r.pairs(n)
		var out []*T
		for _, p := range pairs {
			child := sub(n.key, p.name)
			if wrong, want := rule.check(p.name); wrong != "" {
				r.add(&Error{Pos{r.file, max(p.key.Line, 1), child}, p.name, wrong, want})
				ok = false
			}
			v, in := r.at(p.value, child)
			if !in {
				return nil, false
			}
			r.lines[child] = max(p.key.Line, 1)
			t, good := shapeOf(p.name).read(r, v)
			*name(&t) = p.name
			*at(&t) = Pos{r.file, max(p.key.Line, 1), child}
			out, ok = append(out, &t), ok && good
		}
		return out, ok
	}
	return shape[[]*T]{read, func(d defs) schema {
		props := schema{}
		for _, k := range known {
			props[k] = shapeOf(k).schema(d)
		}
		out := schema{"type": "object", "propertyNames": schema{"pattern": rule.pattern.String(), "maxLength": longestName}, "additionalProperties": shapeOf("").schema(d)}
		if len(props) > 0 {
			out["properties"] = props
		}
		return out
	}}
}

// atLeastOne refuses an empty mapping of names.
func atLeastOne[T any](what string, s shape[[]*T]) shape[[]*T] {
	return shape[[]*T]{func(r *reader, n node) ([]*T, bool) {
		v, ok := s.read(r, n)
		if ok && len(v) == 0 {
			r.fail(n, "no "+what, "write at least one")
			return nil, false
		}
		return v, ok
	}, func(d defs) schema {
		out := s.schema(d)
		out["minProperties"] = 1
		return out
	}}
}

// defaultNode is a default as if it stood in the file. It panics if the default is no YAML.
func defaultNode(text string) yaml.Node {
	var doc yaml.Node
	if err := yaml.Unmarshal([]byte(text), &doc); err != nil {
		panic("default " + text + ": " + err.Error())
	}
	return *doc.Content[0]
}

// mapped turns what a shape reads into something else.
func mapped[A, B any](s shape[A], f func(r *reader, n node, a A) (B, bool)) shape[B] {
	return shape[B]{func(r *reader, n node) (B, bool) {
		a, ok := s.read(r, n)
		b, good := f(r, n, a)
		return b, ok && good
	}, s.schema}
}
