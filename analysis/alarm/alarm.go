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
	State    State      `json:"state"`
	Active   bool       `json:"active"`            // the condition itself, whatever the state
	Latched  bool       `json:"latched,omitempty"` // a latching alarm that has been raised and not been reset since
	Priority Priority   `json:"priority"`
	Run      int        `json:"run"`
	Raised   time.Time  `json:"raised"`          // when the condition last began
	Changed  time.Time  `json:"changed"`         // when the state last changed
	Until    *time.Time `json:"until,omitempty"` // shelved until
	By       string     `json:"by,omitempty"`    // who last acted
	Reason   string     `json:"reason,omitempty"`
	Text     string     `json:"text"`

	TextUS     string `json:"text_us,omitempty"` // as in analysis.Event
	TextMetric string `json:"text_metric,omitempty"`

	Likely []analysis.Likely `json:"likely,omitempty"`
}

// Action is what causes a transition.
type Action string

// The actions: Raise and Clear are the analysis's, ShelfExpired is the clock's, Suppress and Unsuppress
// are the logic's of whoever designed the suppression, the others are people's.
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
	Suppress      Action = "suppress by design"
	Unsuppress    Action = "end suppression"
)

// Transition is one change of state, as journaled and as notified.
type Transition struct {
	At     time.Time `json:"at"`
	From   State     `json:"from"`
	Action Action    `json:"action"`
	Alarm            // after the change

	// Cleared is what the analysis said when it cleared the fault; Alarm.Text stays what was wrong.
	Cleared string `json:"cleared,omitempty"`
}
