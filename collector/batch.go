package collector

import (
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
)

// batch gathers what the next commit will store, and what people will be told once it is stored.
type batch struct {
	scans       []archive.Scan
	entries     []archive.Entry
	alarms      []alarm.Alarm // each alarm once, as it is now
	alarmAt     map[alarm.Key]int
	rests       map[string]archive.Rest
	events      []analysis.Event
	transitions []alarm.Transition
	touched     map[string]bool // stills

	since time.Time // real time when the oldest part came in; zero if empty
	tried mark      // how much of it a failed commit has tried to store
	told  int       // scans that the metrics know of
}

// mark is a position in a batch.
type mark struct{ scans, entries int }

func newBatch() *batch {
	return &batch{alarmAt: map[alarm.Key]int{}, rests: map[string]archive.Rest{}, touched: map[string]bool{}}
}

func (b *batch) empty() bool { return b.since.IsZero() }

// touch notes that something of the still has come in.
func (b *batch) touch(still string, now time.Time) {
	if b.since.IsZero() {
		b.since = now
	}
	b.touched[still] = true
}

// setAlarms takes the present state of alarms that changed; what an earlier, failed commit left is
// overwritten.
func (b *batch) setAlarms(changed []alarm.Alarm) {
	for _, a := range changed {
		if i, ok := b.alarmAt[a.Key]; ok {
			b.alarms[i] = a
			continue
		}
		b.alarmAt[a.Key] = len(b.alarms)
		b.alarms = append(b.alarms, a)
	}
}

// archived is the batch as the archive takes it.
func (b *batch) archived() archive.Batch {
	return archive.Batch{Scans: b.scans, Entries: b.entries, Alarms: b.alarms, Rests: b.rests}
}

// dropOldest drops scans until at most keep are left and returns those that went. Events, alarm states
// and rest points stay: they are few, and they are what people look for afterwards.
func (b *batch) dropOldest(keep int) []archive.Scan {
	n := len(b.scans) - keep
	if n <= 0 {
		return nil
	}
	gone := b.scans[:n]
	b.scans = append([]archive.Scan(nil), b.scans[n:]...)
	b.tried.scans = max(0, b.tried.scans-n)
	b.told = max(0, b.told-n)
	return gone
}

// forgetTried removes what a failed commit had tried: it turned out to be stored after all.
func (b *batch) forgetTried() {
	b.scans = b.scans[b.tried.scans:]
	b.entries = b.entries[b.tried.entries:]
	b.told = max(0, b.told-b.tried.scans)
	b.tried = mark{}
}
