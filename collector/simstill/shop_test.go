package simstill

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/config"
)

var wednesday = time.Date(2026, 3, 25, 9, 15, 0, 0, time.UTC)

func TestShopToday(t *testing.T) {
	shop, err := NewShop(ShopOptions{Start: wednesday.AddDate(0, 0, -14), Now: wednesday, Seed: 1, Display: analysis.US})
	if err != nil {
		t.Fatal(err)
	}
	var kWh0 []float64
	for _, s := range shop.Stills {
		kWh0 = append(kWh0, s.Truth().EnergyKWh)
		s.Advance(wednesday)
	}
	yard := shop.Still("yard").Truth()
	for i, s := range shop.Stills {
		tr := s.Truth()
		t.Logf("%-6s %-10s %2d runs, %6.1f kWh, leak %5.2f mbar·L/s", s.Name(), tr.Phase, tr.Run, tr.EnergyKWh-kWh0[i], tr.FullLeakMbarLS)
		if tr.Run < 8 || tr.Run > 24 {
			t.Errorf("%s had %d runs in two weeks", s.Name(), tr.Run)
		}
		if s.Skipped() > 0 {
			t.Errorf("%s: %d planned steps were skipped", s.Name(), s.Skipped())
		}
	}
	if yard.Phase != analysis.Distilling {
		t.Errorf("yard is in %s, want the middle of a run", yard.Phase)
	}
	fresh, err := New(shop.Still("yard").Options(), wednesday)
	if err != nil {
		t.Fatal(err)
	}
	if worn, new := yard.FullLeakMbarLS, fresh.Truth().FullLeakMbarLS; worn < 3*new {
		t.Errorf("yard's gasket leaks %.2f mbar·L/s, new it was %.2f", worn, new)
	}

	north, south := shop.Still("north"), shop.Still("south")
	runs := north.Truth().Run
	north.Advance(wednesday.Add(time.Minute))
	if tr := north.Truth(); tr.Run != runs+1 || tr.Phase != analysis.PumpDown {
		t.Errorf("north has not started within the first minute: run %d, %s", tr.Run, tr.Phase)
	}
	north.Advance(wednesday.Add(9 * time.Minute))
	if tr := north.Truth(); tr.PressureKPa < 0.98*tr.RoomKPa || tr.Faults[OpenLid] == 0 {
		t.Errorf("north's lid is open, but it is at %.1f kPa, faults %v", tr.PressureKPa, tr.Faults)
	}
	var phases []string
	for at := wednesday; at.Before(wednesday.Add(6 * time.Hour)); at = at.Add(time.Minute) {
		south.Advance(at)
		if p := string(south.Truth().Phase); len(phases) == 0 || phases[len(phases)-1] != p {
			phases = append(phases, p)
		}
	}
	if got := strings.Join(phases, " "); got != "idle pump-down heat-up distilling dry-out cool-down idle" && got != "idle pump-down distilling dry-out cool-down idle" {
		t.Errorf("south went through %s", got)
	}
}

// The shop's configuration is read by the real reader, in both units, and says what is there.
func TestShopConfig(t *testing.T) {
	for _, display := range []Display{analysis.US, analysis.Metric} {
		shop, err := NewShop(ShopOptions{Start: wednesday.AddDate(0, 0, -1), Now: wednesday, Display: display})
		if err != nil {
			t.Fatal(err)
		}
		addresses := map[string]string{}
		for i, l := range shop.Lines() {
			addresses[l] = fmt.Sprintf("127.0.0.1:%d", 1502+i)
		}
		text := shop.ConfigYAML(addresses)
		c, warnings, err := config.Parse("shop.yaml", []byte(text), nil)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		for _, w := range warnings {
			if strings.Contains(w.Pos.Key, "vacuum") || strings.Contains(w.Pos.Key, "channels") {
				t.Errorf("%s: %s", w.Pos.Key, w.Text)
			}
		}
		if len(c.Stills) != 4 || len(c.Lines) != 2 {
			t.Fatalf("%d stills on %d lines", len(c.Stills), len(c.Lines))
		}
		for _, st := range c.Stills {
			s := shop.Still(st.Name)
			if s == nil || len(st.Channels) != len(s.Layout()) {
				t.Fatalf("%s: %d channels", st.Name, len(st.Channels))
			}
			if line := shop.On(st.Line.Name); line[st.Device-1] != s {
				t.Errorf("%s is not unit %d of %s", st.Name, st.Device, st.Line.Name)
			}
			// The ejector of every still reaches its stated target with 1 kPa to spare, dry and tight.
			s.ejector.on = true
			for range 60 {
				s.ejector.step(s, 1)
			}
			if end, _ := s.endPressure(); st.Equipment.Vacuum.TargetKPa < end+1 {
				t.Errorf("%s: target %.1f kPa, the ejector ends at %.1f kPa", st.Name, st.Equipment.Vacuum.TargetKPa, end)
			}
		}
	}
}

func TestShopFaults(t *testing.T) {
	for _, f := range FaultTable {
		shop, err := NewShop(ShopOptions{Start: wednesday.Add(-time.Hour), Now: wednesday, Faults: []ShopFault{{Still: "south", Fault: f.Fault}}})
		if err != nil {
			t.Fatalf("%s: %v", f.Fault, err)
		}
		south := shop.Still("south")
		south.Advance(wednesday.Add(midRun + 2*time.Minute))
		if tr := south.Truth(); len(tr.Faults) != 1 || tr.Run != 1 {
			t.Errorf("%s: faults %v in run %d", f.Fault, tr.Faults, tr.Run)
		}
		if tr := shop.Still("north").Truth(); len(tr.Faults) != 0 {
			t.Errorf("%s on south: north has %v", f.Fault, tr.Faults)
		}
	}
	for name, f := range map[string]ShopFault{"no such still": {Still: "attic", Fault: Leak}, "no such fault": {Still: "north", Fault: "gremlins"},
		"too large": {Still: "north", Fault: Leak, Size: 1e4}} {
		if _, err := NewShop(ShopOptions{Start: wednesday.Add(-time.Hour), Now: wednesday, Faults: []ShopFault{f}}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if _, err := NewShop(ShopOptions{Start: wednesday, Now: wednesday}); err == nil {
		t.Error("a history that begins now was taken")
	}
}
