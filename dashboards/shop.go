package dashboards

import (
	"context"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/config"
)

// Shop is the running pipeline as the page sees it. Every method may be called at any time and from
// several goroutines at once.
type Shop interface {
	// Stills returns all stills in the order of the configuration, as they are now. The caller keeps it:
	// nothing in it may change afterwards, except what Config points to, which never changes at all.
	Stills() []StillView

	// Do carries out what a person does about an alarm, and journals it; once it has returned, Stills shows
	// it. collector.ErrNotStored means done but not stored yet; any other error says why it cannot be done
	// in the state that the alarm is in.
	Do(ctx context.Context, c alarm.Command) error

	Recorder

	// Done journals that somebody has done an upkeep of a still, whose counter then begins anew. Errors as for
	// Do.
	Done(ctx context.Context, still, upkeep, by string) error

	// Subscribe returns a channel that says that there is something new, until the function is called. An
	// Update is a hint: several may be merged into one and any may be dropped when the reader is slow, as
	// state is always read afresh from Stills and entries from the archive. Neither side waits for the
	// other. The channel may be closed, by a pipeline that ends or that has dropped a slow reader; the
	// page then subscribes again.
	Subscribe() (<-chan Update, func())
}

// Update says that something has changed.
type Update struct {
	Seq int64 // the newest journal entry that is durable; 0: not known
}

// StillView is one still at the present moment.
type StillView struct {
	// Config is what it is and how it is read.
	Config *config.Still
	// Scan is the latest scan; Values runs parallel to Config.Channels. A zero At: none yet.
	Scan analysis.Scan
	// LastGood is when each channel last had a good value, parallel to Config.Channels; a zero time, or
	// nil altogether, means not known.
	LastGood []time.Time
	// Status is what the analysis says of it.
	Status analysis.Status
	// Memory is what the analysis has learned and counted.
	Memory analysis.Memory
	// Alarms are its alarms; those that are Normal may be left out, and are not shown.
	Alarms []alarm.Alarm
	// Raw is what the device sent last for each channel, parallel to Config.Channels: registers as they came,
	// or one 0 or 1. Nil, or nil for a channel: not known.
	Raw [][]uint16
	// NotStored says that the archive cannot be written, so that the newest of this is in memory only.
	NotStored bool
}
