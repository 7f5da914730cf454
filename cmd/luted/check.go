package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/prometheus/exporter-toolkit/web"

	"luted/collector/modbus"
	"luted/config"
)

type checkCommand struct {
	File   string `arg:"" optional:"" name:"luted.yaml" help:"Configuration to check."`
	Strict bool   `help:"Exit with 3 if there is any warning, for scripts."`
	Schema bool   `help:"Print the JSON Schema of the configuration file, for editors, and do nothing else."`
}

func (checkCommand) Help() string {
	return `Reads the configuration without touching any device, archive or network, and prints what would be
read: each request to each device, the channels in it, and about how long a sweep takes.

Mistakes are all named at once, each with its line, what is written there and what to write instead;
the exit code is then 2. Warnings are things luted can run with but that are probably not meant, or that
people should know before a still is hot.

The checks know property tables, not your still: the safety data sheet, the maker's manual and local
code decide which solvent may be distilled in it, how hot and for how long.`
}

// Run checks the file.
func (c checkCommand) Run(s streams) error {
	if c.Schema {
		_, err := fmt.Fprintln(s.out, strings.TrimSpace(string(config.Schema())))
		return err
	}
	if c.File == "" {
		return usageError{errors.New("which file? luted check luted.yaml")}
	}
	cfg, warnings, err := load(c.File)
	if err != nil {
		printWarnings(s.err, warnings)
		return err
	}
	if cfg.Web.Config != "" {
		if err := web.Validate(cfg.Web.Config); err != nil {
			return configError{fmt.Errorf("%s: web.config: %s: %w", cfg.File, cfg.Web.Config, err)}
		}
	}
	more, err := describe(s.out, cfg)
	if err != nil {
		return configError{err}
	}
	warnings = append(warnings, more...)
	if len(warnings) == 0 {
		return nil
	}
	slices.SortStableFunc(warnings, func(a, b config.Warning) int { return cmp.Compare(a.Pos.Line, b.Pos.Line) })
	fmt.Fprintln(s.out)
	printWarnings(s.out, warnings)
	if c.Strict {
		return errFindings
	}
	return nil
}

func printWarnings(w io.Writer, warnings []config.Warning) {
	for _, x := range warnings {
		fmt.Fprintln(w, x)
	}
}

// describe prints what will be read, line by line, and returns what is wrong with the timing.
func describe(w io.Writer, cfg *config.Config) ([]config.Warning, error) {
	var warnings []config.Warning
	fmt.Fprintf(w, "%s: %s on %s, kept in %s.\n", cfg.File,
		count(len(cfg.Stills), "still"), count(len(cfg.Lines), "line"), cfg.Archive.Path)
	for _, line := range cfg.Lines {
		fmt.Fprintf(w, "\nLine %s: %s, timeout %s\n", line.Name, where(line), config.FormatDuration(line.Timeout))
		var sweeps []sweepTime
		for _, st := range cfg.Stills {
			if st.Line != line {
				continue
			}
			plan, err := modbus.NewPlan(st, modbus.PlanOptions{})
			if err != nil {
				return warnings, err
			}
			t := sweepTime{st, estimate(line, plan)}
			sweeps = append(sweeps, t)
			describeStill(w, st, plan.Requests(), t)
		}
		if len(sweeps) == 0 {
			fmt.Fprintln(w, "  no still is on it; it is not polled")
		}
		warnings = append(warnings, tooSlow(line, sweeps)...)
	}
	for _, st := range cfg.Stills {
		if st.Line == nil {
			fmt.Fprintf(w, "\nStill %s: on no line; only recordings can be read.\n", st.Name)
		}
	}
	return warnings, nil
}

func describeStill(w io.Writer, st *config.Still, requests []modbus.Request, t sweepTime) {
	fmt.Fprintf(w, "  Still %s: device %d, every %s: %s for %s, about %s a sweep\n", st.Name, st.Device,
		config.FormatDuration(st.Every), count(len(requests), "request"), count(len(st.Channels), "channel"),
		about(t.took))
	for _, r := range requests {
		fmt.Fprintf(w, "    %-22s %s\n", requestWords(r), strings.Join(channelsIn(st, r), ", "))
	}
}

func where(line *config.Line) string {
	if line.TCP != "" {
		return "Modbus TCP at " + line.TCP
	}
	return fmt.Sprintf("Modbus RTU on %s, %d baud, parity %s, %s", line.Serial, line.Baud, line.Parity, count(line.Stop, "stop bit"))
}

// requestWords names a request's table and addresses, as in the configuration.
func requestWords(r modbus.Request) string {
	table := map[config.Table]string{config.Coil: "coil", config.Discrete: "discrete", config.Holding: "holding", config.Input: "input"}[r.Table]
	if r.Count == 1 {
		return fmt.Sprintf("%s %d", table, r.Address)
	}
	return fmt.Sprintf("%s %d to %d", table, r.Address, int(r.Address)+int(r.Count)-1)
}

// channelsIn names the channels that a request reads, in the order of the configuration.
func channelsIn(st *config.Still, r modbus.Request) []string {
	var names []string
	for _, ch := range st.Channels {
		at := int(ch.Source.Address)
		if ch.Source.Table == r.Table && at >= int(r.Address) && at < int(r.Address)+int(r.Count) {
			names = append(names, ch.Name)
		}
	}
	return names
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
