package config

import (
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

// Limits against files that are not configurations: a file larger than this, or one that unfolds to
// more than this by aliases, is refused. A shop with a hundred stills stays far below both.
const (
	maxBytes = 1 << 20
	maxNodes = 100_000
)

// node is a place in the file: a YAML node, never an alias, and its dotted path.
type node struct {
	*yaml.Node
	key string
}

// reader walks one file and gathers everything there is to say about it.
type reader struct {
	file     string
	env      func(string) (string, bool)
	readFile func(path string) ([]byte, bool, error) // content, and whether everybody may read it
	errs     []*Error
	warns    []Warning
	lines    map[string]int // line of each key that was read
	nodes    int            // read so far, aliases unfolded
	own      []*ownSolvent  // solvents that the file describes itself
}

// fail records a mistake at n, quoting what is written there if it is one word or phrase.
func (r *reader) fail(n node, wrong, want string) {
	found := ""
	if n.Kind == yaml.ScalarNode {
		found = n.Value
	}
	r.add(&Error{Pos{r.file, max(n.Line, 1), n.key}, found, wrong, want})
}

// maxErrors is more than anybody mends in one go.
const maxErrors = 100

// full reports whether there are as many mistakes as anybody will read.
func (r *reader) full() bool { return len(r.errs) >= maxErrors }

func (r *reader) add(e *Error) {
	switch {
	case len(r.errs) < maxErrors:
		r.errs = append(r.errs, e)
	case len(r.errs) == maxErrors:
		r.errs = append(r.errs, &Error{Pos: e.Pos, Wrong: "more than " + strconv.Itoa(maxErrors) + " mistakes; the rest is not listed", Want: "mend these first"})
	}
}

// failAt records a mistake at a key that was read before.
func (r *reader) failAt(key, found, wrong, want string) {
	r.add(&Error{r.pos(key), found, wrong, want})
}

// failWith records what a quantity parser said about n.
func (r *reader) failWith(n node, err error) {
	if q, ok := err.(*quantityError); ok {
		r.add(&Error{Pos{r.file, max(n.Line, 1), n.key}, q.found, q.wrong, q.want})
		return
	}
	r.fail(n, err.Error(), "")
}

func (r *reader) warn(key, text string) {
	r.warns = append(r.warns, Warning{r.pos(key), text})
}

// pos is the place of a key: its own line, or that of the nearest key above that is in the file.
func (r *reader) pos(key string) Pos {
	p := Pos{File: r.file, Line: 1, Key: key}
	for k := key; k != ""; {
		if line, ok := r.lines[k]; ok {
			p.Line = line
			break
		}
		k = k[:max(strings.LastIndexByte(k, '.'), 0)]
	}
	return p
}

// has reports whether a key is in the file, rightly or wrongly written.
func (r *reader) has(key string) bool { _, ok := r.lines[key]; return ok }

// at follows aliases and notes the place. It returns false when the file unfolds without end.
func (r *reader) at(y *yaml.Node, key string) (node, bool) {
	for hops := 0; y.Kind == yaml.AliasNode; hops++ {
		if hops > 8 || y.Alias == nil {
			return node{y, key}, false
		}
		y = y.Alias
	}
	if !r.visit(1, y.Line, key) {
		return node{y, key}, false
	}
	r.lines[key] = max(y.Line, 1)
	return node{y, key}, true
}

// visit counts what is read, so that aliases of aliases cannot unfold without end.
func (r *reader) visit(n, line int, key string) bool {
	before := r.nodes
	r.nodes += n
	if r.nodes > maxNodes && before <= maxNodes {
		r.fail(node{&yaml.Node{Line: line}, key}, "the file has more than "+strconv.Itoa(maxNodes)+" values once its aliases are unfolded", "write fewer aliases")
	}
	return r.nodes <= maxNodes
}

// pair is one key of a mapping with its value.
type pair struct {
	name       string
	key, value *yaml.Node
}

// pairs lists the keys of a mapping in the order of the file. A key written twice is a mistake; a merge
// key (<<) adds those keys of the mappings it names that the mapping itself does not have.
func (r *reader) pairs(n node) ([]pair, bool) {
	if n.Kind != yaml.MappingNode {
		r.fail(n, article(n)+" where a mapping belongs", "write keys and values, for instance key: value")
		return nil, false
	}
	if !r.visit(len(n.Content)/2, n.Line, n.key) {
		return nil, false
	}
	var own []pair
	first := map[string]int{}
	var merges []*yaml.Node
	ok := true
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		if k.Kind == yaml.AliasNode && k.Alias != nil {
			k = k.Alias
		}
		if k.Kind != yaml.ScalarNode {
			r.fail(node{&yaml.Node{Line: k.Line}, n.key}, "a key must be one word", "")
			ok = false
			continue
		}
		if k.Tag == "!!merge" {
			merges = append(merges, v)
			continue
		}
		if line, again := first[k.Value]; again {
			r.fail(node{&yaml.Node{Line: k.Line}, sub(n.key, k.Value)}, "written twice; the first is in line "+strconv.Itoa(line), "keep one")
			ok = false
			continue
		}
		first[k.Value] = max(k.Line, 1)
		own = append(own, pair{k.Value, k, v})
	}
	for _, m := range merges {
		own = append(own, r.merged(n, m, first, 0)...)
	}
	return own, ok
}

// merged lists the keys that a merge adds, and marks them as taken.
func (r *reader) merged(n node, m *yaml.Node, taken map[string]int, depth int) []pair {
	from, ok := r.at(m, sub(n.key, "<<"))
	if !ok {
		return nil
	}
	var out []pair
	switch {
	case depth > 4:
		r.fail(from, "merges inside merges, too deep", "")
	case from.Kind == yaml.SequenceNode:
		for _, e := range from.Content {
			out = append(out, r.merged(n, e, taken, depth+1)...)
		}
	case from.Kind == yaml.MappingNode && !r.visit(len(from.Content)/2, from.Line, from.key):
	case from.Kind == yaml.MappingNode:
		var inner []*yaml.Node
		for i := 0; i+1 < len(from.Content); i += 2 {
			k, v := from.Content[i], from.Content[i+1]
			if k.Tag == "!!merge" {
				inner = append(inner, v)
				continue
			}
			if _, has := taken[k.Value]; !has && k.Kind == yaml.ScalarNode {
				taken[k.Value] = k.Line
				out = append(out, pair{k.Value, k, v})
			}
		}
		for _, v := range inner {
			out = append(out, r.merged(n, v, taken, depth+1)...)
		}
	default:
		r.fail(from, article(from)+" where << needs a mapping", "write for instance <<: *name")
	}
	return out
}

// sub is the path of a key below another.
func sub(parent, name string) string {
	if !plainWord(name) {
		name = quote(name)
	}
	if parent == "" {
		return name
	}
	return parent + "." + name
}

func plainWord(s string) bool {
	if s == "" || len(s) > 80 {
		return false
	}
	for _, c := range s {
		if c <= ' ' || c == '"' || c == 0x7f || c == '\u0085' || c == '\u2028' || c == '\u2029' || !strconv.IsPrint(c) {
			return false
		}
	}
	return true
}

// article names what is written at n, in words.
func article(n node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "a mapping"
	case yaml.SequenceNode:
		return "a list"
	case yaml.ScalarNode:
		switch n.ShortTag() {
		case "!!int", "!!float":
			return "a number"
		case "!!bool":
			return "true or false"
		case "!!null":
			return "nothing"
		case "!!str":
			return "text"
		}
		return "a value of type " + strings.TrimPrefix(n.ShortTag(), "!!")
	}
	return "something else"
}
