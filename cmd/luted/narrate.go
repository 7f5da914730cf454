package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"luted/analysis"
	"luted/collector"
	"luted/config"
)

// narrate tells what happens while it happens, a line for each event, until ctx ends. A terminal that
// stands still for long is dropped by the pipeline; it is told again from then on.
func narrate(ctx context.Context, w io.Writer, cfg *config.Config, subscribe func() (<-chan collector.Update, func())) {
	for ctx.Err() == nil {
		updates, end := subscribe()
		narrateUpdates(w, cfg, updates)
		end()
		select {
		case <-ctx.Done():
		case <-time.After(time.Second):
			fmt.Fprintln(w, "(some lines may be missing here; the page has them all)")
		}
	}
}

// narrateUpdates writes until updates is closed.
func narrateUpdates(w io.Writer, cfg *config.Config, updates <-chan collector.Update) {
	for u := range updates {
		for _, e := range u.Events {
			if line := sentence(e); line != "" {
				fmt.Fprintf(w, "%s  %s: %s\n", e.At.In(cfg.Site.TimeZone).Format("15:04:05"), e.Still, line)
			}
		}
	}
}

// sentence is an event in one line.
func sentence(e analysis.Event) string {
	switch e.Kind {
	case analysis.PhaseEvent:
		return string(e.Phase)
	case analysis.FaultEvent:
		word := string(e.Fault)
		if e.Channel != "" {
			word += " (" + e.Channel + ")"
		}
		if e.State == analysis.Cleared {
			word += " cleared"
		}
		return word + ": " + e.Text
	case analysis.RunEvent:
		if e.Summary != nil {
			return fmt.Sprintf("run %d ended: %s. %s", e.Run, e.Verdict, e.Why)
		}
	}
	return ""
}
