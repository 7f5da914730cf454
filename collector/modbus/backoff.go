package modbus

import "time"

// backoff spaces out attempts at something that keeps failing. One failure is forgiven: the next
// attempt is due at the next beat. From the second on there is a pause, which doubles up to longest;
// each is shortened by up to half at random, so that the lines of a plant that came back together do
// not all call at the same instant.
//
// Without failures everything is let through. The times are common practice, no source.
type backoff struct {
	longest time.Duration
	fails   int
	until   time.Time
}

const (
	firstPause = time.Second
	// longestPause is for what costs nobody else: a connection, or the only device on its line.
	longestPause = 10 * time.Second
	// longestShared is for a device that keeps others on its line waiting with every timeout.
	longestShared = 30 * time.Second
)

// ready reports whether it is time for another attempt.
func (b *backoff) ready(now time.Time) bool { return b.fails == 0 || !now.Before(b.until) }

// fail notes a failed attempt at now; random is from [0, 1).
func (b *backoff) fail(now time.Time, random float64) {
	b.fails++
	if b.fails == 1 {
		b.until = now
		return
	}
	pause := min(firstPause<<min(b.fails-2, 16), b.longest)
	b.until = now.Add(pause - time.Duration(random*float64(pause)/2))
}

// ok notes an attempt that succeeded.
func (b *backoff) ok() { b.fails = 0 }
