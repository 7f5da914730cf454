package config

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"

	"luted/analysis"
)

// schema is a JSON Schema or a part of one.
type schema = map[string]any

// defs gathers the objects that have a name, once each.
type defs map[string]schema

// object puts an object among the definitions and returns a reference to it. An object without a name
// is written in place.
func (d defs) object(name string, describe func() schema) schema {
	if name == "" {
		return describe()
	}
	if _, done := d[name]; !done {
		d[name] = schema{} // holds the place
		d[name] = describe()
	}
	return schema{"$ref": "#/$defs/" + name}
}

// Schema is the JSON Schema (draft 2020-12) of the file, for editors: which keys there are, what they
// mean, what stands when they are left out and which units a quantity may have. It is generated from
// the same description that reads the file. What only a program can check (a line that is not there, a
// sum that is not 1) it does not say; `luted check` does.
func Schema() []byte {
	d := defs{}
	root := objectSchema(d, rootFields, nil)
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "luted configuration"
	root["$defs"] = d
	out, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		panic(err) // maps of strings, numbers and lists always marshal
	}
	return append(out, '\n')
}

func objectSchema[T any](d defs, fields []field[T], rules []rule[T]) schema {
	props := schema{}
	var need []string
	for _, f := range fields {
		if f.never != "" {
			continue
		}
		p := schema{}
		for k, v := range f.schema(d) {
			p[k] = v
		}
		p["description"] = f.doc
		if f.def != "" {
			p["default"] = jsonDefault(f.def)
		}
		props[f.name] = p
		if f.need {
			need = append(need, f.name)
		}
	}
	out := schema{"type": "object", "properties": props, "additionalProperties": false}
	if need != nil {
		out["required"] = need
	}
	var all []any
	for _, u := range rules {
		if u.schema != nil {
			all = append(all, u.schema())
		}
	}
	if all != nil {
		out["allOf"] = all
	}
	return out
}

// jsonDefault is a default as JSON: a number or a truth value if it is one.
func jsonDefault(s string) any {
	var v any
	if json.Unmarshal([]byte(s), &v) == nil {
		return v
	}
	return s
}

// numberPattern is what splitNumber takes, for ECMAScript.
const numberPattern = `[+−-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?`

// quantitySchema describes a number with a unit of one of the dimensions.
func quantitySchema(dims ...analysis.Dimension) func(defs) schema {
	return func(d defs) schema {
		if dims[0] == analysis.Other {
			return schema{"type": []string{"string", "number"}} // a channel of our own may have no unit
		}
		var names, units []string
		for _, dim := range dims {
			names, units = append(names, string(dim)), append(units, allSpellings(dim)...)
		}
		return d.object("quantity-"+strings.ReplaceAll(strings.Join(names, "-or-"), " ", "-"), func() schema {
			return schema{"type": "string", "pattern": `^\s*` + numberPattern + `\s*` + alternatives(units) + `\s*$`, "examples": []string{example(dims[0])}}
		})
	}
}

func unitSchema(dim analysis.Dimension) func(defs) schema {
	return func(d defs) schema {
		return d.object(defName("unit", dim), func() schema {
			return schema{"type": "string", "anyOf": []any{
				schema{"enum": symbols(dim)}, // for the editor's list
				schema{"pattern": `^\s*` + alternatives(allSpellings(dim)) + `\s*$`},
			}}
		})
	}
}

func durationSchema() schema {
	var units []string
	for _, u := range durationUnits {
		units = append(append(units, u.symbol), u.aliases...)
	}
	number := strings.Replace(numberPattern, "[+−-]?", `\+?`, 1)
	return schema{"type": "string", "pattern": `^\s*(` + number + `\s*` + alternatives(units) + `\s*)+$`, "examples": []string{"10 min", "1 h 30 min"}}
}

func sizeSchema() schema {
	var units []string
	for _, u := range sizeUnits {
		units = append(units, u.symbol)
	}
	return schema{"type": "string", "pattern": `^\s*` + numberPattern + `\s*` + alternatives(units) + `\s*$`, "examples": []string{"20 GB"}}
}

func symbols(d analysis.Dimension) []string {
	var out []string
	for _, r := range unitTable[d] {
		out = append(out, r.symbol)
	}
	return out
}

func allSpellings(d analysis.Dimension) []string {
	var out []string
	for _, r := range unitTable[d] {
		out = append(append(out, r.symbol), r.aliases...)
	}
	return out
}

// alternatives is a pattern for any of the words, the longest first.
func alternatives(words []string) string {
	words = slices.Clone(words)
	slices.SortFunc(words, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	words = slices.Compact(words)
	for i, w := range words {
		words[i] = strings.ReplaceAll(regexp.QuoteMeta(w), " ", `\s+`)
	}
	return "(" + strings.Join(words, "|") + ")"
}

// defName names the definition of an object that there is one of for each dimension.
func defName(what string, d analysis.Dimension) string {
	return what + "-" + strings.ReplaceAll(string(d), " ", "-")
}
