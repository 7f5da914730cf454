package notify

import (
	"time"

	"luted/analysis/alarm"
)

// Kind says what a message is.
type Kind string

// The kinds.
const (
	News    Kind = "news"    // alarms as they come and go
	Flood   Kind = "flood"   // too many to tell one by one: a summary
	History Kind = "history" // what could not be told in time: a summary
	Test    Kind = "sample"  // not an alarm at all
)

// most is the largest number of transitions in one message.
const most = 1000

// policy is how a channel wants transitions put together. The zero value: all that are there, at once.
type policy struct {
	group time.Duration // of one still; zero: no grouping at all
	stale time.Duration // older than this is history
}

// past is what was already told, as far as the next message depends on it.
type past struct{ raises []raise }

type raise struct {
	key alarm.Key
	at  time.Time
}

// remember is how far back raises are kept: long enough for the flood to have ended by itself.
const (
	remember      = time.Hour
	rememberCount = 500
)

func (p *past) add(it Item) {
	if !it.appears() {
		return
	}
	p.raises = append(p.raises, raise{it.Key, it.At})
	i := max(0, len(p.raises)-rememberCount)
	for i < len(p.raises) && it.At.Sub(p.raises[i].at) > remember {
		i++
	}
	p.raises = p.raises[i:]
}

// rates replays what was told into fresh detectors.
func (p *past) rates() (f alarm.Flood, c alarm.Chatter) {
	for _, r := range p.raises {
		f.Raise(r.at)
		c.Raise(r.key, r.at)
	}
	return f, c
}

// repeated reports whether the alarm was told within the window before at.
func (p *past) repeated(k alarm.Key, at time.Time) bool {
	for _, r := range p.raises {
		if r.key == k && at.Sub(r.at) < alarm.FloodWindow {
			return true
		}
	}
	return false
}

// plan is the next message: the first n pending items, as a message of this kind, not before wait has
// passed. Nothing is to be sent if n is 0.
type plan struct {
	n    int
	kind Kind
	wait time.Duration
}

// next decides what goes out next. pending is in the order of the journal; more says that the journal
// holds still more than that. It depends only on what the journal says and on how late it is, so a
// message that is put together again after a crash is the same message.
func (p policy) next(told *past, pending []Item, more bool, now time.Time) plan {
	if len(pending) == 0 {
		return plan{}
	}
	if p.group == 0 {
		return plan{n: min(len(pending), most), kind: News}
	}
	if n := p.old(pending, now); n > 0 {
		return plan{n: n, kind: History}
	}
	flood, _ := told.rates()
	window, kind := p.group, News
	if first := pending[0]; flooded(&flood, first) {
		window, kind = max(alarm.FloodWindow, p.group), Flood
	}
	end := pending[0].At.Add(window)
	n, closed := 0, more
	for n < len(pending) && n < most {
		it := pending[n]
		if !it.At.Before(end) {
			closed = true
			break
		}
		if n > 0 && flooded(&flood, it) {
			kind = Flood
		}
		n++
		if it.urgent() && !(kind == Flood && told.repeated(it.Key, it.At)) {
			closed = true
			break
		}
	}
	wait := end.Sub(now)
	if seen := pending[0].seen; !seen.IsZero() {
		wait = min(wait, seen.Add(window).Sub(now)) // a clock that was set back must not hold up an alarm
	}
	if !closed && n < most && wait > 0 {
		return plan{wait: wait}
	}
	if kind == News {
		n = stretch(pending[:n])
	}
	return plan{n: n, kind: kind}
}

func flooded(f *alarm.Flood, it Item) bool {
	if it.appears() {
		return f.Raise(it.At)
	}
	return f.At(it.At)
}

// old counts the leading items that are no news any more.
func (p policy) old(pending []Item, now time.Time) int {
	n := 0
	for p.group > 0 && n < len(pending) && n < most && now.Sub(pending[n].At) > p.stale {
		n++
	}
	return n
}

// stretch is the length of the shortest unbroken stretch from the first item on that holds all items of
// every still in it. So two stills whose alarms do not interleave get a message each.
func stretch(items []Item) int {
	last := make(map[string]int)
	for i, it := range items {
		last[it.Still] = i
	}
	end := 0
	for i := 0; i <= end; i++ {
		end = max(end, last[items[i].Still])
	}
	return end + 1
}
