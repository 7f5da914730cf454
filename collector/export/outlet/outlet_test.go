package outlet

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func TestBackoff(t *testing.T) {
	var b Backoff
	want := FirstPause
	for i := range 40 {
		got := b.Next(0)
		if got > want || got < want*4/5 {
			t.Fatalf("pause %d is %s, want %s less up to a fifth", i, got, want)
		}
		want = min(2*want, MaxPause)
	}
	if got := b.Next(7 * time.Minute); got != 7*time.Minute {
		t.Errorf("asked for 7 min: %s", got)
	}
	if got := b.Next(48 * time.Hour); got != MaxAsked {
		t.Errorf("asked for two days: %s, want %s", got, MaxAsked)
	}
	if !b.Waiting() {
		t.Error("not waiting after a pause")
	}
	b.Reset()
	if got := b.Next(0); got > FirstPause {
		t.Errorf("after a reset: %s", got)
	}
}

// RFC 9110, section 10.2.3: its own two examples, and what is not one of them.
func TestRetryAfter(t *testing.T) {
	now := time.Date(1999, 12, 31, 23, 58, 59, 0, time.UTC)
	for _, tt := range []struct {
		header string
		want   time.Duration
	}{
		{"120", 2 * time.Minute},
		{"Fri, 31 Dec 1999 23:59:59 GMT", time.Minute},
		{"Fri, 31 Dec 1999 23:57:59 GMT", 0}, // over
		{"", 0}, {"-1", 0}, {"soon", 0}, {"99999999999999999999", 0}, {"1.5", 0},
	} {
		h := http.Header{}
		if tt.header != "" {
			h.Set("Retry-After", tt.header)
		}
		if got := RetryAfter(h, now); got != tt.want {
			t.Errorf("Retry-After: %q: %s, want %s", tt.header, got, tt.want)
		}
	}
}

// Whatever wraps it, an answer stays what it is.
func TestAnswersThroughWrapping(t *testing.T) {
	why := errors.New("why")
	if err := fmt.Errorf("a: %w", &Refused{why}); !IsRefused(err) || IsUnsure(err) || !errors.Is(err, why) {
		t.Errorf("refused: %v", err)
	}
	if err := fmt.Errorf("a: %w", &Later{why, time.Minute}); After(err) != time.Minute || IsRefused(err) {
		t.Errorf("later: %v", err)
	}
	if err := fmt.Errorf("a: %w", &Unsure{why}); !IsUnsure(err) || IsRefused(err) {
		t.Errorf("unsure: %v", err)
	}
	if IsRefused(nil) || IsUnsure(nil) || After(nil) != 0 {
		t.Error("nil is no answer")
	}
}

// Any status with any body: acceptance is 2xx and nothing else, a refusal is 4xx, and what goes into
// the log is one short line.
func FuzzAnswer(f *testing.F) {
	f.Add(204, "", "")
	f.Add(400, "unable to parse\nsecond line", "")
	f.Add(503, "\xff\xfe", "7")
	f.Add(301, "", "Fri, 31 Dec 1999 23:59:59 GMT")
	f.Fuzz(func(t *testing.T, status int, body, retry string) {
		h := http.Header{"Retry-After": {retry}}
		err := Answer(status, h, []byte(body), time.Now())
		if (err == nil) != (status >= 200 && status < 300) {
			t.Fatalf("%d: %v", status, err)
		}
		if IsRefused(err) && (status < 400 || status >= 500) {
			t.Fatalf("%d is a refusal", status)
		}
		if err != nil && (len(err.Error()) > 1200 || strings.Contains(err.Error(), "\n") || !utf8.ValidString(err.Error())) {
			t.Fatalf("%q", err)
		}
		if After(err) < 0 {
			t.Fatalf("after %s", After(err))
		}
	})
}
