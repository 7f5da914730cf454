package archive

import "encoding/json"

// The kinds of what people do and write, beside NoteEntry. Their bodies are CheckList, Check and Amend.
const (
	CheckListEntry Kind = "check-list" // the start checks of a still, whenever they have changed
	CheckEntry     Kind = "check"      // a start check ticked, or a tick taken back
	AmendEntry     Kind = "amend"      // a value of a run's record: entered, corrected or taken back
)

// CheckList is the list of start checks of a still from its entry on. It is journaled whenever the
// configuration has changed it, so that the record of an old run shows the list of its own day, with what
// was not ticked.
type CheckList struct {
	Checks []string `json:"checks"`
}

// Check is one start check, ticked or with its tick taken back. The entry's run is the run it is for, which
// may not have begun yet.
type Check struct {
	Check string `json:"check"` // as it stood on the list
	Done  bool   `json:"done"`  // false: the tick is taken back
	By    string `json:"by"`
}

// Amend is a value that a person has put into the record of a run. Nothing is ever changed: a correction is
// a new entry, which names what stood there before.
type Amend struct {
	Field string `json:"field"`
	Old   string `json:"old,omitempty"` // what stood there before, as people read it; empty: nothing
	New   string `json:"new,omitempty"` // as the person wrote it; empty: the value is taken back
	// Number is New in Unit, an inside unit (L, kg); nil for words.
	Number *float64 `json:"number,omitempty"`
	Unit   string   `json:"unit,omitempty"`
	By     string   `json:"by"`
	Why    string   `json:"why,omitempty"` // of a correction
}

// Body reads the body of an entry.
func Body[T any](e Entry) (T, error) {
	var v T
	err := json.Unmarshal(e.Body, &v)
	return v, err
}
