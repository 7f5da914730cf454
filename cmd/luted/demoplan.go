package main

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
	"luted/collector/simstill"
)

// demoStill is one still of the invented shop.
type demoStill struct {
	name     string
	options  simstill.Options
	batch    simstill.Batch
	firstRun time.Duration // after the start of live watching
	past     []pastFault   // what went wrong in its history
}

// pastFault is a fault that stood for one working day.
type pastFault struct {
	daysAgo int
	fault   simstill.Fault
	size    float64
}

const demoAltitudeM = 220

// demoStills describes the shop: one still with every instrument, one with those that a careful maker
// fits, and one with nothing but an oil temperature and a vacuum gauge.
func demoStills(s demoState) []demoStill {
	target := "24 inHg"
	if s.Display == analysis.Metric {
		target = "81 kPa"
	}
	sensors := func(set simstill.SensorSet, registers int) simstill.Sensors {
		return simstill.Sensors{Set: set, Map: registers, Display: s.Display}
	}
	blend := solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 0.7}, {Name: "n-butyl acetate", Fraction: 0.3}}}
	return []demoStill{
		{
			name: "north", firstRun: 4 * time.Minute,
			options: simstill.Options{Sensors: sensors(simstill.Full, 1),
				Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: target, Within: 10 * time.Minute, AirMin: "4.5 bar"}},
			batch: simstill.Batch{Solvent: named("toluene"), JacketC: 150},
			past:  []pastFault{{12, simstill.WeakAir, 0.5}},
		},
		{
			name: "south", firstRun: 2 * time.Minute,
			options: simstill.Options{Sensors: sensors(simstill.Typical, 3),
				Stated: simstill.Stated{Solvent: "{toluene: 0.7, n-butyl acetate: 0.3}", JacketC: 155, Target: target, Within: 10 * time.Minute, AirMin: "4.5 bar"}},
			batch: simstill.Batch{Solvent: blend, JacketC: 155},
			past:  []pastFault{{6, simstill.Leak, 2}},
		},
		{
			name: "annex", firstRun: 100 * time.Minute,
			options: simstill.Options{Sensors: sensors(simstill.TwoChannel, 1),
				Stated: simstill.Stated{Solvent: "toluene", JacketC: 150, Target: target, Within: 10 * time.Minute}},
			batch: simstill.Batch{Solvent: named("toluene"), JacketC: 150},
			past:  []pastFault{{16, simstill.DrainValveOpen, 0}},
		},
	}
}

func demoNames() []string {
	var out []string
	for _, d := range demoStills(demoState{}) {
		out = append(out, d.name)
	}
	return out
}

func named(name string) solvent.Mixture {
	return solvent.Mixture{Parts: []solvent.Part{{Name: name, Fraction: 1}}}
}

// makeStills makes the stills, each with its whole plan.
func makeStills(s demoState) ([]*simstill.Still, error) {
	var out []*simstill.Still
	for i, d := range demoStills(s) {
		o := d.options
		o.Name, o.Seed, o.SiteSeed, o.AltitudeM = d.name, s.Seed+uint64(i)<<32, s.Seed, demoAltitudeM
		still, err := simstill.New(o, s.Start)
		if err != nil {
			return nil, fmt.Errorf("simulated still %s: %w", d.name, err)
		}
		still.Schedule(plan(s, d))
		out = append(out, still)
	}
	return out, nil
}

// The rhythm of the shop's past, in local time: one run each working day, often a second one.
const (
	firstShift  = 7*time.Hour + 15*time.Minute
	secondShift = 13 * time.Hour
	longestRun  = 6 * time.Hour // with what comes after it
	nextRun     = 7 * time.Hour // from one live run to the next, round the clock
	liveDays    = 60
)

// plan is everything that will happen to a still.
func plan(s demoState, d demoStill) []simstill.Step {
	var steps []simstill.Step
	rng := rand.New(rand.NewPCG(s.Seed, uint64(len(d.name))<<8+uint64(d.name[0])))
	run := func(at time.Time) {
		b := d.batch
		b.Litres = 60 * (0.85 + 0.15*rng.Float64())
		steps = append(steps, simstill.Step{At: at, Batch: &b})
	}
	y, m, day := s.Start.Local().Date()
	for midnight := time.Date(y, m, day, 0, 0, 0, 0, time.Local); midnight.Before(s.Live); midnight = midnight.AddDate(0, 0, 1) {
		morning := midnight.Add(firstShift + jitter(rng))
		afternoon := midnight.Add(secondShift + jitter(rng))
		twice := rng.Float64() < 0.6
		if wd := midnight.Weekday(); wd == time.Saturday || wd == time.Sunday {
			continue
		}
		for _, at := range []time.Time{morning, afternoon} {
			if at.Before(s.Start) || at.Add(longestRun).After(s.Live) || (at == afternoon && !twice) {
				continue
			}
			run(at.UTC())
		}
	}
	for _, f := range d.past {
		at := s.Live.AddDate(0, 0, -f.daysAgo)
		if at.Before(s.Start) {
			continue
		}
		steps = append(steps, simstill.Step{At: at, Fault: f.fault, Size: f.size}, simstill.Step{At: at.Add(24 * time.Hour), Clear: f.fault})
	}
	first := s.Live.Add(d.firstRun)
	for _, f := range s.Faults {
		if f.Still == d.name {
			at := faultTime(s, f, first)
			steps = append(steps, simstill.Step{At: at, Fault: f.Fault, Size: f.Size},
				simstill.Step{At: at.Add(faultStands), Clear: f.Fault})
		}
	}
	for at := first; at.Before(s.Live.AddDate(0, 0, liveDays)); at = at.Add(nextRun) {
		run(at)
	}
	return steps
}

// faultStands is how long it takes until somebody has mended what was wrong.
const faultStands = 5 * time.Hour

func jitter(rng *rand.Rand) time.Duration {
	return time.Duration(rng.Float64() * float64(40*time.Minute)).Truncate(time.Second)
}

// demoYAML is the demo's configuration: a line for each still, since each has its own server.
func demoYAML(s demoState, stills []*simstill.Still, addresses []string, listen string) string {
	var b strings.Builder
	b.WriteString("# Simulated stills of an invented shop, written by luted demo.\n")
	fmt.Fprintf(&b, "site: {name: Quay Lane finishing shop (simulated), altitude: %d m, display: %s}\n", demoAltitudeM, s.Display)
	fmt.Fprintf(&b, "web: {listen: %q}\n", listen)
	b.WriteString("archive: {path: luted.db}\nlines:\n")
	for i, st := range stills {
		fmt.Fprintf(&b, "  %s-plc: {tcp: %q, timeout: 1 s}\n", st.Name(), addresses[i])
	}
	b.WriteString("stills:\n")
	for _, st := range stills {
		b.WriteString(st.ConfigYAML(st.Name()+"-plc", 1, demoEvery))
		b.WriteString(demoUpkeep)
	}
	b.WriteString(demoPrices)
	return b.String()
}

// demoUpkeep and demoPrices are invented: no maker's manual and no supplier says so.
const (
	demoUpkeep = "    upkeep: {thermal oil: {hours: 2000 h, days: 730 d}, lid gasket: {runs: 60}, ejector silencer: {days: 180 d}, liner stock: {runs: 25}}\n"
	demoPrices = "prices: {electricity: 0.14 USD/kWh, solvent: 9.50 USD/gal, waste: 4.10 USD/gal, liner: 6.50 USD}\n"
)

// demoEvery is the beat at which the stills are polled.
const demoEvery = time.Second

// demoAddresses stand for the addresses of servers that are not running.
func demoAddresses(n int) []string {
	var out []string
	for i := range n {
		out = append(out, fmt.Sprintf("127.0.0.1:%d", 1502+i))
	}
	return out
}
