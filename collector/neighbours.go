package collector

import (
	"context"
	"time"

	"luted/analysis"
	"luted/analysis/alarm"
	"luted/collector/archive"
	"luted/collector/modbus"
)

// store is what the pipeline asks of the archive. Commit is one transaction: nil means that all of the
// batch is durable. Never called concurrently, but for Maintain.
type store interface {
	SetLayout(ctx context.Context, still string, l archive.Layout) error
	Commit(ctx context.Context, b archive.Batch) (lastSeq int64, err error)
	ReadScans(ctx context.Context, still string, from, to time.Time, fn func(archive.Layout, analysis.Scan) error) error
	LastScan(ctx context.Context, still string) (time.Time, error)
	Entries(ctx context.Context, q archive.EntryQuery) ([]archive.Entry, error)
	Alarms(ctx context.Context) ([]alarm.Alarm, error)
	Rest(ctx context.Context, still string) (archive.Rest, bool, error)
	Maintain(ctx context.Context) error
	Cursor(ctx context.Context, outlet string) (archive.Cursor, error)
	LastSeq(ctx context.Context) (int64, error)
	Stats(ctx context.Context) (archive.Stats, error)
}

// fold is what the pipeline asks of the analysis of one still; see analysis.Analyser.
type fold interface {
	Step(analysis.Scan) []analysis.Event
	Act(analysis.Act) []analysis.Event
	Now() analysis.Memory
	Status() analysis.Status
	Memory() (analysis.Memory, time.Time)
}

// poller reads the stills of one line until ctx ends, and returns only when nothing it started is
// alive. It hands over each sweep with its values; out may block.
type poller interface {
	Run(ctx context.Context, out func(modbus.Sweep)) error
}

// Outlet carries what the archive holds to somewhere else, from the cursor of its name, until ctx ends.
// An error ends it for the moment: it is logged, and the outlet is started again after a pause.
type Outlet interface {
	Name() string
	Run(ctx context.Context) error
}
