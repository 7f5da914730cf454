package config

import (
	"errors"
	"fmt"
	"math"
	"strings"
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
	// US Standard Atmosphere 1976 at 1609.344 m is 83427.6 Pa, falling by 9.6 Pa a metre; 24 inHg is 81273.3 Pa.
	near(t, "target kPa abs", e.Vacuum.TargetKPa, 83.4276+0.344*0.0096-81.2733, 0.001)
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

// TestAltitude is the table of what 25 inHg on the gauge means at altitude: US Standard Atmosphere 1976
// (printed pressures) less the exact inHg of UNIT-5.
func TestAltitude(t *testing.T) {
	for _, tt := range []struct {
		id       string
		altitude string
		mbar     float64 // absolute when the gauge reads 25 inHg; 0: impossible
		highest  string  // possible vacuum, inHg
	}{
		{"ATM-1", "0 m", 166.7, "29.9"},
		{"ATM-2", "500 m", 108.0, "28.2"},
		{"ATM-3", "1000 m", 52.1, "26.5"},
		{"ATM-4", "1500 m", 0, "25.0"},
		{"ATM-5", "5280 ft", 0, "24.6"},
		{"ATM-6", "2000 m", 0, "23.5"},
		{"ATM-7", "2500 m", 0, "22.1"},
		{"ATM-8", "3 km", 0, "20.7"},
	} {
		c, warns, err := Parse("luted.yaml", []byte("site: {altitude: "+tt.altitude+", display: us}\nstills: {a: {vacuum: {target: 25 inHg}}}\n"), nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, tt.id+" absolute pressure, mbar", c.Stills[0].Equipment.Vacuum.TargetKPa*10, tt.mbar, 0.05)
		said := fmt.Sprint(warns)
		impossible := strings.Contains(said, "impossible at") && strings.Contains(said, "highest possible vacuum there is "+tt.highest+" inHg")
		if impossible != (tt.mbar == 0) {
			t.Errorf("%s: warnings %s", tt.id, said)
		}
	}
}

func TestDefaults(t *testing.T) {
	c := mustParse(t, "lines: {bus: {serial: /dev/ttyUSB0}, odd: {serial: /dev/ttyUSB1, parity: none}}\nstills: {a: {vacuum: {target: 20 kPa abs}}}")
	if l := c.Lines[0]; l.Baud != 19200 || l.Parity != "even" || l.Stop != 1 || l.Timeout != time.Second || l.Pause != 0 {
		t.Errorf("serial line %+v", l)
	}
	if l := c.Lines[1]; l.Stop != 2 {
		t.Errorf("without parity %d stop bits, want 2", l.Stop)
	}
	if c.Web.Listen != "127.0.0.1:8470" || c.Archive.Path != "luted.db" || c.Notify.Group != 30*time.Second || c.Site.Display != analysis.Metric || c.Site.TimeZone != time.Local {
		t.Errorf("%+v %+v %+v %+v", c.Web, c.Archive, c.Notify, c.Site)
	}
	if s := c.Stills[0]; s.Every != time.Second || s.Equipment.Vacuum.Within != 10*time.Minute || s.Equipment.GasLimit != 10 || s.Equipment.OilLimitC != 0 {
		t.Errorf("still %+v", s)
	}
	if c.Export.Influx != nil || c.Notify.Mail != nil || c.Prices.Currency != "" || c.Still("b") != nil {
		t.Error("something is there that nobody wrote")
	}
}

// TestMerge: a key of its own goes before one that comes with <<, and the order is the file's.
func TestMerge(t *testing.T) {
	c := mustParse(t, `
lines: {plc: {tcp: "192.0.2.7:502"}}
stills:
  a: &a
    line: plc
    device: 1
    charge: 60 L
    channels: &channels
      jacket_temperature: {holding: 0, as: int16, unit: °C}
      still_pressure: {holding: 1, as: int16, unit: kPa}
  b:
    <<: *a
    device: 2
    channels:
      <<: [*channels, {ambient_temperature: {holding: 9, as: int16, unit: °C}}]
      still_pressure: {holding: 7, as: int16, unit: mbar}
`)
	b := c.Still("b")
	if b.Device != 2 || b.Line != c.Lines[0] || b.Equipment.ChargeL != 60 {
		t.Errorf("still %+v", b)
	}
	var got []string
	for _, ch := range b.Channels {
		got = append(got, fmt.Sprint(ch.Name, ch.Source.Address, ch.Unit.Symbol))
	}
	if want := "[still_pressure7mbar jacket_temperature0°C ambient_temperature9°C]"; fmt.Sprint(got) != want {
		t.Errorf("channels %v, want %v", got, want)
	}
	if a := c.Still("a"); len(a.Channels) != 2 || a.Channels[1].Source.Address != 1 {
		t.Errorf("the first still was changed: %+v", a)
	}
}

// TestChannels reads every kind of source.
func TestChannels(t *testing.T) {
	c := mustParse(t, `
lines: {plc: {tcp: "192.0.2.7:502"}}
stills:
  a:
    line: plc
    device: 0xF7
    channels:
      jacket_temperature: {holding: 0x10, as: float64, words: low-first, bytes: low-first, unit: °F, limits: {high: 200 °C, low: 32 °F, deadband: 9 °F, on_delay: 1 min}}
      still_vacuum: {input: 4, as: uint16, raw: [20000, 4000], range: [30 inHg, 0 inHg], loop: true}
      heater_power: {holding: 20, as: uint32, scale: -0.5, offset: 3, unit: W}
      lid_closed: {holding: 30, bit: 15, bytes: low-first, invert: true}
      run_on: {input: 31, as: bool}
      heater_on: {coil: 65535}
      fan: {discrete: 2}
      fan_speed: {holding: 40, as: uint16, unit: rpm, limits: {low: 20 rpm, deadband: 2 rpm}}
      stage: {holding: 41, as: int64}
`)
	get := func(name string) *Channel {
		for _, ch := range c.Stills[0].Channels {
			if ch.Name == name {
				return ch
			}
		}
		t.Fatalf("no %s", name)
		return nil
	}
	if d := c.Stills[0].Device; d != 247 {
		t.Errorf("device %d", d)
	}
	for name, want := range map[string]Source{
		"jacket_temperature": {Table: Holding, Address: 16, As: Float64, LowFirst: true, SwapByte: true, Bit: -1, Scale: 1},
		"still_vacuum":       {Table: Input, Address: 4, As: Uint16, Bit: -1, Scale: 1, Raw: true, RawLow: 20000, RawHigh: 4000, Low: 30, High: 0, Loop: true},
		"heater_power":       {Table: Holding, Address: 20, As: Uint32, Bit: -1, Scale: -0.5, Offset: 3},
		"lid_closed":         {Table: Holding, Address: 30, As: Bool, Bit: 15, SwapByte: true, Invert: true, Scale: 1},
		"run_on":             {Table: Input, Address: 31, As: Bool, Bit: -1, Scale: 1},
		"heater_on":          {Table: Coil, Address: 65535, As: Bool, Bit: -1, Scale: 1},
		"fan":                {Table: Discrete, Address: 2, As: Bool, Bit: -1, Scale: 1},
		"fan_speed":          {Table: Holding, Address: 40, As: Uint16, Bit: -1, Scale: 1},
		"stage":              {Table: Holding, Address: 41, As: Int64, Bit: -1, Scale: 1},
	} {
		if got := get(name).Source; got != want {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
	jacket, fan, speed := get("jacket_temperature"), get("fan"), get("fan_speed")
	near(t, "high, °C", *jacket.Limits.High, 200, 0)
	near(t, "low, °C", *jacket.Limits.Low, 0, 1e-12)
	near(t, "deadband, K", jacket.Limits.Deadband, 5, 1e-12)
	if jacket.Limits.OnDelay != time.Minute || jacket.Limits.OffDelay != 30*time.Second {
		t.Errorf("delays %+v", jacket.Limits)
	}
	if fan.Dimension != analysis.Switch || fan.Signal != "" {
		t.Errorf("fan is %+v", fan)
	}
	if speed.Dimension != analysis.Other || speed.Channel.Unit != "rpm" || *speed.Limits.Low != 20 || speed.Limits.High != nil || speed.Limits.Deadband != 2 {
		t.Errorf("fan_speed is %+v", speed)
	}
}

func TestErrorsTakesApart(t *testing.T) {
	_, _, err := Parse("luted.yaml", []byte("stills: {a: {charge: 60, gas_volume: 85}}"), nil)
	if got := Errors(fmt.Errorf("reload: %w", err)); len(got) != 2 || got[0].Key != "stills.a.charge" || got[0].Found != "60" || got[1].Line != 1 {
		t.Errorf("%+v", got)
	}
	if Errors(nil) != nil || Errors(errors.New("other")) != nil {
		t.Error("a mistake out of nothing")
	}
}
