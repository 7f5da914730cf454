package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"luted/analysis"
	"luted/config"
)

// account tells a replay to people: what happened when, in local time, and each run's figures with
// their units.
type account struct {
	w       io.Writer
	zone    *time.Location
	display analysis.Display
	day     string
	scans   int
	first   time.Time
	last    time.Time
	err     error
}

func newAccount(w io.Writer, cfg *config.Config, st *config.Still, name string, chs []analysis.Channel) *account {
	a := &account{w: w, zone: cfg.Site.TimeZone, display: cfg.Site.Display}
	var names []string
	for _, ch := range chs {
		names = append(names, ch.Name)
	}
	zone := "the time zone " + a.zone.String()
	if a.zone == time.Local {
		zone = "this machine's time zone"
	}
	a.printf("%s, analysed as still %s. Times are in %s.\n", name, st.Name, zone)
	a.printf("Channels: %s.\n", strings.Join(names, ", "))
	return a
}

func (a *account) printf(format string, args ...any) {
	if a.err == nil {
		_, a.err = fmt.Fprintf(a.w, format, args...)
	}
}

func (a *account) scan(s analysis.Scan) {
	if a.scans == 0 {
		a.first = s.At
	}
	a.scans++
	a.last = s.At
}

func (a *account) event(e analysis.Event) error {
	switch e.Kind {
	case analysis.PhaseEvent:
		a.line(e.At, "%s%s", runPrefix(e), e.Phase)
	case analysis.FaultEvent:
		a.fault(e)
	case analysis.RunEvent:
		a.run(e)
	}
	return a.err
}

func (a *account) end() error {
	if a.scans == 0 {
		a.printf("\nNo scans.\n")
		return a.err
	}
	span := a.last.Sub(a.first).Round(time.Second)
	a.printf("\n%d scans from %s to %s (%s).\n", a.scans, a.clock(a.first), a.clock(a.last), config.FormatDuration(span))
	return a.err
}

// line prints a moment and what happened, under a heading for each day.
func (a *account) line(at time.Time, format string, args ...any) {
	local := at.In(a.zone)
	if day := local.Format("Monday 2 January 2006"); day != a.day {
		a.day = day
		a.printf("\n%s\n", day)
	}
	a.printf("  %s  %s\n", local.Format("15:04:05"), fmt.Sprintf(format, args...))
}

// clock is a time with its day.
func (a *account) clock(at time.Time) string { return at.In(a.zone).Format("2 Jan 2006 15:04:05") }

func (a *account) fault(e analysis.Event) {
	channel := ""
	if e.Channel != "" {
		channel = " (" + e.Channel + ")"
	}
	word := string(e.Fault) + channel
	if e.State == analysis.Cleared {
		word += " cleared"
	}
	a.line(e.At, "%s%s: %s", runPrefix(e), word, e.Text)
	for _, l := range e.Likely {
		a.detail("%3.0f %%  %s: %s", 100*l.Weight, l.Cause, l.Because)
	}
}

func (a *account) detail(format string, args ...any) {
	a.printf("              %s\n", fmt.Sprintf(format, args...))
}

// run prints the summary of a run.
func (a *account) run(e analysis.Event) {
	s := e.Summary
	if s == nil {
		return
	}
	ended := "ended"
	if s.Open {
		ended = "still open at the end of the recording"
	}
	took := s.End.Sub(s.Start).Round(time.Second)
	a.line(e.At, "Run %d %s after %s: %s", e.Run, ended, config.FormatDuration(took), s.Verdict)
	if s.Why != "" {
		a.detail("%s", s.Why)
	}
	for _, row := range summaryRows(s, a.display, a.zone) {
		a.detail("%-24s %s", row.what, row.figure)
	}
}

func runPrefix(e analysis.Event) string {
	if e.Run == 0 {
		return ""
	}
	return fmt.Sprintf("Run %d: ", e.Run)
}
