package outlet

import (
	"fmt"
	"net/http"
	"strings"
	"time"
)

// Answer turns an HTTP status into one of the three answers: nil for 2xx, else *Refused or *Later. body
// is the beginning of what the server said.
//
// A refusal is about what was sent (400, 413, 422, ...). An answer about the door and not the letter
// (login, address, rate, a proxy in between) would be the same for everything that follows; to set all
// that aside would lose it for a mistake in the configuration, so it is tried again until somebody
// mends it: 401, 402, 403, 404, 405, 407, 408, 410, 421, 423, 425, 429, every redirect, and all of 5xx.
func Answer(status int, h http.Header, body []byte, now time.Time) error {
	if status >= 200 && status < 300 {
		return nil
	}
	why := fmt.Errorf("the server answered %d %s%s", status, http.StatusText(status), said(body))
	if to := h.Get("Location"); status >= 300 && status < 400 && to != "" {
		why = fmt.Errorf("the server answered %d and points to %s: put that address into the configuration if it is right", status, to)
	}
	if status >= 400 && status < 500 && !doorStatus(status) {
		return &Refused{Why: why}
	}
	return &Later{Why: why, After: RetryAfter(h, now)}
}

func doorStatus(status int) bool {
	switch status {
	case 401, 402, 403, 404, 405, 407, 408, 410, 421, 423, 425, 429:
		return true
	}
	return false
}

// said quotes the first line of a server's answer, shortened.
func said(body []byte) string {
	line, _, _ := strings.Cut(strings.TrimSpace(string(body)), "\n")
	if line == "" {
		return ""
	}
	if r := []rune(line); len(r) > 200 {
		line = string(r[:200]) + "…"
	}
	return ": " + strings.ToValidUTF8(line, "�")
}
