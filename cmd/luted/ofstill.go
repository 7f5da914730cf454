package main

import (
	"bufio"
	"fmt"
	"io"
	"os"

	"luted/collector/archive"
	"luted/config"
)

// ofStill are the flags of the commands about one still.
type ofStill struct {
	Config string `required:"" short:"c" placeholder:"FILE" help:"Configuration."`
	Still  string `short:"s" placeholder:"NAME" help:"Still of the configuration; may be left out if there is only one."`
}

// load reads the configuration and finds the still.
func (o ofStill) load() (*config.Config, *config.Still, error) {
	cfg, _, err := load(o.Config)
	if err != nil {
		return nil, nil, err
	}
	switch {
	case o.Still != "":
		st, err := stillOf(cfg, o.Still)
		return cfg, st, err
	case len(cfg.Stills) == 1:
		return cfg, cfg.Stills[0], nil
	}
	return nil, nil, usageError{fmt.Errorf("%s has %d stills: say which with --still", cfg.File, len(cfg.Stills))}
}

// recording is a recording that is being read.
type recording struct {
	*archive.RecordingReader
	name  string // for messages
	close func() error
}

// openRecording opens a file, or standard input for "-", and reads its header.
func openRecording(file string, stdin io.Reader) (recording, error) {
	r := recording{name: file, close: func() error { return nil }}
	in := stdin
	if file == "-" {
		r.name = "standard input"
	} else {
		f, err := os.Open(file)
		if err != nil {
			return r, err
		}
		in, r.close = f, f.Close
	}
	var err error
	if r.RecordingReader, err = archive.ReadRecording(bufio.NewReaderSize(in, 1<<16), r.name); err != nil {
		r.close()
	}
	return r, err
}
