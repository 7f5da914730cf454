package config

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"gopkg.in/yaml.v3"
)

// largestSecret is far more than any password or token, and keeps a wrong path from reading a disk image.
const largestSecret = 64 << 10

// secret says where a secret is: in an environment variable or in a file. Never in the YAML, which is
// copied, mailed and put under version control.
var secret = shape[Secret]{readSecret, func(d defs) schema {
	return d.object("secret", func() schema {
		return schema{
			"type": "object", "additionalProperties": false, "minProperties": 1, "maxProperties": 1,
			"properties": schema{
				"env":  schema{"type": "string", "pattern": envName.String(), "description": "name of the environment variable that holds the secret"},
				"file": schema{"type": "string", "minLength": 1, "description": "file that holds the secret and nothing else, readable by luted only; relative to this file"},
			},
		}
	})
}}

const secretHow = "write {env: NAME} or {file: PATH}; a secret never stands in this file"

func readSecret(r *reader, n node) (Secret, bool) {
	if n.Kind != yaml.MappingNode {
		// The value may be the secret itself: it is not repeated in the message.
		r.fail(node{&yaml.Node{Line: n.Line}, n.key}, article(n)+" where the place of a secret belongs", secretHow)
		return Secret{}, false
	}
	pairs, ok := r.pairs(n)
	if !ok {
		return Secret{}, false
	}
	if len(pairs) != 1 || (pairs[0].name != "env" && pairs[0].name != "file") {
		r.fail(node{&yaml.Node{Line: n.Line}, n.key}, "not the place of a secret", secretHow)
		return Secret{}, false
	}
	v, in := r.at(pairs[0].value, sub(n.key, pairs[0].name))
	if !in {
		return Secret{}, false
	}
	name, ok := text.read(r, v)
	if !ok {
		return Secret{}, false
	}
	if pairs[0].name == "env" {
		return r.secretFromEnv(v, name)
	}
	return r.secretFromFile(v, name)
}

// envName is what environment variables are called. Anything else may be the secret itself.
var envName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

func (r *reader) secretFromEnv(n node, name string) (Secret, bool) {
	if !envName.MatchString(name) {
		r.fail(node{&yaml.Node{Line: n.Line}, n.key}, "not the name of an environment variable", "write a name such as INFLUX_TOKEN, and the secret into the variable")
		return Secret{}, false
	}
	s, ok := r.env(name)
	if !ok {
		r.fail(n, "no such environment variable", "set it for the service, or write {file: PATH}")
		return Secret{}, false
	}
	if s = strings.TrimSpace(s); s == "" {
		r.fail(n, "the environment variable is empty", "put the secret into it")
		return Secret{}, false
	}
	return NewSecret(s), true
}

func (r *reader) secretFromFile(n node, name string) (Secret, bool) {
	path := r.beside(name)
	b, open, err := r.readFile(path)
	if err != nil {
		r.fail(n, "the file cannot be read: "+reason(err), "put the secret into it and make it readable for luted")
		return Secret{}, false
	}
	s := strings.TrimSpace(string(b))
	if s == "" {
		r.fail(n, "the file is empty", "put the secret into it")
		return Secret{}, false
	}
	if open {
		r.warn(n.key, path+" can be read by everybody on this machine; chmod 600 "+path)
	}
	return NewSecret(s), true
}

// reason is the error without the path, which the message has already.
func reason(err error) string {
	if p, ok := err.(*fs.PathError); ok {
		return p.Err.Error()
	}
	return err.Error()
}

// beside is a path relative to the configuration file.
func (r *reader) beside(path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(r.file), path)
}

// readSecretFile reads a file that should hold a secret, and reports whether everybody may read it.
func readSecretFile(path string) (content []byte, open bool, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, false, err
	}
	if !info.Mode().IsRegular() || info.Size() > largestSecret {
		return nil, false, &fs.PathError{Op: "read", Path: path, Err: errNotSecret}
	}
	b, err := os.ReadFile(path)
	return b, info.Mode().Perm()&0o004 != 0, err
}

type constError string

func (e constError) Error() string { return string(e) }

const errNotSecret = constError("it is not a small plain file")
