package alarm

import "time"

// The rates of ISA-18.2-2016 and IEC 62682 beyond which alarms stop helping.
const (
	ChatterCount  = 3 // an alarm raised this often within ChatterWindow is chattering
	ChatterWindow = time.Minute
	FloodBegin    = 10 // a flood begins with more raises than this within FloodWindow
	FloodEnd      = 5  // and ends below this (the end is from memory)
	FloodWindow   = 10 * time.Minute
)

// Chatter finds alarms that come and go too fast to be read: raised ChatterCount times or more within
// ChatterWindow. The zero value is ready. Not safe for concurrent use.
type Chatter struct{ last map[Key][]time.Time }

// Raise counts one raise and reports whether the alarm is chattering with it. Times of one key must not
// go back.
func (c *Chatter) Raise(k Key, at time.Time) bool {
	if c.last == nil {
		c.last = make(map[Key][]time.Time)
	}
	c.last[k] = within(append(c.last[k], at), at, ChatterWindow)
	return len(c.last[k]) >= ChatterCount
}

// Flood tells when alarms come faster than one person can follow. The zero value is ready: no flood. Not
// safe for concurrent use.
type Flood struct {
	recent []time.Time
	on     bool
}

// Raise counts one raise, of any alarm, and reports whether there is a flood with it. Times must not go
// back.
func (f *Flood) Raise(at time.Time) bool {
	f.recent = append(f.recent, at)
	return f.At(at)
}

// At reports whether there is a flood at a time not before the last raise.
func (f *Flood) At(at time.Time) bool {
	f.recent = within(f.recent, at, FloodWindow)
	switch n := len(f.recent); {
	case n > FloodBegin:
		f.on = true
	case n < FloodEnd:
		f.on = false
	}
	return f.on
}

// within keeps the times of the window that ends at now; a time a whole window ago is out of it. The
// slice is changed in place.
func within(ts []time.Time, now time.Time, window time.Duration) []time.Time {
	i := 0
	for i < len(ts) && now.Sub(ts[i]) >= window {
		i++
	}
	return append(ts[:0], ts[i:]...)
}
