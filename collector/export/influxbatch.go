package export

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"time"

	"luted/analysis"
	"luted/collector/archive"
)

// batch is what is written next, and where the cursor stands after it.
type batch struct {
	points []point
	cursor archive.Cursor
	moved  bool // the cursor is another than before
	full   bool // the archive holds more
}

func (b batch) empty() bool { return !b.moved }

var errEnough = errors.New("enough for one batch")

// next reads a batch: of every still its next scans, each still getting an equal share of the room so
// that none waits for another's backlog, and the next entries of the journal.
func (x *Influx) next(ctx context.Context) (batch, error) {
	b := batch{cursor: archive.Cursor{Seq: x.cursor.Seq, Scans: maps.Clone(x.cursor.Scans)}}
	if b.cursor.Scans == nil {
		b.cursor.Scans = make(map[string]time.Time)
	}
	stills, err := x.source.Stills(ctx)
	if err != nil {
		return b, err
	}
	share := max(1, x.cfg.Batch/max(1, len(stills)))
	for _, still := range stills {
		if err := x.scans(ctx, &b, still, share); err != nil {
			return b, err
		}
	}
	return b, x.entries(ctx, &b)
}

func (x *Influx) scans(ctx context.Context, b *batch, still string, share int) error {
	read := 0
	err := x.source.ReadScans(ctx, still, x.cursor.Scans[still], time.Time{}, func(l archive.Layout, s analysis.Scan) error {
		if read == share {
			b.full = true
			return errEnough
		}
		read++
		if p, ok := x.maker.scan(still, l, s); ok {
			b.points = append(b.points, p)
		}
		b.cursor.Scans[still] = s.At
		b.moved = true
		return nil
	})
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}

func (x *Influx) entries(ctx context.Context, b *batch) error {
	es, err := x.source.Entries(ctx, archive.EntryQuery{AfterSeq: x.cursor.Seq, Kind: archive.EventEntry, Limit: x.cfg.Batch})
	if err != nil {
		return err
	}
	b.full = b.full || len(es) == x.cfg.Batch
	for _, e := range es {
		var ev analysis.Event
		if err := json.Unmarshal(e.Body, &ev); err != nil {
			why := fmt.Errorf("entry %d of the journal is no event: %w", e.Seq, err)
			bad := rejection{point{still: e.Still, seq: e.Seq, line: string(e.Body)}, why}
			if err := x.putAside(ctx, []rejection{bad}); err != nil {
				return err
			}
		} else if p, ok := x.maker.event(e.Seq, ev); ok {
			b.points = append(b.points, p)
		}
		b.cursor.Seq = e.Seq
		b.moved = true
	}
	return nil
}
