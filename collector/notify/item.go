package notify

import (
	"encoding/json"
	"fmt"
	"time"

	"luted/analysis/alarm"
	"luted/collector/archive"
)

// Item is one alarm transition with its number in the journal.
type Item struct {
	Seq int64 `json:"seq"`
	alarm.Transition

	seen time.Time // when we read it, by our own clock
}

// decode reads an alarm entry of the journal.
func decode(e archive.Entry) (Item, error) {
	it := Item{Seq: e.Seq}
	if err := json.Unmarshal(e.Body, &it.Transition); err != nil {
		return Item{}, fmt.Errorf("entry %d of the journal is no alarm transition: %w", e.Seq, err)
	}
	if it.Still == "" || it.Action == "" {
		return Item{}, fmt.Errorf("entry %d of the journal is no alarm transition: it names no still or no action", e.Seq)
	}
	return it, nil
}

// appears reports whether the transition shows people an alarm they have not taken note of.
func (it Item) appears() bool { return it.State == alarm.Unacknowledged }

// returns reports whether the condition went away.
func (it Item) returns() bool { return it.Action == alarm.Clear }

// hides reports whether the alarm was taken from people's eyes.
func (it Item) hides() bool {
	switch it.Action {
	case alarm.Shelve, alarm.RemoveService, alarm.Suppress:
		return true
	}
	return false
}

// forPeople reports whether a person who is not at the page should hear of it: what another person just
// did with the alarm on the page (acknowledge, reset, unshelve a quiet one) is no news.
func (it Item) forPeople() bool { return it.appears() || it.returns() || it.hides() }

// urgent reports whether it must not wait for others.
func (it Item) urgent() bool { return it.appears() && it.Priority == alarm.High }
