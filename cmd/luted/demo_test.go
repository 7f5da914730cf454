package main

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"luted/analysis"
	"luted/collector/simstill"
	"luted/config"
)

func TestParseFault(t *testing.T) {
	tests := []struct {
		arg  string
		want demoFault
		says string
	}{
		{"north=open-lid", demoFault{"north", simstill.OpenLid, 0, -1}, ""},
		{"south=leak:0.5", demoFault{"south", simstill.Leak, 0.5, -1}, ""},
		{"south=leak:2@10min", demoFault{"south", simstill.Leak, 2, 10 * time.Minute}, ""},
		{"annex=phase-lost@1h 30min", demoFault{"annex", simstill.PhaseLost, 0, 90 * time.Minute}, ""},
		{"north=broken-wire:jacket_temperature", demoFault{"north", "broken-wire:jacket_temperature", 0, -1}, ""},
		{"north=gauge-offset:still_pressure:3@5min", demoFault{"north", "gauge-offset:still_pressure", 3, 5 * time.Minute}, ""},
		{"north", demoFault{}, "write STILL=FAULT"},
		{"west=leak", demoFault{}, `no still "west"`},
		{"north=flood", demoFault{}, `no fault "flood"; there are open-lid, leak`},
		{"north=leak:300", demoFault{}, "the most is 30 mm"},
		{"north=leak:0", demoFault{}, "above 0"},
		{"north=leak:big", demoFault{}, `"big" is no size`},
		{"north=leak@10", demoFault{}, "no unit"},
	}
	for _, tt := range tests {
		t.Run(tt.arg, func(t *testing.T) {
			got, err := parseFault(tt.arg)
			switch {
			case tt.says == "" && err != nil:
				t.Error(err)
			case tt.says == "":
				if got != tt.want {
					t.Errorf("%+v, want %+v", got, tt.want)
				}
			case err == nil || !strings.Contains(err.Error(), tt.says):
				t.Errorf("said %v, want %q in it", err, tt.says)
			}
		})
	}
}

// FuzzParseFault: what is taken can be written and read again, names a still and a fault that exist, and
// is no larger than makes sense.
func FuzzParseFault(f *testing.F) {
	for _, s := range []string{"north=open-lid", "south=leak:2@10min", "north=broken-wire:jacket_temperature:1@0 s", "annex=gauge-offset:-1", "=@:", "north=leak:1e309", "north=leak:NaN"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := parseFault(s)
		if err != nil {
			return
		}
		info, ok := simstill.LookupFault(got.Fault)
		if !ok || !slices.Contains(demoNames(), got.Still) || !(got.Size >= 0 && got.Size <= info.Max) || got.After < -1 {
			t.Fatalf("%q taken as %+v", s, got)
		}
		again := got.Still + "=" + string(got.Fault)
		if got.Size > 0 {
			again += ":" + strconv.FormatFloat(got.Size, 'g', -1, 64)
		}
		if got.After >= 0 {
			again += "@" + config.FormatDuration(got.After)
		}
		if back, err := parseFault(again); err != nil || back != got {
			t.Fatalf("%q is %+v, but %q is %+v, %v", s, got, again, back, err)
		}
	})
}

// TestEveryFaultCanBeChosen: the catalogue's faults all parse, at their usual and their largest size.
func TestEveryFaultCanBeChosen(t *testing.T) {
	_, table, _ := luted(t, "", "demo", "--fault", "help")
	for _, f := range simstill.FaultTable {
		if _, err := parseFaults([]string{"north=" + string(f.Fault)}); err != nil {
			t.Error(err)
		}
		if !strings.Contains(table, string(f.Fault)) {
			t.Errorf("%s is not in the list", f.Fault)
		}
	}
}

func someState(seed uint64, history time.Duration) demoState {
	live := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	return demoState{Version: 1, Seed: seed, Display: analysis.US, Start: live.Add(-history), Live: live, Faults: defaultFaults}
}

// TestPlan: nothing is planned before the history begins; no run of the past reaches into live watching;
// each still has its first live run in time; the same state gives the same plan.
func TestPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := someState(rapid.Uint64().Draw(t, "seed"), time.Duration(rapid.IntRange(0, 60*24).Draw(t, "hours"))*time.Hour)
		for _, d := range demoStills(s) {
			steps := plan(s, d)
			if diff := cmp.Diff(steps, plan(s, d)); diff != "" {
				t.Fatalf("%s: two plans of one state differ:\n%s", d.name, diff)
			}
			first := time.Time{}
			for _, step := range steps {
				switch {
				case step.At.Before(s.Start) && step.Batch != nil:
					t.Fatalf("%s: a run at %v, before the history", d.name, step.At)
				case step.Batch != nil && step.At.Before(s.Live) && step.At.Add(longestRun).After(s.Live):
					t.Fatalf("%s: the run of %v reaches into live watching", d.name, step.At)
				case step.Batch != nil && !step.At.Before(s.Live) && (first.IsZero() || step.At.Before(first)):
					first = step.At
				}
			}
			if want := s.Live.Add(d.firstRun); !first.Equal(want) {
				t.Fatalf("%s: first live run at %v, want %v", d.name, first, want)
			}
		}
	})
}

// TestOpenLidIsThere: the default fault stands before its still is loaded.
func TestOpenLidIsThere(t *testing.T) {
	s := someState(1, 0)
	for _, d := range demoStills(s) {
		i := slices.IndexFunc(plan(s, d), func(x simstill.Step) bool { return x.Fault == simstill.OpenLid })
		if (i >= 0) != (d.name == "south") {
			t.Errorf("%s: open lid planned: %v", d.name, i >= 0)
		}
	}
}

// TestPrintedConfigIsGood: what --print-config prints is read without a mistake, in both units, and says
// that it is simulated.
func TestPrintedConfigIsGood(t *testing.T) {
	for _, display := range []string{"us", "metric"} {
		code, out, stderr := luted(t, "", "demo", "--print-config", "--display", display)
		if code != exitDone || stderr != "" {
			t.Fatalf("exit code %d: %s", code, stderr)
		}
		cfg, _, err := config.Parse("luted.yaml", []byte(out), nil)
		if err != nil {
			t.Fatalf("%s:\n%v\n%s", display, err, out)
		}
		if len(cfg.Stills) != len(demoNames()) || string(cfg.Site.Display) != display || !strings.Contains(cfg.Site.Name, "simulated") {
			t.Errorf("%d stills, display %s, site %q", len(cfg.Stills), cfg.Site.Display, cfg.Site.Name)
		}
	}
}

func TestStateStays(t *testing.T) {
	dir := t.TempDir()
	var said strings.Builder
	first, err := openDemo(dir, someState(3, 24*time.Hour), &said)
	if err != nil || said.String() != "" {
		t.Fatal(err, said.String())
	}
	again, err := openDemo(dir, someState(4, 48*time.Hour), &said)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(first.state, again.state); d != "" {
		t.Errorf("the state did not stay:\n%s", d)
	}
	if !strings.Contains(said.String(), "holds a demo already") {
		t.Errorf("said %q", said.String())
	}
	write(t, filepath.Join(dir, "demo.json"), `{"version": 99}`)
	if _, err := openDemo(dir, someState(3, 0), &said); err == nil || !strings.Contains(err.Error(), "another version") {
		t.Errorf("another version's state: %v", err)
	}
}
