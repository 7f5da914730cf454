package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector/archive"
	"luted/config"
)

// account tells a replay to people: what happened when, in local time, as it happens, and at the end of
// each run its phases, what was found and why, and its figures with unit, uncertainty and basis.
type account struct {
	printer
	zone    *time.Location
	display analysis.Display
	day     string
	scans   int
	first   time.Time
	last    time.Time
	faults  []foundFault      // of the present run
	answers []analysis.Answer // told at the end
}

// foundFault is a fault from when it was raised until it was cleared.
type foundFault struct {
	analysis.Event
	cleared time.Time // zero: it still stands
}

func newAccount(w io.Writer, v reading, name string, of archive.Layout) *account {
	a := &account{printer: printer{w: w}, zone: v.zone, display: v.display}
	var names []string
	for _, c := range of.Columns {
		names = append(names, c.Name)
	}
	zone := "the time zone " + a.zone.String()
	if a.zone == time.Local {
		zone = "this machine's time zone"
	}
	a.printf("%s, analysed as still %s. Times are in %s.\n", name, v.still.Name, zone)
	a.text("", "Channels: "+strings.Join(names, ", ")+".")
	a.differs(v.still, of)
	for _, p := range v.still.Equipment.Solvent.Parts {
		if h := p.Solvent().Hazards(); h.PeroxideFormer || h.Halogenated { // what decides whether it may be distilled at all
			a.text("", "Caution: "+p.Solvent().Cautions()[0])
		}
	}
	return a
}

// differs says which of the still's channels the recording lacks, and which it has in another unit: what is analysed is the
// recording.
func (a *account) differs(st *config.Still, of archive.Layout) {
	var lacks []string
	for i, c := range archive.LayoutOf(st.Channels).Columns {
		j := slices.IndexFunc(of.Columns, func(o archive.Column) bool { return o.Name == c.Name })
		if j < 0 {
			if known := st.Equipment.Channels[i]; known.Signal != "" {
				lacks = append(lacks, c.Name)
			}
			continue
		}
		if o := of.Columns[j]; o.Dimension == c.Dimension && c.Unit != "" && o.Unit != "" && o.Unit != c.Unit {
			a.text("", c.Name+" is in "+o.Unit+" by the header of this file, in "+c.Unit+" by the configuration. The file's unit is used: make sure that it is right.")
		}
	}
	if len(lacks) > 0 {
		a.text("", "Configured, but not in this file: "+strings.Join(lacks, ", ")+". What they would show is not looked for.")
	}
}

func (a *account) scan(s analysis.Scan, _ func() analysis.Status) {
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
	a.questions()
	span := a.last.Sub(a.first).Round(time.Second)
	a.printf("\n%s from %s to %s (%s).\n", count(a.scans, "scan"), a.clock(a.first), a.clock(a.last), config.FormatDuration(span))
	return a.err
}

// line prints a moment and what happened, under a heading for each day.
func (a *account) line(at time.Time, format string, args ...any) {
	local := at.In(a.zone)
	if day := local.Format("Monday 2 January 2006"); day != a.day {
		a.day = day
		a.printf("\n%s\n", day)
	}
	a.text("  "+local.Format("15:04:05")+"  ", fmt.Sprintf(format, args...))
}

// accountWidth is where a long line is broken, in letters.
const accountWidth = 100

// text prints a text after a head, and goes on below itself.
func (a *account) text(head, text string) {
	indent := len([]rune(head))
	for _, l := range wrap(text, accountWidth-indent) {
		a.printf("%s%s\n", head, l)
		head = strings.Repeat(" ", indent)
	}
}

// clock is a time with its day.
func (a *account) clock(at time.Time) string { return at.In(a.zone).Format("2 Jan 2006 15:04:05") }

// time is a time of day.
func (a *account) time(at time.Time) string { return at.In(a.zone).Format("15:04:05") }

func (a *account) fault(e analysis.Event) {
	word := faultWord(e)
	if e.State == analysis.Cleared {
		for i := range a.faults {
			if f := &a.faults[i]; f.Fault == e.Fault && f.Channel == e.Channel && f.cleared.IsZero() {
				f.cleared = e.At
				if len(e.Likely) > 0 {
					f.Likely = e.Likely
				}
			}
		}
		a.line(e.At, "%s%s cleared: %s", runPrefix(e), word, e.Text)
		if len(e.Likely) > 0 {
			l := e.Likely[0]
			a.text(fmt.Sprintf("            %3.0f %%  ", 100*l.Weight), "weighed again while it stood, most likely "+string(l.Cause)+": "+l.Because)
		}
		return
	}
	a.faults = append(a.faults, foundFault{Event: e})
	a.line(e.At, "%s%s: %s", runPrefix(e), word, e.Text)
	for _, l := range e.Likely {
		a.text(fmt.Sprintf("            %3.0f %%  ", 100*l.Weight), string(l.Cause)+": "+l.Because)
	}
}

func faultWord(e analysis.Event) string {
	if e.Channel == "" {
		return string(e.Fault)
	}
	return string(e.Fault) + " (" + e.Channel + ")"
}

// run prints the account of a run.
func (a *account) run(e analysis.Event) {
	s := e.Summary
	if s == nil {
		return
	}
	ended := "ended"
	if s.Open {
		ended = "still open at the end of the recording"
	}
	a.line(e.At, "Run %d %s after %s: %s", e.Run, ended, lasted(s.Start, s.End), s.Verdict)
	a.printf("\n")
	if s.Why != "" {
		a.text("    ", s.Why)
	}
	a.heading("Phases")
	for _, p := range s.Phases {
		a.printf("    %-24s %s to %s, %s\n", p.Name, a.time(p.Start), a.time(p.End), lasted(p.Start, p.End))
	}
	a.found(e.Run, s)
	for _, t := range summaryTables(s, a.display, a.zone) {
		a.heading(t.name)
		for _, row := range t.rows {
			a.text(fmt.Sprintf("    %-24s ", row.what), row.figure)
		}
	}
	if s.Cost != nil && len(s.Cost.Assumes) > 0 {
		a.text("    ", "Taken for granted: "+strings.Join(s.Cost.Assumes, "; ")+".")
	}
	if len(s.Answers) > 0 {
		a.answers = s.Answers
	}
	a.faults = standingOf(a.faults)
	a.printf("\n")
}

func (a *account) heading(name string) { a.printf("\n    %s\n", name) }

// found lists what was found in a run, with its most likely cause.
func (a *account) found(run int, s *analysis.Summary) {
	a.heading("Found")
	n := 0
	for _, f := range a.faults {
		if f.At.Before(s.Start) && !f.cleared.IsZero() && f.cleared.Before(s.Start) {
			continue
		}
		n++
		until := "on to the end"
		if !f.cleared.IsZero() && f.cleared.Before(s.End) {
			until = "to " + a.time(f.cleared)
		}
		from := a.time(f.At)
		if day := time.DateOnly; f.At.In(a.zone).Format(day) != s.Start.In(a.zone).Format(day) {
			from = f.At.In(a.zone).Format("2 Jan 15:04:05") // it stands from an earlier run, or was judged after a night
		}
		text := "from " + from + " " + until
		if len(f.Likely) > 0 {
			text += fmt.Sprintf(", most likely %s (%.0f %%): %s", f.Likely[0].Cause, 100*f.Likely[0].Weight, f.Likely[0].Because)
		}
		a.text(fmt.Sprintf("    %-24s ", faultWord(f.Event)), text)
	}
	if n == 0 {
		a.printf("    nothing that these channels show\n")
	}
}

// standingOf are the faults that go on into what comes next.
func standingOf(fs []foundFault) []foundFault {
	var out []foundFault
	for _, f := range fs {
		if f.cleared.IsZero() {
			out = append(out, f)
		}
	}
	return out
}

// questions says what the channels of the recording could show, and what would have to be fitted for more.
func (a *account) questions() {
	if len(a.answers) == 0 {
		return
	}
	a.printf("\nWhat these channels could answer, and what not. Silence about what they cannot is no good news.\n\n")
	for _, q := range a.answers {
		if q.Can {
			a.text("  yes  ", q.Question+" From "+q.From+".")
		} else {
			a.text("  no   ", q.Question+" It needs "+q.Needs+".")
		}
	}
}

func runPrefix(e analysis.Event) string {
	if e.Run == 0 {
		return ""
	}
	return fmt.Sprintf("Run %d: ", e.Run)
}

// lasted is the time between two moments, to the second.
func lasted(from, to time.Time) string {
	return config.FormatDuration(to.Sub(from).Round(time.Second))
}
