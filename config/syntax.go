package config

import (
	"bytes"
	"regexp"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

var (
	yamlLine   = regexp.MustCompile(`^yaml: line (\d+): `)
	yamlAnchor = regexp.MustCompile(`unknown anchor '(.*)' referenced`)
)

// syntax records what the YAML library says about a file that is not YAML, in its line, and names the
// commonest mistake, a tab, in plain words. It returns nil.
func (r *reader) syntax(err error, data []byte) *yaml.Node {
	text := strings.TrimPrefix(err.Error(), "yaml: ")
	lines := bytes.Split(data, []byte("\n"))
	line := 1
	if m := yamlLine.FindStringSubmatch(err.Error()); m != nil {
		text = err.Error()[len(m[0]):]
		if n, aerr := strconv.Atoi(m[1]); aerr == nil {
			line = min(max(n, 1), len(lines))
		}
	}
	e := &Error{Pos: Pos{File: r.file, Line: line}, Wrong: "not YAML: " + oneLine(text)}
	if m := yamlAnchor.FindStringSubmatch(text); m != nil {
		e.Wrong, e.Want = "no anchor "+quote(m[1]), "write &"+oneLine(m[1])+" where it is first used"
		for i, l := range lines {
			if bytes.Contains(l, []byte("*"+m[1])) {
				e.Line = i + 1
				break
			}
		}
	}
	for _, i := range []int{line - 1, line} {
		if i < len(lines) && tabIndent(lines[i]) {
			e.Line, e.Wrong, e.Want = i+1, "a tab at the beginning of the line", "indent with spaces"
			break
		}
	}
	r.add(e)
	return nil
}

// tabIndent reports whether the blank beginning of a line has a tab.
func tabIndent(line []byte) bool {
	indent := line[:len(line)-len(bytes.TrimLeft(line, " \t"))]
	return len(indent) < len(line) && bytes.ContainsRune(indent, '\t')
}

// oneLine takes out what would break a message into lines.
func oneLine(s string) string {
	return strings.Map(func(c rune) rune {
		if !strconv.IsPrint(c) {
			return ' '
		}
		return c
	}, s)
}
