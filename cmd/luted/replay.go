package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"luted/analysis"
	"luted/collector"
	"luted/collector/archive"
	"luted/config"
)

type replayCommand struct {
	ofStill
	JSON    bool   `name:"json" help:"Print one JSON object for each event instead of an account to read."`
	Figure  string `placeholder:"FILE" help:"Draw each run as a picture: FILE.svg, .png or .pdf. With several runs each has its number in the name."`
	Only    int    `name:"run" placeholder:"N" help:"Draw only this run."`
	Zone    string `placeholder:"ZONE" help:"Time zone of the account and the figure, such as America/Denver; the site's if left out."`
	Display string `placeholder:"UNITS" enum:"us,metric," default:"" help:"Units of texts, account and figure: us or metric; the site's if left out."`
	File    string `arg:"" name:"file.csv" help:"Recording, or - for standard input."`
}

func (replayCommand) Help() string {
	return `A recording is a CSV file. Its first column is time (RFC 3339); each other column is headed by a
channel's name and its unit in brackets:

  time,jacket_temperature [°F],still_vacuum [inHg],heater_power [kW],lid_closed

The recording's header gives the channels; the configuration's entry for the still gives the equipment,
the recipe and the channels' limits. Nothing is stored and nobody is told.

What luted says about a recording is what it said, or would have said, live: the same scans give the
same events, byte for byte. A run that is still going on at the end is summed up as open.`
}

// Run replays the recording.
func (c replayCommand) Run(ctx context.Context, s streams) error {
	cfg, st, err := c.load()
	if err != nil {
		return err
	}
	rec, err := openRecording(c.File, s.in)
	if err != nil {
		return err
	}
	defer rec.close()
	out := bufio.NewWriter(s.out)
	defer out.Flush()
	v, err := c.reading(cfg, st)
	if err != nil {
		return err
	}
	if err := st.CheckRecorded(rec.Channels()); err != nil {
		return usageError{fmt.Errorf("%s:1: %w", rec.name, err)}
	}
	eq := st.Recorded(rec.Channels())
	eq.Display = v.display
	var to teller = jsonTeller{out}
	if !c.JSON {
		to = newAccount(out, v, rec.name, rec.Layout())
	}
	if c.Figure != "" {
		if to, err = newPictures(c.Figure, c.Only, to, pictureTitle(cfg, st), eq, v, s.err); err != nil {
			return err
		}
	} else if c.Only != 0 {
		return usageError{errors.New("--run says which run is drawn: write --figure too")}
	}
	if err := replay(ctx, rec.RecordingReader, eq, to, out.Flush); err != nil {
		return err
	}
	return out.Flush()
}

// reading is how people read a replay.
type reading struct {
	still   *config.Still
	zone    *time.Location
	display analysis.Display
}

// reading is what the site says, unless the command line says otherwise.
func (c replayCommand) reading(cfg *config.Config, st *config.Still) (reading, error) {
	v := reading{st, cfg.Site.TimeZone, cfg.Site.Display}
	if c.Display != "" {
		v.display = analysis.Display(c.Display)
	}
	if c.Zone != "" {
		zone, err := time.LoadLocation(c.Zone)
		if err != nil {
			return v, usageError{fmt.Errorf("--zone: %q: no such time zone; write a name such as America/Denver, Europe/Madrid or UTC", c.Zone)}
		}
		v.zone = zone
	}
	return v, nil
}

// teller tells what the analysis says.
type teller interface {
	scan(s analysis.Scan, now func() analysis.Status) // after the analysis has taken it; valid until it returns
	event(analysis.Event) error
	end() error
}

// replay feeds the recording to the analysis. flush is called whenever something was told, so that a
// recording that is still growing can be followed.
func replay(ctx context.Context, rec *archive.RecordingReader, eq analysis.Still, to teller, flush func() error) error {
	a := analysis.New(eq, analysis.Memory{})
	now := a.Status
	var scan analysis.Scan // its memory is used again for each
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		err := rec.Next(&scan)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		events := a.Step(scan)
		to.scan(scan, now)
		if err := tell(to, events); err != nil {
			return err
		}
		if len(events) > 0 {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	if err := tell(to, a.Finish()); err != nil {
		return err
	}
	return to.end()
}

func tell(to teller, events []analysis.Event) error {
	for _, e := range events {
		if err := to.event(e); err != nil {
			return err
		}
	}
	return nil
}

// jsonTeller prints one JSON object a line: the form of the journal.
type jsonTeller struct{ w io.Writer }

func (t jsonTeller) scan(analysis.Scan, func() analysis.Status) {}
func (t jsonTeller) end() error                                 { return nil }

func (t jsonTeller) event(e analysis.Event) error {
	b, err := collector.EncodeEvent(e)
	if err != nil {
		return err
	}
	_, err = t.w.Write(append(b, '\n'))
	return err
}
