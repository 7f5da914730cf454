package alarm

import "time"

// The rates of ISA-18.2-2016 (clause 16) and IEC 62682 beyond which alarms stop helping the one person who
// answers them. The numbers are from memory but for the priorities; the ends of a window are this program's
// choice.
const (
	ChatterCount  = 3 // an alarm raised this often within ChatterWindow is chattering
	ChatterWindow = time.Minute
	FloodBegin    = 10 // a flood begins with more raises than this within FloodWindow
	FloodEnd      = 5  // and ends below this
	FloodWindow   = 10 * time.Minute
	StaleAfter    = 24 * time.Hour // an alarm that stands this long is stale

	AcceptablePerHour, ManageablePerHour   = 6, 12 // very likely acceptable, and the most that is manageable, on average
	AcceptablePerDay, ManageablePerDay     = 150, 300
	AcceptablePer10Min, ManageablePer10Min = 1, 2

	CrowdedHour     = 30   // raises within an hour that are too many
	MostCrowded     = 0.01 // share of the hours, of the ten minutes and of the time in floods that may be so
	AcceptableStale = 5    // fewer than this many on any day, each with a plan to be rid of it
	AcceptableTop10 = 0.05 // share of all raises that the ten most frequent may make up, at the most

	// BurstGap joins raises of one still into a burst of which the first is marked. Common practice, no source.
	BurstGap = 2 * time.Minute
)

// UsualShare is how raises should be spread over three priorities (ISA-18.2-2016 and IEC 62682: about 80 %
// low, 15 % medium, 5 % high).
var UsualShare = map[Priority]float64{Low: 0.80, Medium: 0.15, High: 0.05}

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
