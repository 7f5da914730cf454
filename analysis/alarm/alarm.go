// Package alarm is the life cycle of alarms by ANSI/ISA-18.2-2016 and IEC 62682: a pure state machine.
// What the analysis raises and clears, and what people do about it, goes in; transitions come out.
//
// The invariant: an alarm is in exactly one state, every change of state is a Transition, and nothing
// here reads a clock.
package alarm

import (
	"time"

	"luted/analysis"
)

// State is the state of an alarm in the standard's words.
type State string

// The states. The letters that editions of the standard give them differ; the names do not.
const (
	Normal                State = "normal"
	Unacknowledged        State = "unacknowledged"
	Acknowledged          State = "acknowledged"
	RTNUnacknowledged     State = "returned to normal, unacknowledged"
	LatchedUnacknowledged State = "latched, unacknowledged"
	LatchedAcknowledged   State = "latched, acknowledged"
	Shelved               State = "shelved"
	Suppressed            State = "suppressed by design"
	OutOfService          State = "out of service"
)

// Priority ranks what needs a person first.
type Priority string

// The priorities.
const (
	Low    Priority = "low"
	Medium Priority = "medium"
	High   Priority = "high"
)

// Key identifies an alarm: one fault of one still, of one channel where the fault is a channel's.
type Key struct {
	Still   string         `json:"still"`
	Fault   analysis.Fault `json:"fault"`
	Channel string         `json:"channel,omitempty"`
}

// Alarm is the present state of one alarm.
type Alarm struct {
	Key
	State    State             `json:"state"`
	Active   bool              `json:"active"` // the condition itself, whatever the state
	Priority Priority          `json:"priority"`
	Run      int               `json:"run"`
	Raised   time.Time         `json:"raised"`          // when the condition last began
	Changed  time.Time         `json:"changed"`         // when the state last changed
	Until    *time.Time        `json:"until,omitempty"` // shelved until
	By       string            `json:"by,omitempty"`    // who last acted
	Reason   string            `json:"reason,omitempty"`
	Text     string            `json:"text"`
	Likely   []analysis.Likely `json:"likely,omitempty"`
}

// Cause of a transition.
type Action string

// The actions: the first two are the analysis's, the last the clock's, the others people's.
const (
	Raise         Action = "raise"
	Clear         Action = "clear"
	Acknowledge   Action = "acknowledge"
	Shelve        Action = "shelve"
	Unshelve      Action = "unshelve"
	RemoveService Action = "remove from service"
	ReturnService Action = "return to service"
	Reset         Action = "reset"
	ShelfExpired  Action = "shelf time over"
)

// Transition is one change of state, as journaled and as notified.
type Transition struct {
	At     time.Time `json:"at"`
	From   State     `json:"from"`
	Action Action    `json:"action"`
	Alarm            // after the change
}
