package alarm

import (
	"fmt"
	"slices"
	"time"

	"luted/analysis"
)

// Command is what a person does about an alarm, or what suppression by design does.
type Command struct {
	Key
	Action Action
	At     time.Time // when it was done
	By     string    // who did it; required
	Reason string    // required to shelve, to remove from service and to suppress
	Until  time.Time // to shelve: until when
}

// Do carries out a command. It returns the one transition it caused, or an error that says in one
// sentence why not; then nothing has changed. Alarms that were never raised can be shelved, suppressed
// and removed from service all the same: a fault may be known to come.
func (b *Book) Do(c Command) ([]Transition, error) {
	if err := b.complete(c); err != nil {
		return nil, err
	}
	now, known := b.Get(c.Key)
	if !known {
		now = Alarm{Key: c.Key, State: Normal, Priority: DefaultPriority(c.Fault)}
	}
	next, err := now.next(c.Action)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.Key, err)
	}
	a := b.alarms[c.Key]
	if a == nil {
		a = &now
		b.alarms[c.Key] = a
	}
	a.By, a.Reason = c.By, c.Reason
	if c.Action == Reset {
		a.Latched = false
	}
	ts := b.move(a, c.Action, next, c.At)
	if c.Action == Shelve {
		u := c.Until
		a.Until = &u
		ts[0].Alarm = copyOf(*a)
	}
	return ts, nil
}

// String names the alarm as people do: still, fault, and channel where there is one.
func (k Key) String() string {
	s := k.Still + ": " + string(k.Fault)
	if k.Channel != "" {
		s += " (" + k.Channel + ")"
	}
	return s
}

// complete checks what a command must say before the state is looked at.
func (b *Book) complete(c Command) error {
	say := func(format string, args ...any) error {
		return fmt.Errorf("%s: %s", c.Key, fmt.Sprintf(format, args...))
	}
	if c.Still == "" {
		return fmt.Errorf("no still named: say which still's alarm this is about")
	}
	if !KnownFault(c.Fault) {
		return say("no fault has the name %q: take a name from the fault catalogue", c.Fault)
	}
	needsReason := false
	switch c.Action {
	case Raise, Clear:
		return say("only the analysis can %s an alarm", c.Action)
	case ShelfExpired:
		return say("only the clock ends a shelf: unshelve the alarm")
	case Acknowledge, Unshelve, ReturnService, Reset, Unsuppress:
	case Shelve, RemoveService, Suppress:
		needsReason = true
	default:
		return say("no action has the name %q: acknowledge, shelve, unshelve, remove from service, return to service, reset, suppress by design, end suppression", c.Action)
	}
	if c.By == "" {
		return say("nobody named: say who wants to %s it", c.Action)
	}
	if needsReason && c.Reason == "" {
		return say("no reason given: say why you %s it", c.Action)
	}
	if c.Action == Shelve {
		return b.shelfTime(c)
	}
	return nil
}

func (b *Book) shelfTime(c Command) error {
	most := b.MaxShelf
	if most == 0 {
		most = MaxShelf
	}
	switch {
	case c.Until.IsZero():
		return fmt.Errorf("%s: no end given: say until when it is shelved, at most %s", c.Key, most)
	case !c.Until.After(c.At):
		return fmt.Errorf("%s: the shelf would end at %s, which is not later than %s: give a later time",
			c.Key, c.Until.Format(time.RFC3339), c.At.Format(time.RFC3339))
	case c.Until.Sub(c.At) > most:
		return fmt.Errorf("%s: %s is too long for a shelf: at most %s; for longer, remove it from service",
			c.Key, c.Until.Sub(c.At), most)
	}
	return nil
}

// next is the state that an action of people or of logic leads to, or the sentence that refuses it.
func (a *Alarm) next(act Action) (State, error) {
	switch act {
	case Acknowledge:
		return a.acknowledged()
	case Reset:
		return a.reset()
	case Shelve, Suppress, RemoveService:
		return a.hide(act)
	case Unshelve:
		return a.unhide(Shelved)
	case Unsuppress:
		return a.unhide(Suppressed)
	case ReturnService:
		return a.unhide(OutOfService)
	}
	return "", fmt.Errorf("no rule for %q", act)
}

func (a *Alarm) acknowledged() (State, error) {
	switch a.State {
	case Unacknowledged:
		return Acknowledged, nil
	case RTNUnacknowledged:
		return Normal, nil
	case LatchedUnacknowledged:
		return LatchedAcknowledged, nil
	case Acknowledged, LatchedAcknowledged:
		if a.By != "" {
			return "", fmt.Errorf("already acknowledged by %s", a.By)
		}
		return "", fmt.Errorf("already acknowledged")
	case Normal:
		return "", fmt.Errorf("normal: there is nothing to acknowledge")
	}
	return "", fmt.Errorf("%s: there is nothing to acknowledge until it is back in service", a.State)
}

func (a *Alarm) reset() (State, error) {
	switch a.State {
	case LatchedAcknowledged:
		return Normal, nil
	case LatchedUnacknowledged:
		return "", fmt.Errorf("not acknowledged yet: acknowledge it, then reset it")
	case Unacknowledged, Acknowledged:
		if a.Latched {
			return "", fmt.Errorf("the condition is still present: it can be reset when it has gone")
		}
	}
	return "", fmt.Errorf("%s: not latched, so there is nothing to reset", a.State)
}

// hide lets the stronger means replace the weaker: shelved, then suppressed by design, then out of
// service.
func (a *Alarm) hide(act Action) (State, error) {
	rank := []State{Shelved, Suppressed, OutOfService}
	to := map[Action]State{Shelve: Shelved, Suppress: Suppressed, RemoveService: OutOfService}[act]
	has, wants := slices.Index(rank, a.State), slices.Index(rank, to)
	switch {
	case has < wants:
		return to, nil
	case to == Shelved && a.State == Shelved && a.Until != nil:
		return "", fmt.Errorf("already shelved until %s: unshelve it first to shelve it anew", a.Until.Format(time.RFC3339))
	case has == wants:
		return "", fmt.Errorf("already %s", a.State)
	}
	return "", fmt.Errorf("%s: it is hidden already", a.State)
}

func (a *Alarm) unhide(from State) (State, error) {
	if a.State == from {
		return a.back(), nil
	}
	return "", fmt.Errorf("not %s but %s", from, a.State)
}

// KnownFault reports whether the fault is in the catalogue.
func KnownFault(f analysis.Fault) bool { return slices.Contains(Faults, f) }
