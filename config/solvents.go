package config

import (
	"strings"

	"gopkg.in/yaml.v3"

	"luted/analysis/solvent"
)

// solventShape is a name, a blend by volume, or unknown. Names are those of the solvent table, their
// usual abbreviations and CAS numbers; the Mixture holds the table's own.
var solventShape = shape[solvent.Mixture]{readSolvent, func(d defs) schema {
	return d.object("solvent", func() schema {
		return schema{"anyOf": []any{
			schema{"enum": append(solvent.Names(), "unknown")}, // for the editor's list
			schema{"type": "string", "minLength": 1},
			schema{"type": "object", "minProperties": 1, "maxProperties": solvent.MaxParts,
				"additionalProperties": schema{"type": "number", "exclusiveMinimum": 0, "maximum": 1}},
		}}
	})
}}

// shareTolerance is how far the shares of a blend may be from 1: people write 0.333 three times.
const shareTolerance = 0.001

func readSolvent(r *reader, n node) (solvent.Mixture, bool) {
	if n.Kind != yaml.MappingNode {
		if n.Kind != yaml.ScalarNode {
			r.fail(n, article(n)+" where a solvent belongs", "write a name, a blend such as {toluene: 0.6, acetone: 0.4}, or unknown")
			return solvent.Mixture{}, false
		}
		s, ok := text.read(r, n)
		if !ok || s == "unknown" {
			return solvent.Mixture{}, ok
		}
		part, ok := r.findSolvent(n, s)
		part.Fraction = 1
		return solvent.Mixture{Parts: []solvent.Part{part}}, ok
	}
	pairs, ok := r.pairs(n)
	if len(pairs) == 0 && ok {
		r.failAt(n.key, "", "an empty blend", "write for instance {toluene: 0.6, acetone: 0.4}, or unknown")
		return solvent.Mixture{}, false
	}
	if len(pairs) > solvent.MaxParts {
		r.failAt(n.key, "", count(len(pairs), "part"), "write the "+itoa(solvent.MaxParts)+" largest")
		return solvent.Mixture{}, false
	}
	var m solvent.Mixture
	sum := 0.0
	seen := map[string]string{}
	for _, p := range pairs {
		key := sub(n.key, p.name)
		v, in := r.at(p.value, key)
		if !in {
			return m, false
		}
		f, good := share(v)
		if !good {
			r.fail(v, "not a share", "write a number above 0 and up to 1, such as 0.6; the shares sum to 1")
		}
		part, known := r.findSolvent(node{&yaml.Node{Kind: yaml.ScalarNode, Value: p.name, Line: p.key.Line}, n.key}, p.name)
		if first, again := seen[part.Name]; known && again {
			r.failAt(key, p.name, "the same substance as "+first, "write it once")
			good = false
		}
		seen[part.Name] = p.name
		ok = ok && good && known
		sum += f
		part.Fraction = f
		m.Parts = append(m.Parts, part)
	}
	if !ok {
		return m, false
	}
	if sum < 1-shareTolerance || sum > 1+shareTolerance {
		r.failAt(n.key, "", "the shares sum to "+significant(sum, 4), "make them sum to 1")
		return m, false
	}
	for i := range m.Parts {
		m.Parts[i].Fraction /= sum
	}
	return m, true
}

// findSolvent gives the substance under the table's own name, or one that the file describes itself.
func (r *reader) findSolvent(n node, name string) (solvent.Part, bool) {
	if o, ok := r.findOwn(name); ok {
		return solvent.Part{Name: o.Name, Own: o.made}, true
	}
	if s, ok := solvent.Find(name); ok {
		if note := solvent.NameNote(name); note != "" {
			r.warn(n.key, note)
		}
		return solvent.Part{Name: s.Name()}, true
	}
	const kinds = "a name, a CAS number, a blend such as {toluene: 0.6, acetone: 0.4}, unknown, or one described under solvents:"
	want := "write " + kinds
	near := solvent.Suggest(name)
	for _, o := range r.own {
		if nearest(name, []string{o.Name}) != "" {
			near = append(near, o.Name)
		}
	}
	if len(near) > 0 {
		want = "did you mean " + strings.Join(near, " or ") + "? (" + kinds + ")"
	}
	r.fail(n, "no such solvent in the table", want)
	return solvent.Part{}, false
}

// share reads the share of a part.
func share(n node) (float64, bool) {
	if n.Kind != yaml.ScalarNode {
		return 0, false
	}
	v, rest, err := splitNumber(n.Value)
	return v, err == nil && rest == "" && n.ShortTag() != "!!str" && v > 0 && v <= 1
}
