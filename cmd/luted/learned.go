package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"luted/analysis"
	"luted/collector"
	"luted/collector/archive"
	"luted/config"
)

type learnedCommand struct {
	ofStill
	Reset bool   `help:"Forget what was learned with the present solvent; needs --yes and --by."`
	Done  string `placeholder:"UPKEEP" help:"Say that an upkeep was done: its counter begins anew; needs --by."`
	By    string `placeholder:"NAME" help:"Who did it; kept in the journal."`
	Why   string `placeholder:"TEXT" help:"Why, for the journal; may be left out."`
	Yes   bool   `help:"Forget without asking again."`
}

func (learnedCommand) Help() string {
	return `Prints what luted has learned of a still from its own good runs, solvent by solvent: each figure with
its spread from run to run, how many runs it rests on, and whether it is used yet (before that, physics
and stated ratings stand in), and how far each upkeep has come. It reads beside a running luted, and
shows what was known when the still last rested.

A still that has been rebuilt (new gasket, ejector, oil, heater) is no longer the one it was learned on:
--reset forgets it. Upkeep counters and what is known of the gauge stay. --done sets the counter of one
upkeep back; what the upkeep consists of, the maker's manual says.

--reset and --done write to the archive, so luted must not be running on it; while it runs, use its page.`
}

// Run shows or changes what was learned.
func (c learnedCommand) Run(ctx context.Context, s streams) error {
	cfg, st, err := c.load()
	if err != nil {
		return err
	}
	changes := c.Reset || c.Done != ""
	switch {
	case c.Reset && c.Done != "":
		return usageError{errors.New("--reset and --done: write one of them at a time")}
	case changes && strings.TrimSpace(c.By) == "":
		return usageError{errors.New("the journal names who did it: write --by NAME")}
	case !changes && (c.By != "" || c.Yes || c.Why != ""):
		return usageError{errors.New("--by, --why and --yes go with --reset or --done")}
	}
	m, at, err := lastMemory(ctx, cfg, st)
	if err != nil {
		return err
	}
	if !changes {
		return printLearned(s.out, cfg, st, m, at)
	}
	if c.Reset && !c.Yes {
		p := &printer{w: s.out}
		p.printf("This would be forgotten of still %s:\n\n", st.Name)
		p.figures(m.Solvent, forgotten(m), cfg.Site.Display)
		if p.err != nil {
			return p.err
		}
		return usageError{errors.New("nothing was changed; to forget it, write --yes as well")}
	}
	return c.change(ctx, s, cfg, st, m)
}

// change does what was asked for on the closed archive, the way a running luted would.
func (c learnedCommand) change(ctx context.Context, s streams, cfg *config.Config, st *config.Still, before analysis.Memory) error {
	log := logFlags{LogLevel: "warn"}.logger(s.err)
	a, err := openArchive(ctx, cfg, log)
	if errors.Is(err, archive.ErrInUse) {
		return fmt.Errorf("%w. While it runs, say it on its page", err)
	}
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
	if c.Done != "" {
		if err := pipeline.Done(ctx, st.Name, c.Done, c.By); err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "Still %s: %s done by %s; its counter begins anew.\n", st.Name, c.Done, strings.TrimSpace(c.By))
		return err
	}
	if err := pipeline.ResetLearned(ctx, st.Name, c.By, c.Why); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "Still %s: forgot %s learned with %s. It is learned anew from the next good runs.\n",
		st.Name, count(len(forgotten(before)), "figure"), solventWord(before.Solvent))
	return err
}

// forgotten are the figures that a reset takes away.
func forgotten(m analysis.Memory) []analysis.LearnedFigure {
	left := m.Reset().Inspect()
	return slices.DeleteFunc(m.Inspect(), func(f analysis.LearnedFigure) bool {
		return slices.ContainsFunc(left, func(l analysis.LearnedFigure) bool { return l.Name == f.Name })
	})
}

// lastMemory is what the still's analysis carried over its last rest point, with what people have done
// since; at is the time of that point, zero if there is none yet.
func lastMemory(ctx context.Context, cfg *config.Config, st *config.Still) (m analysis.Memory, at time.Time, err error) {
	a, err := archive.OpenReadOnly(ctx, cfg.Archive.Path)
	if err != nil {
		return m, at, err
	}
	defer a.Close()
	rest, ok, err := a.Rest(ctx, st.Name)
	if err != nil {
		return m, at, err
	}
	if ok {
		if err := json.Unmarshal(rest.Memory, &m); err != nil {
			return m, at, fmt.Errorf("what was learned of still %s cannot be read: %w", st.Name, err)
		}
	}
	entries, err := a.Entries(ctx, archive.EntryQuery{Still: st.Name, Kind: archive.ActEntry})
	if err != nil {
		return m, at, err
	}
	now := analysis.New(st.Equipment, m)
	for _, e := range entries {
		var act analysis.Act
		if json.Unmarshal(e.Body, &act) == nil && !act.After.Before(rest.At) {
			now.Act(act)
		}
	}
	return now.Now(), rest.At, nil
}

// printLearned shows what was learned, the present solvent first.
func printLearned(w io.Writer, cfg *config.Config, st *config.Still, m analysis.Memory, at time.Time) error {
	p := &printer{w: w}
	if at.IsZero() {
		p.printf("Still %s has not rested yet since it was first watched: nothing is learned.\n", st.Name)
	} else {
		p.printf("Still %s, as of its last rest at %s: %s seen.\n", st.Name, at.In(cfg.Site.TimeZone).Format("2 Jan 2006 15:04"), count(m.Runs, "run"))
		p.printf("\n")
		p.figures(m.Solvent, m.Inspect(), cfg.Site.Display)
		for _, name := range slices.Sorted(maps.Keys(m.Others)) {
			p.printf("\n")
			p.figures(name, analysis.Memory{Learned: m.Others[name]}.Inspect(), cfg.Site.Display)
		}
	}
	if states := m.UpkeepStates(st.Equipment, time.Now()); len(states) > 0 {
		p.printf("\nUpkeep\n")
		for _, u := range states {
			p.printf("  %-22s %s\n", u.Name, upkeepWords(u, cfg.Site.TimeZone))
		}
	}
	return p.err
}

// figures lists what was learned with one solvent.
func (p *printer) figures(solvent string, figures []analysis.LearnedFigure, d analysis.Display) {
	p.printf("Learned with %s\n", solventWord(solvent))
	if len(figures) == 0 {
		p.printf("  nothing yet\n")
		return
	}
	for _, f := range figures {
		value, spread := learnedWords(f, d)
		used := "used"
		if !f.Enough {
			used = "not used yet"
		}
		if spread != "" {
			value += " ± " + spread
		}
		p.printf("  %-47s %-28s from %s, %s\n", learnedName(f, d), value, count(f.Runs, "run"), used)
	}
}

func solventWord(name string) string {
	if name == "" || name == "unknown" {
		return "an unknown solvent"
	}
	return name
}

// learnedUnits say how a figure is written for readers of US units, and which unit it has for the others.
var learnedUnits = map[string]struct {
	us             string
	factor, offset float64
}{
	"kPa": {"inHg", 1 / 3.386388640341, 0}, "K/s": {"°F/min", 60 * 9.0 / 5, 0}, "K": {"°F", 9.0 / 5, 0}, "°C": {"°F", 9.0 / 5, 32},
	"kWh/L": {"kWh/gal", litresPerGallon, 0}, "kWh/K": {"kWh/°F", 5.0 / 9, 0},
}

// learnedName is what a figure is called beside its unit: no litre before gallons, no kelvin before °F.
func learnedName(f analysis.LearnedFigure, d analysis.Display) string {
	if d == analysis.US {
		return strings.NewReplacer("each litre", "each gallon", "each kelvin", "each °F").Replace(f.Name)
	}
	return f.Name
}

// learnedWords writes a figure and its spread, the latter empty if there is none; two digits of the spread,
// and the value to the same place (GUM, 7.2.6). Pressures of a still are absolute, the error of its gauge is not.
func learnedWords(f analysis.LearnedFigure, d analysis.Display) (value, spread string) {
	v, sd, unit := f.Value, f.Spread, f.Unit
	u, known := learnedUnits[f.Unit]
	switch {
	case f.Unit == "":
		v, sd, unit = 100*v, 100*sd, "%"
	case f.Unit == "K/s" && d != analysis.US:
		v, sd, unit = 60*v, 60*sd, "K/min"
	case known && d == analysis.US:
		v, sd, unit = v*u.factor+u.offset, sd*u.factor, u.us
	}
	if f.Unit == "kPa" && strings.Contains(f.Name, "pressure") {
		unit += " abs"
	}
	if sd > 0 {
		places := max(0, 1-int(math.Floor(math.Log10(sd)+1e-9)))
		return fmt.Sprintf("%.*f", places, v), fmt.Sprintf("%.*f %s", places, sd, unit)
	}
	return fmt.Sprintf("%.4g %s", v, unit), ""
}

// upkeepWords says how far an upkeep has come.
func upkeepWords(u analysis.UpkeepState, zone *time.Location) string {
	var parts []string
	if u.Hours > 0 {
		parts = append(parts, fmt.Sprintf("%.0f of %.0f h at heat", u.Counter.Hours, u.Hours))
	}
	if u.Upkeep.Runs > 0 {
		parts = append(parts, fmt.Sprintf("%d of %s", u.Counter.Runs, count(u.Upkeep.Runs, "run")))
	}
	if u.Days > 0 {
		parts = append(parts, fmt.Sprintf("every %.0f days", u.Days))
	}
	text := strings.Join(parts, ", ")
	if !u.Counter.Since.IsZero() {
		text += ", since " + u.Counter.Since.In(zone).Format("2 Jan 2006")
	}
	if u.Due != "" {
		text += ": DUE " + u.Due
	}
	return text
}
