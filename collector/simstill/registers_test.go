package simstill

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"luted/analysis"
	"luted/collector/modbus"
	"luted/config"
)

// parsed is the configuration of one still, read by the real configuration reader.
func parsed(t testing.TB, s *Still) *config.Still {
	t.Helper()
	text := fmt.Sprintf("site: {name: Test bench, altitude: %g m, display: metric}\nlines:\n  plc: {tcp: \"127.0.0.1:502\"}\nstills:\n%s",
		s.Options().AltitudeM, s.ConfigYAML("plc", 1, time.Second))
	c, warnings, err := config.Parse("still.yaml", []byte(text), nil)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	for _, w := range warnings {
		if strings.Contains(w.Pos.Key, ".recipe") || strings.Contains(w.Pos.Key, ".solvent") {
			continue // cautions about what is distilled belong there
		}
		t.Errorf("warning for a generated configuration: %s\n%s", w.Text, text)
	}
	return c.Stills[0]
}

// What the still writes into its registers, the real reader decodes with the still's own configuration
// block: every channel of every map, in both units, to within one step of its register. Planning and
// decoding are another package's, so this is no echo of the encoder.
func TestRegistersDecode(t *testing.T) {
	for m := 1; m <= registerMaps; m++ {
		for _, set := range []SensorSet{TwoChannel, Typical, Full} {
			for _, display := range []Display{analysis.Metric, analysis.US} {
				t.Run(fmt.Sprintf("map %d/%s/%s", m, set, display), func(t *testing.T) {
					s := newStill(t, Options{Seed: 11, EnergyKWh: 4321.5, Sensors: Sensors{Set: set, Map: m, Display: display},
						Stated: Stated{Solvent: "toluene", JacketC: 150, Hold: 2 * time.Hour, Target: "80 kPa vac", Within: 8 * time.Minute, AirMin: "4.5 bar"}})
					start(t, s, Batch{Solvent: one("toluene")})
					st := parsed(t, s)
					plan, err := modbus.NewPlan(st, modbus.PlanOptions{})
					if err != nil {
						t.Fatal(err)
					}
					values := make([]analysis.Value, len(st.Channels))
					for _, at := range []time.Duration{0, 5 * time.Minute, 90 * time.Minute} {
						s.Advance(monday.Add(at))
						// A device that refuses gaps is only understood after some sweeps.
						var res modbus.SweepResult
						for range 20 {
							if res = plan.Sweep(t.Context(), s, values); res.Errors == nil {
								break
							}
						}
						if res.Errors != nil {
							t.Fatalf("after %v: %v", at, res.Err)
						}
						compare(t, s, st, values)
					}
				})
			}
		}
	}
}

func compare(t *testing.T, s *Still, st *config.Still, values []analysis.Value) {
	t.Helper()
	if len(st.Channels) != len(s.Layout()) {
		t.Fatalf("%d channels in the configuration, %d in the still", len(st.Channels), len(s.Layout()))
	}
	for i, ch := range st.Channels {
		want, ok := s.Value(ch.Name)
		if !ok {
			t.Fatalf("no channel %s", ch.Name)
		}
		if values[i].Quality != analysis.Good {
			t.Errorf("%s is %s", ch.Name, values[i].Quality)
			continue
		}
		p := s.Points()[s.point(ch.Name)]
		step := math.Abs(want.V) * 1e-6 // float32
		switch {
		case p.Loop:
			step = (p.High - p.Low) / (p.RawHigh - p.RawLow) * p.Unit.Factor
		case p.Scale != 0 && p.As != config.Float32:
			step = p.Scale * p.Unit.Factor
		}
		tol := 0.51*step + 1e-9
		if want.V < 0 && p.As == config.Uint16 && !p.Loop {
			want.V = 0 // noise below zero does not fit
		}
		if p.Loop {
			low := p.Unit.Inside(p.Low - (p.High-p.Low)/80) // 3.8 mA
			want.V = max(want.V, low)
		}
		if math.Abs(values[i].V-want.V) > tol {
			t.Errorf("%s: decoded %g, shown %g (one step is %g)", ch.Name, values[i].V, want.V, step)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	lax := newStill(t, Options{Sensors: Sensors{Set: Full, Map: 1}})
	strict := newStill(t, Options{Sensors: Sensors{Set: Full, Map: 2}})
	silent := newStill(t, Options{Sensors: Sensors{Set: Full, Map: 1}})
	if err := silent.Set(DeviceSilent, 0); err != nil {
		t.Fatal(err)
	}
	busy := newStill(t, Options{Sensors: Sensors{Set: Full, Map: 1}})
	if err := busy.Set(DeviceException, 6); err != nil {
		t.Fatal(err)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for _, tt := range []struct {
		name           string
		s              *Still
		ctx            context.Context
		table          config.Table
		address, count uint16
		want           error
	}{
		{"whole map", lax, nil, config.Holding, 0, 20, nil},
		{"before the first", lax, nil, config.Input, 4, 3, modbus.IllegalAddress},
		{"after the last", lax, nil, config.Holding, 0, 21, modbus.IllegalAddress},
		{"at the end of the address space", lax, nil, config.Holding, 65535, 2, modbus.IllegalAddress},
		{"table without points", lax, nil, config.Coil, 0, 1, modbus.IllegalAddress},
		{"no such table", lax, nil, config.Table(9), 0, 1, modbus.IllegalAddress},
		{"none", lax, nil, config.Holding, 0, 0, modbus.IllegalValue},
		{"126 registers", lax, nil, config.Holding, 0, 126, modbus.IllegalValue},
		{"2001 bits", lax, nil, config.Discrete, 3, 2001, modbus.IllegalValue},
		{"gap read as zero", lax, nil, config.Holding, 5, 5, nil},
		{"gap refused", strict, nil, config.Input, 106, 6, modbus.IllegalAddress},
		{"no gap", strict, nil, config.Input, 100, 8, nil},
		{"silent", silent, nil, config.Holding, 0, 1, modbus.ErrSilent},
		{"busy", busy, nil, config.Holding, 0, 1, modbus.Exception(6)},
		{"busy, bits", busy, nil, config.Discrete, 3, 1, modbus.Exception(6)},
		{"cancelled", lax, cancelled, config.Holding, 0, 1, context.Canceled},
	} {
		t.Run(tt.name, func(t *testing.T) {
			ctx := tt.ctx
			if ctx == nil {
				ctx = t.Context()
			}
			data, err := tt.s.Read(ctx, 1, tt.table, tt.address, tt.count)
			if !errors.Is(err, tt.want) {
				t.Fatalf("error %v, want %v", err, tt.want)
			}
			if err != nil && data != nil {
				t.Error("data and an error")
			}
			if err == nil && len(data) != int(tt.count)*2 {
				t.Errorf("%d bytes for %d registers", len(data), tt.count)
			}
		})
	}
}

// Whatever is asked of the registers, the reply has the length the protocol asks for, or is an error.
func FuzzRead(f *testing.F) {
	s := newStill(f, Options{Sensors: Sensors{Set: Full, Map: 3}})
	start(f, s, Batch{Solvent: one("toluene")})
	s.Advance(monday.Add(20 * time.Minute))
	f.Add(uint8(3), uint16(1000), uint16(32))
	f.Add(uint8(1), uint16(16), uint16(4))
	f.Add(uint8(4), uint16(0), uint16(3))
	f.Add(uint8(2), uint16(65535), uint16(65535))
	f.Fuzz(func(t *testing.T, table uint8, address, count uint16) {
		data, err := s.Read(t.Context(), 1, config.Table(table), address, count)
		if err != nil {
			if data != nil {
				t.Error("data and an error")
			}
			return
		}
		want := 2 * int(count)
		if config.Table(table) == config.Coil || config.Table(table) == config.Discrete {
			want = (int(count) + 7) / 8
		}
		if len(data) != want {
			t.Errorf("%d bytes, want %d", len(data), want)
		}
	})
}

// A broken wire shows as each kind of input shows it: 0 mA in a loop, the largest number of an integer
// input, not a number in a float.
func TestBrokenWire(t *testing.T) {
	for _, tt := range []struct {
		name    string
		m       int
		channel analysis.Signal
		want    analysis.Quality
	}{
		{"loop", 1, analysis.StillVacuum, analysis.BrokenWire},
		{"loop of an int16 input", 3, analysis.AirSupplyPressure, analysis.BrokenWire},
		{"temperature input", 1, analysis.JacketTemperature, analysis.OutOfRange},
		{"temperature input, swapped bytes", 3, analysis.JacketTemperature, analysis.OutOfRange},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStill(t, Options{Sensors: Sensors{Set: Typical, Map: tt.m}})
			if err := s.Set(BrokenWire+Fault(":"+tt.channel), 1); err != nil {
				t.Fatal(err)
			}
			st := parsed(t, s)
			plan, err := modbus.NewPlan(st, modbus.PlanOptions{})
			if err != nil {
				t.Fatal(err)
			}
			values := make([]analysis.Value, len(st.Channels))
			plan.Sweep(t.Context(), s, values)
			for i, ch := range st.Channels {
				bad := values[i].Quality != analysis.Good
				if hit := ch.Signal == tt.channel; bad != hit {
					t.Errorf("%s is %s", ch.Name, values[i].Quality)
				}
			}
		})
	}
}
