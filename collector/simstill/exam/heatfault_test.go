package exam

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/simstill"
)

// heatCase is a fault of heating or distilling and what is to be raised for it.
type heatCase struct {
	name   string
	fault  simstill.Fault
	size   float64
	after  time.Duration // after the start of the run
	want   []analysis.Fault
	cause  []analysis.Cause
	sets   []simstill.SensorSet
	change func(*simstill.Batch)
	hard   bool // not to be seen on every still: an unknown solvent, water that mixes, two channels
	usual  int  // healthy runs before, to learn from
}

var (
	allSets = []simstill.SensorSet{simstill.TwoChannel, simstill.Typical, simstill.Full}
	measure = []simstill.SensorSet{simstill.Typical, simstill.Full}
	fullSet = []simstill.SensorSet{simstill.Full}
)

var heatCases = []heatCase{
	{name: "element lost", fault: simstill.ElementLost, size: 1, after: 10 * time.Minute, want: []analysis.Fault{analysis.HeaterPhaseLost}, cause: []analysis.Cause{analysis.Element}, sets: measure},
	{name: "phase lost", fault: simstill.PhaseLost, size: 0.5, after: 10 * time.Minute, want: []analysis.Fault{analysis.HeaterPhaseLost}, cause: []analysis.Cause{analysis.SupplyPhase}, sets: measure},
	{name: "phase lost, learned", hard: true, fault: simstill.PhaseLost, size: 0.5, want: []analysis.Fault{analysis.HeatingSlow, analysis.HeaterPhaseLost}, sets: allSets, usual: 4},
	{name: "thermostat open", hard: true, fault: simstill.ThermostatOpen, size: 1, after: 20 * time.Minute, want: []analysis.Fault{analysis.HeatingStalled}, cause: []analysis.Cause{analysis.Thermostat}, sets: allSets},
	{name: "high-limit early", hard: true, fault: simstill.HighLimitEarly, size: 95, want: []analysis.Fault{analysis.HeatingStalled}, cause: []analysis.Cause{analysis.Thermostat}, sets: allSets},
	{name: "contactor stuck", fault: simstill.ContactorStuck, size: 1, want: []analysis.Fault{analysis.OverTemperature}, cause: []analysis.Cause{analysis.Thermostat}, sets: allSets},
	{name: "condenser warm", hard: true, fault: simstill.CondenserWarm, size: 25, want: []analysis.Fault{analysis.CondenserWarm}, cause: []analysis.Cause{analysis.Condenser}, sets: fullSet},
	{name: "condenser warm, learned", hard: true, fault: simstill.CondenserWarm, size: 25, want: []analysis.Fault{analysis.CondenserWarm}, cause: []analysis.Cause{analysis.Condenser}, sets: fullSet, usual: 4},
	{name: "coolant lost", hard: true, fault: simstill.CoolantLost, size: 0.9, want: []analysis.Fault{analysis.CondenserWarm}, cause: []analysis.Cause{analysis.Condenser}, sets: fullSet},
	{name: "wrong: light", hard: true, fault: simstill.WrongSolvent, size: 1, want: []analysis.Fault{analysis.BoilingPointOff}, cause: []analysis.Cause{analysis.WrongSolvent}, sets: measure},
	{name: "wrong: heavy", hard: true, fault: simstill.WrongSolvent, size: 2, want: []analysis.Fault{analysis.BoilingPointOff}, cause: []analysis.Cause{analysis.WrongSolvent}, sets: measure},
	{name: "water in charge", hard: true, fault: simstill.WaterInCharge, size: 0.15, want: []analysis.Fault{analysis.BoilingPointOff}, cause: []analysis.Cause{analysis.WrongSolvent}, sets: measure},
	{name: "stopped wet", want: []analysis.Fault{analysis.NotDry}, sets: measure, change: func(b *simstill.Batch) { b.Habit.Hold, b.Habit.Abort = 0, 100*time.Minute }},
	{name: "left on", want: []analysis.Fault{analysis.PastDry}, sets: measure, change: func(b *simstill.Batch) { b.Habit.Hold, b.Habit.DryMargin = 0, 150*time.Minute }},
}

// TestHeatFaults measures how surely each fault of heating and distilling is found, and its top cause.
func TestHeatFaults(t *testing.T) {
	n := uint64(1)
	if s := os.Getenv("LUTED_EXAM_N"); s != "" {
		n, _ = strconv.ParseUint(s, 10, 64)
	}
	if *full {
		n = 16
	}
	for _, set := range allSets {
		t.Run(string(set), func(t *testing.T) {
			t.Parallel()
			var table strings.Builder
			for _, hc := range heatCases {
				if only := os.Getenv("LUTED_EXAM_CASE"); only != "" && !strings.Contains(hc.name, only) || !slices.Contains(hc.sets, set) {
					continue
				}
				found, right, all := 0, 0, 0
				other := map[analysis.Fault]int{}
				var missed []string
				for seed := uint64(1); seed <= n; seed++ {
					p, when := hc.paper(t, seed, set)
					a, err := p.Watch()
					if err != nil {
						t.Fatal(err)
					}
					all++
					hit := false
					for _, e := range a.Events {
						if e.Kind != analysis.FaultEvent || e.State != analysis.Raised {
							continue
						}
						if e.At.Before(when) {
							other["before:"+e.Fault]++
							continue
						}
						if !slices.Contains(hc.want, e.Fault) {
							other[e.Fault]++
							continue
						}
						if !hit {
							hit = true
							found++
							if len(hc.cause) == 0 || len(e.Likely) > 0 && slices.Contains(hc.cause, e.Likely[0].Cause) {
								right++
							}
						}
					}
					if !hit {
						missed = append(missed, fmt.Sprint(seed, ":", p.Options.Stated.Solvent))
					}
				}
				if !hc.hard && found < all {
					t.Errorf("%s: found %d of %d, missed %v", hc.name, found, all, missed)
				}
				fmt.Fprintf(&table, "%-24s found %2d/%2d cause right %2d  besides %v  missed %v\n", hc.name, found, all, right, other, missed)
			}
			t.Log("\n" + table.String())
		})
	}
}

// paper is one still with the fault in its last run; when is when it comes.
func (hc heatCase) paper(t *testing.T, seed uint64, set simstill.SensorSet) (Paper, time.Time) {
	t.Helper()
	c, err := simstill.Healthy(seed, start, hc.usual+1)
	if err != nil {
		t.Fatal(err)
	}
	c.Options.Sensors.Set = set
	plan := slices.Clone(c.Plan)
	last := plan[len(plan)-1]
	when := last.At
	if hc.fault != "" {
		if hc.after > 0 {
			when = last.At.Add(last.Batch.Habit.Prepare + last.Batch.Habit.HeatDelay + hc.after)
		} else {
			when = last.At.Add(-time.Minute)
		}
		plan = append(plan, simstill.Step{At: when, Fault: hc.fault, Size: hc.size})
	}
	if hc.change != nil {
		b := *last.Batch
		hc.change(&b)
		plan[hc.usual].Batch = &b
	}
	return Paper{Options: c.Options, Plan: plan, Poll: c.Every, Start: c.Start, Length: c.End.Sub(c.Start) + 3*time.Hour}, when
}
