package analysis

import (
	"fmt"
	"time"
)

// Quality says whether a value may be believed, and if not, why not.
type Quality uint8

// The qualities. Only Good carries a number; the others are reasons for having none.
const (
	Good        Quality = iota
	Missing             // nobody measured it this time (an empty cell of a recording)
	Silent              // the device did not answer
	Exception           // the device answered with an exception, or with nonsense
	OutOfRange          // outside what the instrument can measure
	BrokenWire          // a current loop below or above its failure limits (NAMUR NE 43)
	Stuck               // the value has not moved although it must have
	Implausible         // a number that cannot be physical here
)

var qualityWords = [...]string{"good", "missing", "silent", "exception", "out-of-range", "broken-wire", "stuck", "implausible"}

// String gives the word used in recordings, JSON and metrics.
func (q Quality) String() string {
	if int(q) < len(qualityWords) {
		return qualityWords[q]
	}
	return fmt.Sprintf("quality(%d)", uint8(q))
}

// ParseQuality is the inverse of String.
func ParseQuality(s string) (Quality, bool) {
	for i, w := range qualityWords {
		if w == s {
			return Quality(i), true
		}
	}
	return 0, false
}

// MarshalText makes a quality its word in JSON.
func (q Quality) MarshalText() ([]byte, error) { return []byte(q.String()), nil }

// UnmarshalText reads the word back.
func (q *Quality) UnmarshalText(b []byte) error {
	v, ok := ParseQuality(string(b))
	if !ok {
		return fmt.Errorf("no quality %q; the qualities are %v", b, qualityWords)
	}
	*q = v
	return nil
}

// Value is one reading: a number in the inside unit of its channel if Quality is Good, else no number
// at all (V is 0 and means nothing). Switches are 0 or 1.
type Value struct {
	V       float64
	Quality Quality
}

// OK returns the number and true, or 0 and false.
func (v Value) OK() (float64, bool) {
	if v.Quality != Good {
		return 0, false
	}
	return v.V, true
}

// Scan is all channels of one still at one time. Values runs parallel to Still.Channels.
type Scan struct {
	At     time.Time // UTC; strictly later than the scan before
	Values []Value
}

// Channel describes one column of the scans.
type Channel struct {
	Name      string
	Signal    Signal    // empty: not analysed
	Dimension Dimension // decides the inside unit, except for Other
	Unit      string    // for Other: the unit as configured, for display only
	Limits    Limits
}

// Limits are a channel's own alarm limits, in its inside unit. A nil limit is not watched.
type Limits struct {
	Low, High *float64
	Deadband  float64       // how far back inside the limit before it counts as returned
	OnDelay   time.Duration // how long beyond the limit before it is raised
	OffDelay  time.Duration // how long back inside before it is cleared
}

// NewChannel makes a channel from its name: a known signal gets its dimension, any other name is Other.
func NewChannel(name string) Channel {
	if s, ok := LookupSignal(name); ok {
		return Channel{Name: name, Signal: s.Signal, Dimension: s.Dimension}
	}
	return Channel{Name: name, Dimension: Other}
}
