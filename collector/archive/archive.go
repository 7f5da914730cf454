// Package archive keeps everything a shop wants to have kept: scans, events, alarm states, notes, and
// how far each outlet has read, in one SQLite file.
//
// The idea: the archive is the spool. One Commit stores the scans, the events they caused, the alarm
// states that followed and the analysis memory together; outlets read on from their own cursors in the
// same file, at their own pace, so an outage of any length is caught up in order without a second queue.
//
// The invariants: after Commit returns, a power cut loses none of it. Scans of a still are strictly
// later than those before. Entries are never changed. A cursor never passes the last entry. Check walks
// the file and names whatever breaks them.
//
// Scans are first rows, one each. Maintain seals them into segments: some thousand scans of one still,
// column by column, compressed, with a checksum and their summaries by the minute and the hour. It also
// drops the oldest when they are too old or too many. Reading makes no difference between the two.
//
// Recordings are scans as CSV: ReadRecording and RecordingWriter, Import and Export. What goes out comes
// back to the bit, and what comes in goes out to the byte.
package archive

import (
	"encoding/json"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
)

// Scan is a scan with the still it belongs to.
type Scan struct {
	Still string
	analysis.Scan
}

// Layout names the columns of a still's scans: the still's channels with the units they are recorded
// in. A layout never changes; a new configuration makes a new one, and old scans keep theirs.
type Layout struct {
	Columns []Column
}

// Column is one channel of a layout.
type Column struct {
	Name      string             `json:"name"`
	Dimension analysis.Dimension `json:"dimension"`
	Unit      string             `json:"unit"` // recorded unit; values are kept in the inside unit all the same
}

// Kind is the kind of a journal entry.
type Kind string

// The kinds. The body of the first is an analysis.Event, of the second an alarm.Transition, of the
// third a Note, of the fourth an analysis.Act.
const (
	EventEntry Kind = "event"
	AlarmEntry Kind = "alarm"
	NoteEntry  Kind = "note"
	ActEntry   Kind = "act"
)

// Entry is one line of the journal. Entries are numbered in the order in which they were committed.
type Entry struct {
	Seq   int64           `json:"seq"` // given by Commit, from 1, without gaps
	At    time.Time       `json:"at"`
	Still string          `json:"still"`
	Run   int             `json:"run"`
	Kind  Kind            `json:"kind"`
	Body  json.RawMessage `json:"body"`
}

// Note is what a person wrote about a still or a run.
type Note struct {
	By   string `json:"by"`
	Text string `json:"text"`
}

// Rest is where the analysis of a still can start again: New(still, Memory), then all scans later than At.
type Rest struct {
	At     time.Time
	Memory json.RawMessage
}

// Batch is one transaction.
type Batch struct {
	Scans   []Scan          // in time order for each still
	Entries []Entry         // Seq is ignored on the way in
	Alarms  []alarm.Alarm   // the whole present state of each alarm that changed
	Rests   map[string]Rest // by still
}
