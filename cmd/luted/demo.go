package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"time"

	"luted/analysis"
	"luted/collector"
	"luted/config"
)

type demoCommand struct {
	Listen      string   `default:"127.0.0.1:8470" placeholder:"HOST:PORT" help:"Address of the page (${default}); port 0 takes any free one."`
	Fault       []string `sep:"none" placeholder:"STILL=FAULT[:SIZE[@TIME]]" help:"What goes wrong, and when; may be repeated. Takes the place of the demo's own faults."`
	Speed       float64  `default:"60" placeholder:"N" help:"How many times faster than real time until the clock is caught up with (${default})."`
	History     string   `default:"21 d" placeholder:"TIME" help:"How much of the past to begin with (${default})."`
	Dir         string   `placeholder:"DIR" help:"Where configuration and archive are kept; a temporary directory that is removed at the end if left out."`
	Display     string   `enum:"us,metric" default:"us" placeholder:"UNITS" help:"Units: us (°F, inHg, gal) or metric (°C, kPa, L) (${default})."`
	Seed        uint64   `default:"1" placeholder:"N" help:"Makes another shop with other weather and other noise (${default})."`
	ConfigExtra string   `type:"existingfile" placeholder:"FILE" help:"Added to the configuration: export, notify and other sections that it has not."`
	PrintConfig bool     `help:"Print the configuration and do nothing else."`
	Log         string   `help:"How to write the log: text or json (${default})." enum:"text,json" default:"text" placeholder:"FORM"`
	LogLevel    string   `help:"How much to write: debug, info, warn or error (${default})." enum:"debug,info,warn,error" default:"error" placeholder:"LEVEL"`
}

// catchUp is how far behind the clock live watching begins: about the length of a run.
const catchUp = 5 * time.Hour

func (demoCommand) Help() string {
	return `Three simulated stills are served as real Modbus devices on this machine and watched as real ones would
be. The demo opens on a shop with some weeks of history, taken along the same path; then it watches
faster than real time until it has caught up with the clock, so nothing it stores or sends lies in the
future. Everything is marked as simulated. The stills, the shop and its people are invented.

Without --fault, the still north runs clean through all phases, and south is started with its lid open.

A fault is written STILL=FAULT[:SIZE[@TIME]]: south=leak:2 is a hole of 2 mm, north=phase-lost@50min comes
50 min after live watching began; some are those of a channel: north=broken-wire:jacket_temperature. With
no time, a fault comes when it shows best. ` + "luted demo --fault help" + ` lists them.

With --dir the demo can be stopped and goes on later: its shop, its faults and its archive stay. Its
configuration stands there in luted.yaml, for replay, export and check.`
}

// Run plays the demo until ctx ends.
func (c demoCommand) Run(ctx context.Context, s streams) error {
	if len(c.Fault) == 1 && c.Fault[0] == "help" {
		return listFaults(s.out)
	}
	want, err := c.wanted()
	if err != nil {
		return usageError{err}
	}
	if c.PrintConfig {
		return c.print(s.out, want)
	}
	dir, cleanUp, err := c.directory()
	if err != nil {
		return err
	}
	defer cleanUp()
	shop, err := openDemo(dir, want, s.err)
	if err != nil {
		return err
	}
	return c.play(ctx, shop, s)
}

// wanted is the demo that the command line asks for, beginning now.
func (c demoCommand) wanted() (demoState, error) {
	history, err := config.ParseDuration(c.History)
	if err != nil {
		return demoState{}, fmt.Errorf("--history: %w", err)
	}
	if c.Speed < 1 {
		return demoState{}, fmt.Errorf("--speed %g: slower than the clock would never catch up with it; write 1 or more", c.Speed)
	}
	faults := defaultFaults
	if len(c.Fault) > 0 {
		if faults, err = parseFaults(c.Fault); err != nil {
			return demoState{}, err
		}
	}
	live := time.Now().UTC().Truncate(time.Second).Add(-catchUp)
	return demoState{Version: 1, Seed: c.Seed, Display: analysis.Display(c.Display), Start: live.Add(-history), Live: live, Faults: faults}, nil
}

func (c demoCommand) print(w io.Writer, want demoState) error {
	stills, err := makeStills(want)
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, demoYAML(want, stills, demoAddresses(len(stills)), c.Listen))
	return err
}

// directory returns the demo's directory and what to do with it at the end.
func (c demoCommand) directory() (string, func(), error) {
	if c.Dir != "" {
		return c.Dir, func() {}, os.MkdirAll(c.Dir, 0o755)
	}
	dir, err := os.MkdirTemp("", "luted-demo-")
	return dir, func() { os.RemoveAll(dir) }, err
}

// play serves the stills and watches them.
func (c demoCommand) play(ctx context.Context, shop *demoShop, s streams) error {
	log := logFlags{c.Log, c.LogLevel}.logger(s.err)
	clock := newDemoClock(shop.state.Start)
	servers, err := serveStills(shop.stills, clock.Now)
	if err != nil {
		return err
	}
	defer servers.close()
	listen, err := freePort(c.Listen)
	if err != nil {
		return usageError{fmt.Errorf("--listen: %w", err)}
	}
	cfg, err := shop.configure(servers.addresses(), listen, c.ConfigExtra)
	if err != nil {
		return err
	}
	a, err := openArchive(ctx, cfg, log)
	if err != nil {
		return err
	}
	defer closeArchive(a, log)
	fmt.Fprintf(s.out, "luted demo: simulated stills %s; kept in %s\n", joinStills(cfg), shop.dir)
	d := daemon{cfg: cfg, archive: a, clock: clock, log: log, simulated: true, flush: demoFlush, now: clock.shown, listenName: "--listen"}
	d.prepare = func(ctx context.Context, p *collector.Collector) error {
		from, err := shop.past(ctx, a, p, cfg, clock, s.out, progress(s))
		if err != nil {
			return err
		}
		clock.start(from, c.Speed)
		log.Info("clock", "from", from, "speed", c.Speed)
		go narrate(ctx, s.out, cfg, p.Subscribe) // ends with ctx
		return nil
	}
	d.ready = func(addr net.Addr) { c.announce(s.out, addr, clock) }
	return d.serve(ctx)
}

// progress tells a person at a terminal how far the history has come.
func progress(s streams) func(day time.Time, scans int) {
	return func(day time.Time, scans int) {
		if s.terminal {
			fmt.Fprintf(s.err, "\rhistory: %s, %d scans \r", day.Local().Format("2 Jan 2006"), scans)
		}
	}
}

// demoFlush makes the page livelier while an hour passes in a minute.
const demoFlush = 200 * time.Millisecond

// announce tells where the page is, and when it will be live.
func (c demoCommand) announce(w io.Writer, addr net.Addr, clock *demoClock) {
	fmt.Fprintf(w, "Page: %s (everything on it is simulated)\n", pageURL(addr))
	if behind := clock.behind(); behind > 0 {
		fmt.Fprintf(w, "Watching from %s on, %g times faster than real time; caught up with the clock in %s.\n",
			clock.Now().Local().Format("15:04"), c.Speed, config.FormatDuration(behind.Round(time.Second)))
	}
	fmt.Fprintln(w, "Stop with Ctrl-C.")
}

// freePort finds a port for an address with port 0, which a configuration cannot have: people could not
// find the page.
func freePort(listen string) (string, error) {
	host, port, err := net.SplitHostPort(listen)
	if err != nil || port != "0" {
		return listen, err
	}
	l, err := net.Listen("tcp", net.JoinHostPort(host, "0"))
	if err != nil {
		return "", err
	}
	defer l.Close()
	return l.Addr().String(), nil
}

// pageURL is the address for a browser on this machine.
func pageURL(addr net.Addr) string {
	host, port, err := net.SplitHostPort(addr.String())
	if err != nil {
		return addr.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return "http://" + net.JoinHostPort(host, port) + "/"
}

func joinStills(cfg *config.Config) string {
	out := ""
	for i, st := range cfg.Stills {
		if i > 0 {
			out += ", "
		}
		out += st.Name
	}
	return out
}

// configure writes the configuration file and reads it back as luted would read any other.
func (d *demoShop) configure(addresses []string, listen, extra string) (*config.Config, error) {
	text := demoYAML(d.state, d.stills, addresses, listen)
	if extra != "" {
		more, err := os.ReadFile(extra)
		if err != nil {
			return nil, err
		}
		text += "\n# from " + extra + "\n" + string(more)
	}
	path := filepath.Join(d.dir, "luted.yaml")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		return nil, err
	}
	cfg, _, err := config.Load(path)
	if err != nil {
		return nil, configError{err}
	}
	return cfg, nil
}

// errStateChanged says that a directory holds another version's demo.
var errStateChanged = errors.New("made by another version of the demo; begin anew in an empty directory")
