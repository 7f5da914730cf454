package alarm

import (
	"cmp"
	"slices"
	"time"

	"luted/analysis"
)

// MaxShelf is the longest time an alarm may be shelved unless the Book says otherwise: a shelf outlives
// a day's work, and no more, so that nobody inherits silence (common practice, no source).
const MaxShelf = 24 * time.Hour

// Book holds the alarms of all stills. Not safe for concurrent use.
type Book struct {
	// MaxShelf is the longest time an alarm may be shelved. Zero means the constant MaxShelf.
	MaxShelf time.Duration
	// Latches says which faults stand until they are reset. Nil means DefaultLatches.
	Latches func(analysis.Fault) bool

	alarms  map[Key]*Alarm
	changed map[Key]bool
}

// NewBook returns a book that goes on from the given alarms, as Alarms returned them. The slice is not
// kept.
func NewBook(alarms []Alarm) *Book {
	b := &Book{alarms: make(map[Key]*Alarm), changed: make(map[Key]bool)}
	for _, a := range alarms {
		c := copyOf(a)
		b.alarms[a.Key] = &c
	}
	return b
}

// Apply takes an event of the analysis. Fault events raise or clear an alarm; any other event is
// ignored. It returns the transitions this caused, at most one. prio gives the priority of an alarm at
// the moment it is raised; nil means DefaultPriority.
func (b *Book) Apply(e analysis.Event, prio func(analysis.Fault) Priority) []Transition {
	if e.Kind != analysis.FaultEvent {
		return nil
	}
	key := Key{Still: e.Still, Fault: e.Fault, Channel: e.Channel}
	switch e.State {
	case analysis.Raised:
		return b.raise(key, e, prio)
	case analysis.Cleared:
		return b.clear(key, e)
	}
	return nil
}

func (b *Book) raise(key Key, e analysis.Event, prio func(analysis.Fault) Priority) []Transition {
	if prio == nil {
		prio = DefaultPriority
	}
	a, known := b.alarms[key]
	if !known {
		a = &Alarm{Key: key, State: Normal}
		b.alarms[key] = a
	}
	b.changed[key] = true
	a.Text, a.TextUS, a.TextMetric, a.Likely = e.Text, e.TextUS, e.TextMetric, slices.Clone(e.Likely)
	if a.Active {
		return nil // said again, perhaps in better words; the alarm stands as it stood
	}
	a.Active, a.Raised, a.Run = true, e.At, e.Run
	a.Priority = prio(key.Fault)
	a.Latched = a.Latched || b.latches(key.Fault)
	if a.hidden() {
		return nil
	}
	a.By, a.Reason = "", ""
	return b.move(a, Raise, Unacknowledged, e.At)
}

func (b *Book) clear(key Key, e analysis.Event) []Transition {
	a, known := b.alarms[key]
	if !known || !a.Active {
		return nil
	}
	b.changed[key] = true
	a.Active = false
	next := a.State
	switch {
	case a.State == Unacknowledged && a.Latched:
		next = LatchedUnacknowledged
	case a.State == Unacknowledged:
		next = RTNUnacknowledged
	case a.State == Acknowledged && a.Latched:
		next = LatchedAcknowledged
	case a.State == Acknowledged:
		next = Normal
	}
	ts := b.move(a, Clear, next, e.At)
	for i := range ts {
		ts[i].Cleared = e.Text
	}
	return ts
}

// Tick ends the shelves that have run out by now and returns the transitions, in the order of Alarms.
func (b *Book) Tick(now time.Time) []Transition {
	var out []Transition
	for _, a := range b.sorted() {
		if a.State != Shelved || a.Until == nil || now.Before(*a.Until) {
			continue
		}
		out = append(out, b.move(a, ShelfExpired, a.back(), now)...)
	}
	return out
}

// Alarms returns a copy of every alarm the book knows, by still, fault and channel.
func (b *Book) Alarms() []Alarm {
	out := make([]Alarm, 0, len(b.alarms))
	for _, a := range b.sorted() {
		out = append(out, copyOf(*a))
	}
	return out
}

// Get returns a copy of one alarm, and whether the book knows it.
func (b *Book) Get(k Key) (Alarm, bool) {
	a, ok := b.alarms[k]
	if !ok {
		return Alarm{}, false
	}
	return copyOf(*a), true
}

// Changed returns a copy of every alarm that differs in anything from what it was at the last call of
// Changed, in the order of Alarms. This is what must be stored: more than what the transitions carry,
// since a shelved alarm's condition comes and goes without a transition.
func (b *Book) Changed() []Alarm {
	var out []Alarm
	for _, a := range b.sorted() {
		if b.changed[a.Key] {
			out = append(out, copyOf(*a))
		}
	}
	clear(b.changed)
	return out
}

// move changes the state and says so; a move to the present state is no transition.
func (b *Book) move(a *Alarm, action Action, to State, at time.Time) []Transition {
	from := a.State
	if from == to {
		return nil
	}
	b.changed[a.Key] = true
	a.State, a.Changed = to, at
	if to != Shelved {
		a.Until = nil
	}
	return []Transition{{At: at, From: from, Action: action, Alarm: copyOf(*a)}}
}

func (b *Book) latches(f analysis.Fault) bool {
	if b.Latches != nil {
		return b.Latches(f)
	}
	return DefaultLatches(f)
}

func (b *Book) sorted() []*Alarm {
	out := make([]*Alarm, 0, len(b.alarms))
	for _, a := range b.alarms {
		out = append(out, a)
	}
	slices.SortFunc(out, func(x, y *Alarm) int { return x.compare(y.Key) })
	return out
}

// compare orders keys by still, fault and channel.
func (k Key) compare(o Key) int {
	return cmp.Or(cmp.Compare(k.Still, o.Still), cmp.Compare(k.Fault, o.Fault), cmp.Compare(k.Channel, o.Channel))
}

// hidden reports whether the alarm is kept from people's eyes, by whatever means.
func (a *Alarm) hidden() bool {
	return a.State == Shelved || a.State == Suppressed || a.State == OutOfService
}

// back is the state to which an alarm comes back from hiding.
func (a *Alarm) back() State {
	switch {
	case a.Active:
		return Unacknowledged
	case a.Latched:
		return LatchedUnacknowledged
	}
	return Normal
}

// Standing reports whether the alarm asks for attention now: the condition is present, or latched, and
// nobody and nothing hides it.
func (a Alarm) Standing() bool {
	switch a.State {
	case Unacknowledged, Acknowledged, LatchedUnacknowledged, LatchedAcknowledged:
		return true
	}
	return false
}

func copyOf(a Alarm) Alarm {
	a.Likely = slices.Clone(a.Likely)
	if a.Until != nil {
		u := *a.Until
		a.Until = &u
	}
	return a
}
