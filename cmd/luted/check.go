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
	Config string `short:"c" placeholder:"FILE" help:"The same, as the other commands take it."`
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
	if c.File != "" && c.Config != "" {
		return usageError{errors.New("two files; check one at a time")}
	}
	c.File = cmp.Or(c.File, c.Config)
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
		fmt.Fprintln(s.out, "\nno errors, nothing to warn of")
		return nil
	}
	slices.SortStableFunc(warnings, func(a, b config.Warning) int { return cmp.Compare(a.Pos.Line, b.Pos.Line) })
	fmt.Fprintf(s.out, "\nno errors: luted runs with this file; %s:\n", count(len(warnings), "warning"))
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

// describe prints what the file says and what will be read, and returns what is wrong with the timing.
func describe(w io.Writer, cfg *config.Config) ([]config.Warning, error) {
	plans := map[*config.Still]*modbus.Plan{}
	sweeps := map[*config.Line][]sweepTime{}
	took := map[*config.Still]sweepTime{}
	for _, st := range cfg.Stills {
		if st.Line == nil {
			continue
		}
		plan, err := modbus.NewPlan(st, modbus.PlanOptions{})
		if err != nil {
			return nil, err
		}
		t := sweepTime{st, estimate(st.Line, plan)}
		plans[st], took[st] = plan, t
		sweeps[st.Line] = append(sweeps[st.Line], t)
	}
	err := cfg.Summary(w, func(st *config.Still) []string {
		if st.Line == nil {
			return []string{"on no line; only recordings can be read"}
		}
		return polled(st, plans[st].Requests(), took[st])
	})
	var warnings []config.Warning
	for _, line := range cfg.Lines {
		warnings = append(warnings, tooSlow(line, sweeps[line])...)
	}
	return warnings, err
}

// polled says what is asked of a still's device, request by request.
func polled(st *config.Still, requests []modbus.Request, t sweepTime) []string {
	out := []string{fmt.Sprintf("%s for %s, about %s a sweep:", count(len(requests), "request"),
		count(len(st.Channels), "channel"), about(t.took))}
	for _, r := range requests {
		head := requestWords(r)
		for names := range slices.Chunk(channelsIn(st, r), 4) {
			out = append(out, fmt.Sprintf("  %-21s %s", head, strings.Join(names, ", ")))
			head = ""
		}
	}
	return out
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
