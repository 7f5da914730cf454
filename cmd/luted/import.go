package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"luted/analysis"
	"luted/collector"
	"luted/collector/archive"
	"luted/collector/modbus"
	"luted/config"
)

type importCommand struct {
	logFlags
	ofStill
	File string `arg:"" name:"file.csv" help:"Recording, or - for standard input."`
}

func (importCommand) Help() string {
	return `The recording's scans take the same path as live ones: they are analysed, journaled and stored, and
outlets carry them on when luted runs again. They must be later than everything the archive has of the
still. The channels must be the configuration's; one that the recording has not is stored as missing, and
one that only the recording has is refused.

luted must not be running on the archive. Alarms that are raised on the way are journaled with the
recording's times.`
}

// Run reads the recording into the archive.
func (c importCommand) Run(ctx context.Context, s streams) error {
	cfg, st, err := c.load()
	if err != nil {
		return err
	}
	rec, err := openRecording(c.File, s.in)
	if err != nil {
		return err
	}
	defer rec.close()
	place, err := columns(st, rec.Channels(), rec.name)
	if err != nil {
		return err
	}
	log := c.logger(s.err)
	a, err := openArchive(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer closeArchive(a, log)
	pipeline, err := collector.New(cfg, a, collector.Options{Log: log})
	if err != nil {
		return err
	}
	if err := pipeline.Recover(ctx); err != nil {
		return err
	}
	n, err := ingest(ctx, pipeline, st, rec.RecordingReader, place)
	if ferr := pipeline.Flush(ctx); err == nil {
		err = ferr
	}
	if err != nil {
		return fmt.Errorf("after %s: %w", count(n, "scan"), err)
	}
	fmt.Fprintf(s.err, "%s of still %s\n", count(n, "scan"), st.Name)
	return a.Maintain(ctx)
}

// columns says for each channel of the still which column of the recording holds it; -1: none.
func columns(st *config.Still, chs []analysis.Channel, name string) ([]int, error) {
	place := make([]int, len(st.Channels))
	for i := range place {
		place[i] = -1
	}
	var errs []error
	for j, ch := range chs {
		found := false
		for i, known := range st.Channels {
			if known.Name == ch.Name && known.Dimension == ch.Dimension {
				place[i], found = j, true
			}
		}
		if !found {
			errs = append(errs, fmt.Errorf("%s:1: still %s has no channel %q measuring %s; add it to the configuration or take the column out",
				name, st.Name, ch.Name, ch.Dimension))
		}
	}
	return place, errors.Join(errs...)
}

func ingest(ctx context.Context, c *collector.Collector, st *config.Still, rec *archive.RecordingReader, place []int) (n int, err error) {
	var scan analysis.Scan
	for {
		if err := ctx.Err(); err != nil {
			return n, err
		}
		err := rec.Next(&scan)
		if errors.Is(err, io.EOF) {
			return n, nil
		}
		if err != nil {
			return n, err
		}
		values := make([]analysis.Value, len(place))
		for i, j := range place {
			if j < 0 {
				values[i].Quality = analysis.Missing
				continue
			}
			values[i] = scan.Values[j]
		}
		if err := c.Ingest(ctx, modbus.Sweep{Still: st.Name, At: scan.At, Values: values}); err != nil {
			return n, err
		}
		n++
	}
}
