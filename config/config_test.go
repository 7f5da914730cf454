package config

import (
	"math"
	"testing"
	"time"

	"luted/analysis"
)

// near fails unless got is within tol of want.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

func TestLoadExample(t *testing.T) {
	c, warns, err := Load("testdata/good/design.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range warns {
		t.Log(w)
	}
	s := c.Still("north")
	if s == nil || len(c.Stills) != 1 || len(c.Lines) != 2 {
		t.Fatalf("stills %v, lines %v", c.Stills, c.Lines)
	}
	if s.Line != c.Lines[0] || s.Line.Name != "plc" || s.Device != 1 || s.Every != time.Second {
		t.Errorf("still is read over %+v, device %d, every %v", s.Line, s.Device, s.Every)
	}
	if l := c.Lines[1]; l.Serial != "/dev/ttyUSB0" || l.Baud != 19200 || l.Parity != "even" || l.Stop != 1 || l.Timeout != 500*time.Millisecond {
		t.Errorf("line %+v", l)
	}
	e := s.Equipment
	near(t, "charge L", e.ChargeL, 60, 0)
	near(t, "gas volume L", e.GasVolumeL, 85, 0)
	near(t, "recipe °C", e.Recipe.JacketC, 150, 0)
	near(t, "air kPa", e.Air.MinimumKPa, 450, 1e-9)
	// checks.md ATM: the standard atmosphere at 1609 m is 83.431 kPa; 24 inHg is 81.273 kPa.
	near(t, "target kPa abs", e.Vacuum.TargetKPa, 83.431-81.2733, 0.002)
	if e.Vacuum.Within != 8*time.Minute || e.Recipe.Hold != 3*time.Hour || e.Heater.Phases != 3 || e.GasLimit != 10 {
		t.Errorf("equipment %+v", e)
	}
	if len(e.Channels) != 4 || len(s.Channels) != 4 {
		t.Fatalf("%d and %d channels", len(e.Channels), len(s.Channels))
	}
	for i, ch := range s.Channels {
		if ch.Name != e.Channels[i].Name || ch.Signal != analysis.Signal(ch.Name) {
			t.Errorf("channel %d is %q, signal %q", i, ch.Name, ch.Signal)
		}
	}
	if v := s.Channels[1]; v.Source.Table != Input || !v.Source.Loop || v.Source.High != 30 || v.Unit.Symbol != "inHg" || v.Source.Bit != -1 {
		t.Errorf("still_vacuum %+v", v)
	}
	if p := s.Channels[2].Source; !p.LowFirst || p.As != Float32 || p.Scale != 1 {
		t.Errorf("heater_power %+v", p)
	}
	if l := s.Channels[3]; l.Source.As != Bool || l.Source.Table != Discrete || l.Source.Address != 3 || l.Dimension != analysis.Switch {
		t.Errorf("lid_closed %+v", l)
	}
}

// mustParse reads a file that must be good.
func mustParse(t *testing.T, yaml string) *Config {
	t.Helper()
	c, _, err := Parse("luted.yaml", []byte(yaml), nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
