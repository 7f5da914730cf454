package solvent

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite golden files under testdata")

// A table to read: what every solvent does at the pressures a still works at. It says that something has
// changed, never that it is right; the handbooks do that.
func TestBoilingGolden(t *testing.T) {
	var b strings.Builder
	fmt.Fprintf(&b, "%-24s %9s %9s %9s %9s  %9s  %s\n", "solvent", "101.3 kPa", "50 kPa", "20 kPa", "10 kPa", "p(20 °C)", "least heat from 20 °C at 20 kPa")
	for _, name := range Names() {
		s := find(t, name)
		fmt.Fprintf(&b, "%-24s", name)
		for _, kPa := range []float64{101.325, 50, 20, 10} {
			c, ok := s.BoilingC(kPa)
			if !ok {
				t.Errorf("%s does not boil at %g kPa", name, kPa)
			}
			fmt.Fprintf(&b, " %6.1f °C", c)
		}
		p, ok := s.VaporPressureKPa(20)
		if !ok {
			t.Errorf("%s has no vapour pressure at 20 °C", name)
		}
		e, ok := Pure(s).MinimumEnergyKWhPerGal(20, 20)
		if !ok {
			t.Errorf("%s takes no heat", name)
		}
		fmt.Fprintf(&b, "  %5.2f kPa  %.3f kWh/gal\n", p, e)
	}
	const path = "testdata/boiling.golden"
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("differs from %s (run with -update and read the change):\n%s", path, b.String())
	}
}
