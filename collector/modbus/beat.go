package modbus

import "time"

// beat is the rhythm of one still: beat k is due at start + k·every, whatever happened to the beats
// before it. A beat is kept if its sweep begins before the next one is due; else it is missed, and
// never made up for.
type beat struct {
	start time.Time
	every time.Duration
	next  int64 // the next beat to keep
}

// due is the time of the next beat.
func (b *beat) due() time.Time { return b.start.Add(time.Duration(b.next) * b.every) }

// take begins the latest beat that is due at now and returns the number of beats missed before it.
// It must not be called before due.
func (b *beat) take(now time.Time) (missed int) {
	latest := max(b.next, int64(now.Sub(b.start)/b.every))
	missed = int(latest - b.next)
	b.next = latest + 1
	return missed
}

// stamps gives sweeps their times: UTC, whole milliseconds, strictly rising.
type stamps struct{ last time.Time }

func (s *stamps) at(now time.Time) time.Time {
	t := now.UTC().Round(time.Millisecond) // Round also drops the monotonic reading
	if !t.After(s.last) {
		t = s.last.Add(time.Millisecond)
	}
	s.last = t
	return t
}
