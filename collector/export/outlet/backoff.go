package outlet

import (
	"context"
	"math/rand/v2"
	"net/http"
	"strconv"
	"time"
)

// The pauses between tries. The cap keeps the news of a repaired link under five minutes old; the first
// pause is short because most failures are a restart of the other side. (Common practice, no source.)
const (
	FirstPause = time.Second
	MaxPause   = 5 * time.Minute
	// MaxAsked is the longest pause that the other side can ask for.
	MaxAsked = time.Hour
)

// Backoff gives the pauses between tries: each twice the one before, from FirstPause to MaxPause, less a
// random fifth so that many outlets do not come back at once. The zero value is ready.
type Backoff struct {
	tries int
}

// Next is the next pause. asked is what the other side asked for, 0 if nothing: it is never shortened,
// except to MaxAsked.
func (b *Backoff) Next(asked time.Duration) time.Duration {
	pause := MaxPause
	if b.tries < 20 { // beyond, the shift would overflow
		pause = min(FirstPause<<b.tries, MaxPause)
	}
	b.tries++
	pause -= time.Duration(rand.Float64() * 0.2 * float64(pause))
	return max(pause, min(asked, MaxAsked))
}

// Waiting reports whether there was a pause since the last Reset.
func (b *Backoff) Waiting() bool { return b.tries > 0 }

// Reset starts again at FirstPause.
func (b *Backoff) Reset() { b.tries = 0 }

// Wait waits for d or the end of ctx, and returns ctx's error in the second case.
func Wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return ctx.Err()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// RetryAfter reads the header of that name: seconds or a date (RFC 9110, section 10.2.3). 0 if there is
// none, or none that can be read.
func RetryAfter(h http.Header, now time.Time) time.Duration {
	v := h.Get("Retry-After")
	if s, err := strconv.ParseUint(v, 10, 31); err == nil {
		return time.Duration(s) * time.Second
	}
	if t, err := http.ParseTime(v); err == nil && t.After(now) {
		return t.Sub(now)
	}
	return 0
}
