package dashboards

import (
	"context"
	"errors"
	"fmt"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/archive"
	"luted/config"
)

// Reports makes batch records and monthly sums from an archive. Everything in them comes from the journal
// and the configuration, so the page, the command line and a copy of the archive on another machine show
// the same.
type Reports struct {
	Site    config.Site
	Prices  config.Prices // of what a person has entered; zero: it is put into no money
	Stills  []*config.Still
	Archive interface {
		Entries(ctx context.Context, q archive.EntryQuery) ([]archive.Entry, error)
		Head(ctx context.Context) (archive.Head, error)
	}
	Simulated bool             // the stills are not real equipment
	Display   analysis.Display // of the texts; empty: the site's
	Now       func() time.Time // nil: time.Now
}

// ErrNoRun says that a still has no such run.
var ErrNoRun = errors.New("no such run")

func (r Reports) entering() entering { return entering{r.Prices, r.Site.Display} }

func (r Reports) still(name string) (*config.Still, error) {
	for _, s := range r.Stills {
		if s.Name == name {
			return s, nil
		}
	}
	return nil, fmt.Errorf("there is no still %q", name)
}

// place is the head of a report.
func (r Reports) place(ctx context.Context) (placeView, error) {
	head, err := r.Archive.Head(ctx)
	if err != nil {
		return placeView{}, err
	}
	head.At = stamp(head.At)
	p := placeView{Site: r.Site.Name, Display: r.Display, Simulated: r.Simulated, Head: head, zone: r.Site.TimeZone}
	if p.Display == "" {
		p.Display = r.Site.Display
	}
	if p.Display == "" {
		p.Display = analysis.Metric
	}
	if p.zone == nil {
		p.zone = time.UTC
	}
	p.TimeZone = zoneName(p.zone)
	now := time.Now
	if r.Now != nil {
		now = r.Now
	}
	p.Made = stamp(now())
	return p, nil
}

// LastRun is the number of the still's last run, whether or not it has ended; 0 if there was none.
func (r Reports) LastRun(ctx context.Context, still string) (int, error) {
	q := archive.EntryQuery{Still: still, Kind: archive.EventEntry, Newest: true, Limit: 200}
	for {
		entries, err := r.Archive.Entries(ctx, q)
		if err != nil {
			return 0, err
		}
		for _, e := range entries {
			if e.Run > 0 {
				return e.Run, nil
			}
		}
		if len(entries) < q.Limit {
			return 0, nil
		}
		q.BeforeSeq = entries[len(entries)-1].Seq
	}
}

// Record puts the batch record of a run together. A run of which the journal knows nothing but what people
// have entered is one that has not begun; ErrNoRun if it knows nothing at all.
func (r Reports) Record(ctx context.Context, still string, run int) (*Record, error) {
	st, err := r.still(still)
	if err != nil {
		return nil, err
	}
	entries, err := r.Archive.Entries(ctx, archive.EntryQuery{Still: still, Run: run})
	if err != nil {
		return nil, err
	}
	if run < 1 || len(entries) == 0 {
		return nil, fmt.Errorf("%w: still %s has no run %d", ErrNoRun, still, run)
	}
	return r.record(ctx, st, run, entries)
}

// Upcoming is the record of the run that is to come, of which the journal may know nothing yet.
func (r Reports) Upcoming(ctx context.Context, still string, run int) (*Record, error) {
	rec, err := r.Record(ctx, still, run)
	if !errors.Is(err, ErrNoRun) || run < 1 {
		return rec, err
	}
	st, err := r.still(still)
	if err != nil {
		return nil, err
	}
	return r.record(ctx, st, run, nil)
}

func (r Reports) record(ctx context.Context, st *config.Still, run int, entries []archive.Entry) (*Record, error) {
	place, err := r.place(ctx)
	if err != nil {
		return nil, err
	}
	rec := &Record{
		placeView: place, Still: st.Name, Run: run, State: runNotBegun,
		Phases: []spanView{}, Faults: []RecordFault{}, Alarms: []RecordAlarm{}, Figures: []RecordFigure{}, Notes: []RecordNote{},
		Cautions: recordCautions(),
	}
	j, err := readRun(entries)
	if err != nil {
		return nil, err
	}
	j.tell(rec)
	lists, err := r.Archive.Entries(ctx, archive.EntryQuery{Still: st.Name, Kind: archive.CheckListEntry})
	if err != nil {
		return nil, err
	}
	if rec.Checks, err = checksOfRun(st, rec, j.checks, lists); err != nil {
		return nil, err
	}
	rec.Fields = fieldsOf(st, place.Display, j)
	rec.Summary = r.entering().present(st, j.summary, rec.Fields)
	rec.Figures = figuresOf(rec.Summary, place.Display)
	return rec, nil
}

// recordCautions stand at the foot of every record.
func recordCautions() []string {
	return []string{solvent.GeneralCautions[1], "luted only reads. It is no safety system and replaces no interlock, gauge or procedure."}
}
