package main

import (
	"context"
	"os"

	"luted/collector/modbus"
)

type runCommand struct {
	logFlags
	Config string `required:"" short:"c" placeholder:"FILE" help:"Configuration."`
}

func (runCommand) Help() string {
	return `Reads every still on its beat, says what is going on, keeps it all in the archive, serves the page,
the API and the metrics, and tells people and databases as configured. Runs until it is interrupted or
terminated; then it stores what it has read and goes. A second signal ends it at once, which loses at
most the last second.

Under systemd use Type=notify; WatchdogSec is served.`
}

// Run watches until ctx ends.
func (c runCommand) Run(ctx context.Context, s streams) error {
	cfg, warnings, err := load(c.Config)
	if err != nil {
		return err
	}
	log := c.logger(s.err)
	for _, w := range warnings {
		log.Warn(w.Text, "at", w.Pos.String())
	}
	log.Info("luted "+version(), "config", cfg.File, "site", cfg.Site.Name, "pid", os.Getpid())
	a, err := openArchive(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer closeArchive(a, log)
	return daemon{cfg: cfg, archive: a, clock: modbus.SystemClock{}, log: log}.serve(ctx)
}
