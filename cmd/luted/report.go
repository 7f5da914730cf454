package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"luted/collector/archive"
	"luted/config"
	"luted/dashboards"
)

type reportCommand struct {
	Config string `required:"" short:"c" placeholder:"FILE" help:"Configuration."`
	Still  string `short:"s" placeholder:"NAME" help:"Still of the configuration, or all; may be left out if there is only one, and with --month."`
	RunNo  int    `name:"run" placeholder:"N" help:"The batch record of this run."`
	Last   bool   `help:"The batch record of the last run."`
	Month  string `placeholder:"YYYY-MM" help:"The sums and runs of a month, by the site's clock."`
	Format string `enum:"html,csv,json" default:"html" help:"html (stands alone, prints on A4 and Letter), csv or json."`
	Output string `short:"o" default:"-" placeholder:"FILE" help:"File to write; it must not exist yet. - for standard output."`
}

func (reportCommand) Help() string {
	return `A batch record is everything the journal holds about one run: solvent, lot, charge, recovered,
residue, start checks, phases, faults, alarms and what people did, figures with their uncertainty, notes,
and every correction with who, when and why. What people enter on the page goes into it.

A month is summed up by still and solvent: recovered, residue, energy, runs and verdicts. Local rules decide
how these are counted.

Texts are in the units and the time zone of the site; numbers of CSV and JSON in L, kg and kWh. Every report
carries the head of the journal's chain of hashes: luted verify --head proves it later. In CSV, a text of
people that begins like a formula has an apostrophe before it.

The archive may be in use: report reads beside a running luted.`
}

// Run writes the report.
func (c reportCommand) Run(ctx context.Context, s streams) error {
	cfg, _, err := load(c.Config)
	if err != nil {
		return err
	}
	stills, err := c.stills(cfg)
	if err != nil {
		return err
	}
	a, err := archive.OpenReadOnly(ctx, cfg.Archive.Path)
	if err != nil {
		return err
	}
	defer a.Close()
	r := dashboards.Reports{Site: cfg.Site, Prices: cfg.Prices, Stills: cfg.Stills, Archive: a, Simulated: simulatedBy(cfg)}
	write, err := c.report(ctx, r, stills, s.err)
	if err != nil {
		return err
	}
	return toFile(c.Output, s.out, write)
}

// stills are the stills that the command line asks for.
func (c reportCommand) stills(cfg *config.Config) ([]*config.Still, error) {
	asked := 0
	for _, is := range []bool{c.RunNo != 0, c.Last, c.Month != ""} {
		if is {
			asked++
		}
	}
	switch {
	case asked != 1:
		return nil, usageError{errors.New("say which report: --run N, --last or --month YYYY-MM, one of them")}
	case c.RunNo < 0:
		return nil, usageError{fmt.Errorf("--run %d: runs are counted from 1", c.RunNo)}
	case c.Still == "all" && cfg.Still("all") == nil, c.Still == "" && c.Month != "":
		if c.RunNo != 0 && len(cfg.Stills) > 1 {
			return nil, usageError{errors.New("every still counts its own runs: say which with --still")}
		}
		return cfg.Stills, nil
	case c.Still != "":
		st, err := stillOf(cfg, c.Still)
		return []*config.Still{st}, err
	case len(cfg.Stills) == 1:
		return cfg.Stills, nil
	}
	return nil, usageError{fmt.Errorf("%s has %d stills: say which with --still, or --still all", cfg.File, len(cfg.Stills))}
}

// report reads what is asked for, and returns what writes it; told is what people are told beside it.
func (c reportCommand) report(ctx context.Context, r dashboards.Reports, stills []*config.Still, told io.Writer) (func(io.Writer) error, error) {
	if c.Month != "" {
		if _, _, err := dashboards.ParseMonth(c.Month, r.Site.TimeZone); err != nil {
			return nil, usageError{fmt.Errorf("--month: %w", err)}
		}
		still := ""
		if len(stills) < len(r.Stills) {
			still = stills[0].Name
		}
		m, err := r.Month(ctx, c.Month, still)
		if err != nil {
			return nil, err
		}
		if len(m.Runs) == 0 {
			fmt.Fprintf(told, "no run ended in %s; the report says so\n", c.Month)
		}
		return map[string]func(io.Writer) error{
			"html": func(w io.Writer) error { return dashboards.WriteMonthHTML(w, m) },
			"csv":  func(w io.Writer) error { return dashboards.WriteMonthCSV(w, m) },
			"json": func(w io.Writer) error { return dashboards.WriteJSON(w, m) },
		}[c.Format], nil
	}
	recs, err := c.records(ctx, r, stills)
	if err != nil {
		return nil, err
	}
	return map[string]func(io.Writer) error{
		"html": func(w io.Writer) error { return dashboards.WriteRecordsHTML(w, recs) },
		"csv":  func(w io.Writer) error { return dashboards.WriteRecordsCSV(w, recs) },
		"json": func(w io.Writer) error {
			if len(recs) == 1 && c.Still != "all" {
				return dashboards.WriteJSON(w, recs[0])
			}
			return dashboards.WriteJSON(w, recs)
		},
	}[c.Format], nil
}

// records are the batch records asked for; with --last of all stills, those without a run have none.
func (c reportCommand) records(ctx context.Context, r dashboards.Reports, stills []*config.Still) ([]*dashboards.Record, error) {
	var recs []*dashboards.Record
	for _, st := range stills {
		last, err := r.LastRun(ctx, st.Name)
		if err != nil {
			return nil, err
		}
		run := c.RunNo
		if c.Last {
			if run = last; run == 0 {
				continue
			}
		}
		rec, err := r.Record(ctx, st.Name, run)
		if errors.Is(err, dashboards.ErrNoRun) {
			if last == 0 {
				return nil, fmt.Errorf("still %s has had no run yet", st.Name)
			}
			return nil, fmt.Errorf("still %s has no run %d; its last run is %d", st.Name, run, last)
		}
		if err != nil {
			return nil, err
		}
		recs = append(recs, rec)
	}
	if len(recs) == 0 {
		return nil, errors.New("no still has had a run yet")
	}
	return slices.Clip(recs), nil
}

// simulatedBy reports whether the configuration was written by a demo: what it watches is simulated, and every
// report says so.
func simulatedBy(cfg *config.Config) bool {
	_, err := os.Stat(filepath.Join(filepath.Dir(cfg.File), demoStateFile))
	return err == nil
}
