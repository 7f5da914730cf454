package config

import (
	"regexp"
	"strings"
)

// nameRule says which names are names.
type nameRule struct {
	pattern *regexp.Regexp
	words   string
}

var (
	plainName   = nameRule{regexp.MustCompile(`^[a-z][a-z0-9_-]*$`), "a name begins with a small letter and has small letters, digits, - and _ only"}
	channelName = nameRule{regexp.MustCompile(`^[a-z][a-z0-9_]*$`), "a channel name begins with a small letter and has small letters, digits and _ only"}
)

const longestName = 64

func (u nameRule) check(name string) (wrong, want string) {
	if len(name) > longestName {
		return "a name of more than 64 letters", "shorten it"
	}
	if u.pattern.MatchString(name) {
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
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9', c == '_', c == '-' && u.pattern.MatchString("a-"):
			return c
		case c >= 'A' && c <= 'Z':
			return c + 'a' - 'A'
		case c == ' ' || c == '-' || c == '.':
			return '_'
		}
		return -1
	}, name)
	if u.pattern.MatchString(s) && len(s) > len(name)/2 {
		return s
	}
	return ""
}
