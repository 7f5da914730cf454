package main

import (
	"testing"

	"luted/collector/simstill/exam"
)

// What is written is read and marked as recordings from outside are, and a healthy run of it is seen as one.
func TestWritten(t *testing.T) {
	dir := t.TempDir()
	written := 0
	for _, j := range catalogue() {
		if j.title != "plain run" || j.k > 0 {
			continue
		}
		if line, err := j.make().write(dir); err != nil {
			t.Fatalf("%v\n%s", err, line)
		}
		written++
	}
	items, err := exam.Items(exam.Choice{Folder: dir})
	if err != nil {
		t.Fatal(err)
	}
	if written == 0 || len(items) != written {
		t.Fatalf("%d recordings written, %d read", written, len(items))
	}
	marks, err := exam.Sit(items)
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range marks.Sets {
		m := marks.BySet[set]
		if m.Runs == 0 || m.Found != m.Runs || m.FalseHealthy > 0 || m.Spurious > 0 {
			t.Errorf("%s: %d of %d runs found, %d false faults, %d runs that were none", set, m.Found, m.Runs, m.FalseHealthy, m.Spurious)
		}
	}
}

// The vapour pressures in the tables rise all the way, and the boiling points come back from them.
func TestTables(t *testing.T) {
	for name, s := range substances {
		for i := 1; i < 200-int(gridT); i++ { // no oil gets a charge hotter than 200 °C
			if !(s.lnp[i] > s.lnp[i-1]) || !(s.hv[i] > 0) || !(s.cp[i] > 0) {
				t.Fatalf("%s at %g °C: ln p %g after %g, heat %g J/mol, %g J/(mol·K)", name, gridT+float64(i), s.lnp[i], s.lnp[i-1], s.hv[i], s.cp[i])
			}
		}
		if c := s.tsat(s.psat(60)); c < 59.9 || c > 60.1 {
			t.Errorf("%s: boils at %g °C at its vapour pressure of 60 °C", name, c)
		}
	}
}
