package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"luted/collector/simstill"
	"luted/config"
)

// defaultFaults are the demo's own: someone has not locked the lid.
var defaultFaults = []demoFault{{Still: "south", Fault: simstill.OpenLid, After: -1}}

// parseFaults reads faults as the command line gives them.
func parseFaults(args []string) ([]demoFault, error) {
	var out []demoFault
	for _, a := range args {
		f, err := parseFault(a)
		if err != nil {
			return nil, fmt.Errorf("--fault %s: %w", a, err)
		}
		out = append(out, f)
	}
	return out, nil
}

// parseFault reads STILL=FAULT[:CHANNEL][:SIZE][@TIME].
func parseFault(arg string) (demoFault, error) {
	f := demoFault{After: -1}
	still, rest, ok := strings.Cut(arg, "=")
	if !ok {
		return f, fmt.Errorf("write STILL=FAULT, for instance north=open-lid; the stills are %s", strings.Join(demoNames(), ", "))
	}
	if !slices.Contains(demoNames(), still) {
		return f, fmt.Errorf("there is no still %q; the stills are %s", still, strings.Join(demoNames(), ", "))
	}
	f.Still = still
	rest, at, timed := strings.Cut(rest, "@")
	if timed {
		after, err := config.ParseDuration(at)
		if err != nil {
			return f, err
		}
		f.After = after
	}
	words := strings.Split(rest, ":")
	if n := len(words); n > 1 {
		if size, err := strconv.ParseFloat(words[n-1], 64); err == nil {
			f.Size, words = size, words[:n-1]
			if !(size > 0) { // also what is no number
				return f, fmt.Errorf("size %g: write a number above 0", size)
			}
		}
	}
	f.Fault = simstill.Fault(strings.Join(words, ":"))
	info, ok := simstill.LookupFault(f.Fault)
	if !ok {
		return f, fmt.Errorf("there is no fault %q; there are %s", f.Fault, strings.Join(faultNames(), ", "))
	}
	if f.Size > info.Max {
		return f, fmt.Errorf("size %g: the most is %s", f.Size, sizeOf(info.Max, info))
	}
	if len(words) > 1 && info.Channel == "" {
		return f, fmt.Errorf("%s is no fault of a channel, and %q is no size", info.Fault, words[1])
	}
	return f, nil
}

func faultNames() []string {
	var out []string
	for _, f := range simstill.FaultTable {
		out = append(out, string(f.Fault))
	}
	return out
}

func sizeOf(v float64, info simstill.FaultInfo) string {
	return strings.TrimRight(fmt.Sprintf("%g %s", v, info.Unit), " ")
}

// listFaults prints the catalogue.
func listFaults(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "FAULT\tSIZE\tUSUAL\tMOST\tWHAT HAPPENS")
	for _, f := range simstill.FaultTable {
		name := string(f.Fault)
		if f.Channel != "" {
			name += "[:CHANNEL]"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", name, f.Size, sizeOf(f.Usual, f), sizeOf(f.Max, f), f.Text)
	}
	return t.Flush()
}

// faultTime is when a demo's fault comes: as asked, or before the still's first live run is loaded, or
// in the middle of it.
func faultTime(s demoState, f demoFault, firstRun time.Time) time.Time {
	if f.After >= 0 {
		return s.Live.Add(f.After)
	}
	if info, _ := simstill.LookupFault(f.Fault); info.MidRun {
		return firstRun.Add(midRun)
	}
	return firstRun.Add(-time.Second)
}

// midRun is late enough for the charge to boil.
const midRun = 75 * time.Minute
