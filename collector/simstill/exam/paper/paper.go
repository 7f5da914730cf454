// Package paper says what a recording of an exam is: scans to be watched, and what was true while they were
// made. The plants that make recordings and the exam that marks them meet here and share nothing else.
//
// The invariant: a recording carries its own truth from the books of the plant that made it, never from
// anything the analysis said.
package paper

import (
	"iter"
	"time"

	"luted/analysis"
)

// Recording is one recording of one still: some hours to some weeks.
type Recording struct {
	Case  string         // what it shows, in a few words; the same for recordings that differ by seed only
	Set   string         // sensor set: two, typical or full
	Seed  uint64         // makes the same recording again
	Still analysis.Still // what its configuration states
	Poll  time.Duration

	// Scans yields the scans in order. The values are reused: copy what is to be kept. It can be ranged over once.
	Scans iter.Seq[analysis.Scan]
	// Err is what ended Scans early, if anything did. Nil: nothing can.
	Err func() error
	// Truth is to be asked when Scans has ended.
	Truth func() Truth
}

// Truth is what was true while a recording was made.
type Truth struct {
	Runs   []Run
	Phases []Phase // every change, in order; the first at the first scan
}

// Phase is what the still was doing from a moment on.
type Phase struct {
	At    time.Time
	Phase analysis.Phase
}

// Run is one true run. What does not exist or is not defined for the run is the zero time or NaN.
type Run struct {
	Start, End time.Time // first of heat and vacuum called for; hands off, cooled or vented, as the plant has it
	PumpStart  time.Time // when the pressure should have begun to fall
	Complete   bool      // it ended inside the recording

	TauS       float64 // time constant of the ejector with the still, s
	EndKPa     float64 // pressure at which this pump-down levels off before the charge boils, kPa absolute
	LeakMbarLS float64 // air coming in at the end pressure, mbar·L/s; 0 if tight
	TargetMet  bool    // the true pressure came to the target in the stated time

	DryAt      time.Time // the last of the solvent that can be had has left the pot
	EnergyKWh  float64   // at the heater's terminals
	RecoveredL float64   // distillate, at 20 °C, L

	Faults []Fault // what was wrong in this run; empty: a healthy run, in which nothing may be raised but what Allowed says
	// Allowed are faults that a careful expert could call as well, or not: neither marked right nor wrong.
	Allowed []analysis.Fault
}

// Fault is one thing that was wrong.
type Fault struct {
	Names []analysis.Fault // any of these is right
	Cause analysis.Cause   // the top cause that is right; empty: not to be told from these channels, or no causes given
	From  time.Time        // when it began to show in the pressure or temperature
	Due   bool             // these channels show it to a careful expert with the whole recording at hand: it must be found
}
