package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"

	"luted/config"
)

// The exit codes; the help of every command names them.
const (
	exitDone     = 0
	exitFailed   = 1
	exitUsage    = 2
	exitFindings = 3
)

const exitHelp = `Exit codes: 0 done; 1 it did not work; 2 the command line or the
configuration is wrong; 3 done, but there are warnings (check --strict,
export --skip-damaged).`

// usageError is a command line that cannot be understood.
type usageError struct{ error }

// configError is a configuration with mistakes.
type configError struct{ error }

// errFindings ends a command that worked and has already said what it found.
var errFindings = errors.New("findings")

// report says what went wrong, in one line where that is possible, and returns the exit code.
func report(w io.Writer, err error) int {
	var usage usageError
	var conf configError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errFindings):
		return exitFindings
	case errors.As(err, &usage):
		fmt.Fprintf(w, "luted: %v\n", usage.error)
		var parse *kong.ParseError
		if errors.As(usage.error, &parse) && parse.Context != nil {
			fmt.Fprintf(w, "For help: %s --help\n", strings.Join(append([]string{"luted"}, commandName(parse.Context)...), " "))
		}
		return exitUsage
	case errors.As(err, &conf):
		for _, e := range config.Errors(conf.error) {
			fmt.Fprintln(w, e)
		}
		if len(config.Errors(conf.error)) == 0 {
			fmt.Fprintf(w, "luted: %v\n", conf.error)
		}
		return exitUsage
	}
	fmt.Fprintf(w, "luted: %v\n", err)
	return exitFailed
}

// commandName is the command as far as it was understood.
func commandName(c *kong.Context) []string {
	if n := c.Selected(); n != nil {
		return []string{n.Name}
	}
	return nil
}

// help prints kong's help and then the exit codes.
func help(o kong.HelpOptions, c *kong.Context) error {
	if err := kong.DefaultHelpPrinter(o, c); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.Stdout, "\n%s\n", exitHelp)
	return err
}

// load reads a configuration for a command.
func load(path string) (*config.Config, []config.Warning, error) {
	cfg, warnings, err := config.Load(path)
	if err != nil {
		return nil, warnings, configError{err}
	}
	return cfg, warnings, nil
}

// stillOf finds a still by name.
func stillOf(cfg *config.Config, name string) (*config.Still, error) {
	if st := cfg.Still(name); st != nil {
		return st, nil
	}
	var names []string
	for _, st := range cfg.Stills {
		names = append(names, st.Name)
	}
	return nil, usageError{fmt.Errorf("%s has no still %q; it has %s", cfg.File, name, strings.Join(names, ", "))}
}
