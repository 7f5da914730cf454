package dashboards

import (
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// Record is the batch record of one run, put together from the journal: what the analysis said, what
// people ticked, entered, corrected and did, each with who and when. Numbers are in inside units beside
// which the unit stands; texts are in the units of Display.
type Record struct {
	placeView
	Still   string           `json:"still"`
	Run     int              `json:"run"`
	State   string           `json:"state"` // ended, running, not begun
	Start   *time.Time       `json:"start,omitempty"`
	End     *time.Time       `json:"end,omitempty"`
	Open    bool             `json:"open,omitempty"` // nobody watched its end
	Verdict analysis.Verdict `json:"verdict,omitempty"`
	Why     string           `json:"why,omitempty"`

	Fields  []RecordField  `json:"fields"`
	Checks  RecordChecks   `json:"checks"`
	Phases  []spanView     `json:"phases"`
	Faults  []RecordFault  `json:"faults"`
	Alarms  []RecordAlarm  `json:"alarms"` // what happened to the alarms of the run, and who did it
	Figures []RecordFigure `json:"figures"`
	Notes   []RecordNote   `json:"notes"`
	// Summary is what the figures rest on: what the analysis journaled at the end of the run, with the
	// recovered volume that a person has entered, if one has.
	Summary *analysis.Summary `json:"summary,omitempty"`

	Cautions []string `json:"cautions"`
}

// placeView is what every report says about where and when it was made, and the anchor of the journal.
type placeView struct {
	Site      string           `json:"site"`
	TimeZone  string           `json:"time_zone"`
	Display   analysis.Display `json:"display"`
	Simulated bool             `json:"simulated,omitempty"`
	Made      time.Time        `json:"made"`
	// Head is the head of the journal's chain of hashes when the report was made.
	Head archive.Head `json:"head"`

	zone *time.Location
}

// The states of a run in its record.
const (
	runEnded    = "ended"
	runRunning  = "running"
	runNotBegun = "not begun"
)

// RecordField is one value that people may enter or correct, with how it came about.
type RecordField struct {
	Field  string   `json:"field"`
	Words  string   `json:"words"`
	Text   string   `json:"text,omitempty"` // the present value, with its unit; absent: not known
	Number *float64 `json:"number,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	U      *float64 `json:"standard_uncertainty,omitempty"` // in Unit
	// Basis is entered (by a person), configuration, or what the analysis measured or worked it out from:
	// volume, mass, flow, heat.
	Basis string     `json:"basis,omitempty"`
	By    string     `json:"by,omitempty"` // who entered the present value
	At    *time.Time `json:"at,omitempty"`
	Seq   int64      `json:"seq"` // of the last entry about it; 0: none
	// NeedsWhy says that another value would be a correction, which needs its reason.
	NeedsWhy bool           `json:"needs_why"`
	History  []RecordChange `json:"history,omitempty"` // oldest first
}

// RecordChange is one entry about a field.
type RecordChange struct {
	Seq int64     `json:"seq"`
	At  time.Time `json:"at"`
	By  string    `json:"by"`
	Old string    `json:"old,omitempty"`
	New string    `json:"new,omitempty"` // absent: taken back
	Why string    `json:"why,omitempty"`
}

// RecordChecks are the start checks of a run. They were recorded; nothing was locked.
type RecordChecks struct {
	List   []RecordCheck `json:"list"`
	Ticked int           `json:"ticked"` // of those that count
	Note   string        `json:"note,omitempty"`
}

// RecordCheck is one of them.
type RecordCheck struct {
	Check string     `json:"check"`
	Done  bool       `json:"done"`
	By    string     `json:"by,omitempty"` // of the last tick, or of who took it back
	At    *time.Time `json:"at,omitempty"`
	Note  string     `json:"note,omitempty"` // why a tick does not count, or that it was taken back
}

// RecordFault is a fault of the run.
type RecordFault struct {
	Fault   analysis.Fault    `json:"fault"`
	Words   string            `json:"words"`
	Channel string            `json:"channel,omitempty"`
	Raised  time.Time         `json:"raised"`
	Cleared *time.Time        `json:"cleared,omitempty"` // absent: not within the run
	Text    string            `json:"text"`
	Likely  []analysis.Likely `json:"likely,omitempty"`
}

// RecordAlarm is one thing that happened to an alarm.
type RecordAlarm struct {
	Seq      int64          `json:"seq"`
	At       time.Time      `json:"at"`
	Fault    analysis.Fault `json:"fault"`
	Words    string         `json:"words"`
	Channel  string         `json:"channel,omitempty"`
	Priority alarm.Priority `json:"priority"`
	Action   alarm.Action   `json:"action"`
	State    alarm.State    `json:"state"` // after it
	By       string         `json:"by,omitempty"`
	Reason   string         `json:"reason,omitempty"`
	Until    *time.Time     `json:"until,omitempty"`
}

// RecordFigure is one figure of the run with what it is worth.
type RecordFigure struct {
	Name  string   `json:"name"` // as in the summary
	Words string   `json:"words"`
	Value float64  `json:"value"`
	Unit  string   `json:"unit"`                           // inside unit
	U     *float64 `json:"standard_uncertainty,omitempty"` // in Unit, by the GUM
	Text  string   `json:"text"`                           // in the units of Display, with ± U
	Basis string   `json:"basis,omitempty"`
}

// RecordNote is what somebody wrote.
type RecordNote struct {
	Seq  int64     `json:"seq"`
	At   time.Time `json:"at"`
	By   string    `json:"by"`
	Text string    `json:"text"`
}
