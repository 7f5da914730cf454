// Package config is everything people set: it reads the YAML file into checked Go values, in inside
// units, and says in one pass everything that is wrong with it.
//
// The idea: the file is described once, as a tree of shapes (shape.go). Reading, refusing unknown keys,
// defaults and the JSON Schema all come from that one description, so that they cannot disagree.
//
// The invariant: a Config is either complete and consistent or not there. Parse returns a Config or an
// error, never both; every mistake has its line; a quantity without a unit is never guessed; a secret
// is never in the file and never printed.
package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// Load reads and checks the file at path. Secrets are taken from this process's environment and from
// files; relative paths in the file are relative to the file. The error is all mistakes at once, sorted
// by line (Errors takes it apart); the warnings are there with and without an error.
func Load(path string) (*Config, []Warning, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("configuration: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxBytes+1)) // one more than is taken: Parse refuses it
	if err != nil {
		return nil, nil, fmt.Errorf("configuration: %w", err)
	}
	return Parse(path, data, os.LookupEnv)
}

// Parse is Load for a file already read. file is its name, for messages and relative paths; env looks
// up environment variables (nil: there are none).
func Parse(file string, data []byte, env func(string) (string, bool)) (*Config, []Warning, error) {
	return parse(file, data, env, readSecretFile)
}

func parse(file string, data []byte, env func(string) (string, bool), readFile func(string) ([]byte, bool, error)) (*Config, []Warning, error) {
	if env == nil {
		env = func(string) (string, bool) { return "", false }
	}
	r := &reader{file: file, env: env, readFile: readFile, lines: map[string]int{"": 1}}
	if root := r.document(data); root != nil {
		if n, ok := r.at(root, ""); ok {
			f, _ := rootShape.read(r, n)
			c := r.finish(&f)
			if len(r.errs) == 0 {
				r.check(c)
				return c, r.warnings(), nil
			}
		}
	}
	return nil, r.warnings(), join(r.errs)
}

// Still returns the still of that name, or nil.
func (c *Config) Still(name string) *Still {
	for _, s := range c.Stills {
		if s.Name == name {
			return s
		}
	}
	return nil
}

// document gives the root of the one YAML document in data, or says why there is none.
func (r *reader) document(data []byte) *yaml.Node {
	line := func(l int, wrong, want string) *yaml.Node {
		r.errs = append(r.errs, &Error{Pos{File: r.file, Line: l}, "", wrong, want})
		return nil
	}
	if len(data) > maxBytes {
		return line(1, "the file is larger than "+strconv.Itoa(maxBytes>>20)+" MiB: this is not a configuration", "")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if i := firstBad(data); i >= 0 {
		l := 1 + bytes.Count(data[:i], []byte("\n"))
		if data[i] < utf8.RuneSelf {
			return line(l, fmt.Sprintf("a control character (%#02x)", data[i]), "remove it")
		}
		return line(l, "not UTF-8", "save the file as UTF-8")
	}
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, more yaml.Node
	switch err := decode(dec, &doc); {
	case errors.Is(err, io.EOF):
		return line(1, "the file is empty", "write at least stills:")
	case err != nil:
		return r.syntax(err, data)
	}
	if len(doc.Content) != 1 || doc.Content[0].ShortTag() == "!!null" {
		return line(1, "the file is empty", "write at least stills:")
	}
	switch err := decode(dec, &more); {
	case errors.Is(err, io.EOF):
	case err != nil:
		return r.syntax(err, data)
	default:
		return line(max(more.Line, 1), "a second document", "write one configuration a file, without ---")
	}
	return doc.Content[0]
}

// decode is dec.Decode with a fence: the YAML library is known to have panicked on crafted input, and a
// configuration that someone pasted must not take the daemon down.
func decode(dec *yaml.Decoder, into *yaml.Node) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("yaml: the parser gave up: %v", p)
		}
	}()
	return dec.Decode(into)
}

// firstBad is the index of the first byte that is not UTF-8 or is a control character that YAML does
// not allow; -1 if there is none.
func firstBad(data []byte) int {
	for i := 0; i < len(data); {
		c, n := utf8.DecodeRune(data[i:])
		if (c == utf8.RuneError && n == 1) || (c < ' ' && c != '\n' && c != '\r' && c != '\t') || c == 0x7f {
			return i
		}
		i += n
	}
	return -1
}
