package simstill

import (
	"math"
	"testing"
	"time"

	"luted/analysis"
)

// at runs a toluene batch with one fault set at the given time of the run and looks at the truth later.
func at(t *testing.T, f Fault, size float64, set, look time.Duration, o Options) (*Still, Truth) {
	t.Helper()
	o.Seed = 9
	s := newStill(t, o)
	if f != "" && set <= 0 {
		if err := s.Set(f, size); err != nil {
			t.Fatal(err)
		}
	}
	start(t, s, Batch{Solvent: one("toluene"), Habit: Habit{Hold: 8 * time.Hour}})
	if f != "" && set > 0 {
		s.Advance(monday.Add(set))
		if err := s.Set(f, size); err != nil {
			t.Fatal(err)
		}
	}
	s.Advance(monday.Add(look))
	return s, s.Truth()
}

// Each fault leaves its mark, against the same run without it. Expected figures are what the published
// formulas and the balance of the still give, or wide bounds where only the direction is sure.
func TestFaultsLeaveTheirMark(t *testing.T) {
	full := Options{Sensors: Sensors{Set: Full}}
	minutes := func(m int) time.Duration { return time.Duration(m) * time.Minute }
	value := func(s *Still, name string) float64 {
		v, _ := s.Value(name)
		return v.V
	}
	tests := []struct {
		fault     Fault
		size      float64
		set, look time.Duration
		check     func(s *Still, tr, healthy Truth) bool
		why       string
	}{
		{OpenLid, 0, 0, minutes(8), func(s *Still, tr, _ Truth) bool {
			return tr.PressureKPa > 0.99*tr.RoomKPa && value(s, "lid_closed") == 0
		}, "no vacuum at all, and the lid switch shows it"},
		{Leak, 2, 0, minutes(8), func(s *Still, tr, h Truth) bool {
			// Choked air through 2 mm (632.29 mbar·L/s at 20 °C and 1013.25 mbar) times the discharge coefficient.
			want := h.FullLeakMbarLS + 632.29*s.o.Equipment.Discharge*tr.RoomKPa/101.325
			return tr.PressureKPa > 45 && value(s, "lid_closed") == 1 && math.Abs(tr.FullLeakMbarLS-want) < 0.01*want
		}, "levels off far too high; the leak is the published choked flow"},
		{Leak, 0.5, 0, minutes(10), func(_ *Still, tr, h Truth) bool {
			return tr.PressureKPa > h.PressureKPa+1.5 && tr.PressureKPa < 18
		}, "a small leak costs a few kPa"},
		{DrainValveOpen, 0, 0, minutes(8), func(_ *Still, tr, _ Truth) bool { return tr.PressureKPa > 0.97*tr.RoomKPa }, "no vacuum"},
		{SealLost, 0, 0, minutes(75), func(_ *Still, tr, _ Truth) bool {
			return tr.PressureKPa > 90 && !tr.BoilAt.IsZero()
		}, "vacuum was there, then it boiled, then it goes"},
		{WeakAir, 0.45, 0, minutes(8), func(s *Still, tr, h Truth) bool {
			return tr.PressureKPa > 40 && value(s, "air_supply_pressure") < 330 && tr.TauS > 1.5*h.TauS
		}, "shallow and slow, the air gauge low"},
		{WeakAir, 1, minutes(20), minutes(50), func(s *Still, tr, h Truth) bool {
			return tr.PressureKPa > h.PressureKPa && value(s, "air_supply_pressure") < 10
		}, "no air at all: the check valve holds, what leaks in stays"},
		{EjectorWorn, 0.5, 0, minutes(8), func(_ *Still, tr, h Truth) bool { return tr.TauS > 1.8*h.TauS && tr.PressureKPa > h.PressureKPa+10 }, "slow and shallow"},
		{ElementLost, 1, 0, minutes(10), func(_ *Still, tr, h Truth) bool { return math.Abs(tr.HeaterKW/h.HeaterKW-2.0/3) < 0.01 }, "two thirds of the power are left"},
		{PhaseLost, 0.5, 0, minutes(10), func(_ *Still, tr, h Truth) bool { return math.Abs(tr.HeaterKW/h.HeaterKW-0.5) < 0.01 }, "half the power is left"},
		{ThermostatOpen, 0, minutes(15), minutes(40), func(_ *Still, tr, h Truth) bool { return tr.HeaterKW == 0 && tr.JacketC < h.JacketC-40 }, "heat stays off"},
		{HighLimitEarly, 110, 0, minutes(60), func(_ *Still, tr, h Truth) bool { return tr.HeaterKW == 0 && tr.JacketC < 115 }, "trips on the way up and stays off"},
		{ContactorStuck, 1, 0, minutes(115), func(s *Still, tr, _ Truth) bool { return tr.JacketC > 165 && s.heater.tripped == (tr.HeaterKW == 0) }, "past the set point; the high-limit ends it"},
		{ContactorStuck, 2, 0, minutes(240), func(_ *Still, tr, _ Truth) bool { return tr.JacketC > 230 && tr.HeaterKW > 5 }, "nothing ends it"},
		{OilFouled, 0.8, 0, minutes(60), func(_ *Still, tr, h Truth) bool { return tr.ChargeC < h.ChargeC || tr.RecoveredL < h.RecoveredL-1 }, "heat goes over slowly"},
		{CondenserWarm, 40, 0, minutes(100), func(s *Still, tr, h Truth) bool {
			return value(s, "condensate_temperature") > 45 && tr.LostKg > 3*h.LostKg
		}, "condensate warm, solvent drawn off by the ejector"},
		{CoolantLost, 1, minutes(20), minutes(100), func(_ *Still, tr, h Truth) bool {
			return tr.PressureKPa > h.PressureKPa+10 && tr.RecoveredL < h.RecoveredL-5
		}, "vapour is not taken up: pressure climbs"},
		{WrongSolvent, 3, 0, minutes(100), func(_ *Still, tr, h Truth) bool { return tr.Solvent == "water" && tr.RecoveredL < h.RecoveredL-5 }, "water takes five times the heat"},
		{WaterInCharge, 0.2, 0, minutes(70), func(_ *Still, tr, h Truth) bool { return tr.ChargeC < h.ChargeC-8 }, "two liquids boil together, colder than either"},
		{ShortCharge, 0.5, 0, minutes(70), func(_ *Still, tr, h Truth) bool { return math.Abs(tr.LoadedL-h.LoadedL/2) < 0.01 }, "half is loaded"},
		{GasLeak, 30, 0, minutes(10), func(s *Still, _, _ Truth) bool { return math.Abs(value(s, "gas_level")-30) < 5 }, "the detector shows it"},
		{GaugeOffset, 6, 0, minutes(10), func(s *Still, tr, _ Truth) bool { return math.Abs(value(s, "still_pressure")-(tr.PressureKPa-6)) < 1 }, "reads too deep a vacuum"},
		{GaugeStuck, 0, minutes(2), minutes(30), func(s *Still, tr, _ Truth) bool { return value(s, "still_pressure") > tr.PressureKPa+10 }, "stays at what it showed"},
	}
	tried := map[Fault]bool{}
	for _, tt := range tests {
		t.Run(string(tt.fault)+"/"+tt.why, func(t *testing.T) {
			_, healthy := at(t, "", 0, 0, tt.look, full)
			s, tr := at(t, tt.fault, tt.size, tt.set, tt.look, full)
			if !tt.check(s, tr, healthy) {
				t.Errorf("after %v:\n%+v\nhealthy:\n%+v", tt.look, tr, healthy)
			}
		})
		tried[tt.fault] = true
	}
	// These have tests of their own.
	for _, f := range []Fault{SealWear, BrokenWire, SensorStuck, NoiseSpikes, DeviceSilent, DeviceException} {
		tried[f] = true
	}
	for _, row := range FaultTable {
		if !tried[row.Fault] {
			t.Errorf("fault %s has no test", row.Fault)
		}
		if row.Text == "" || row.Size == "" || !(row.Usual > 0) || row.Usual > row.Max {
			t.Errorf("fault %s: %+v", row.Fault, row)
		}
	}
}

func TestSealWearGrowsRunByRun(t *testing.T) {
	s := newStill(t, Options{})
	if err := s.Set(SealWear, 0.05); err != nil {
		t.Fatal(err)
	}
	var before float64
	for run := range 5 {
		at := monday.Add(time.Duration(run) * 24 * time.Hour)
		s.Advance(at)
		start(t, s, Batch{Solvent: one("toluene"), Litres: 20})
		s.Advance(at.Add(10 * time.Minute))
		tr := s.Truth()
		if run > 0 {
			// 0.05 mm² passes what a round hole of that area does: 158.07 mbar·L/s per mm of diameter squared.
			want := 0.05 / (math.Pi / 4) * 158.07 * s.o.Equipment.Discharge * tr.RoomKPa / 101.325
			if d := tr.FullLeakMbarLS - before; math.Abs(d-want) > 0.15*want {
				t.Errorf("run %d: leak grew by %.3f mbar·L/s, want %.3f", run+1, d, want)
			}
		}
		before = tr.FullLeakMbarLS
	}
	s.Clear(SealWear)
	if got := s.Truth().FullLeakMbarLS; got > before/2 {
		t.Errorf("a new gasket leaks %.2f mbar·L/s, the worn one did %.2f", got, before)
	}
}

func TestSetRefuses(t *testing.T) {
	s := newStill(t, Options{})
	for name, f := range map[string]struct {
		fault Fault
		size  float64
	}{
		"unknown":              {"gremlins", 1},
		"too large":            {Leak, 1000},
		"channel not fitted":   {BrokenWire + ":gas_level", 1},
		"no fault of channels": {Leak + ":still_vacuum", 1},
	} {
		if err := s.Set(f.fault, f.size); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if err := s.Set(Leak, 0); err != nil {
		t.Fatal(err)
	}
	if got := s.Truth().Faults[Leak]; got != 2 {
		t.Errorf("leak without a size is %g mm, want the usual 2", got)
	}
}

// The vapour floor: acetone at 20 °C holds about a quarter of an atmosphere (24.7 kPa in the property
// table's source) until condenser and cooling win, with no leak anywhere.
func TestVaporFloorOfAcetone(t *testing.T) {
	s := newStill(t, Options{Seed: 2, RoomC: 20, Equipment: Equipment{CoolantC: 4}})
	start(t, s, Batch{Solvent: one("acetone"), ChargeC: 20, JacketC: 60, Habit: Habit{HeatDelay: 2 * time.Hour}})
	s.Advance(monday.Add(4 * time.Minute))
	early := s.Truth()
	if early.PressureKPa < 23 || early.PressureKPa > 27 {
		t.Errorf("after 4 min: %.2f kPa, want about 24.7: the charge's own vapour pressure", early.PressureKPa)
	}
	s.Advance(monday.Add(90 * time.Minute))
	late := s.Truth()
	if late.PressureKPa > early.PressureKPa-4 || late.ChargeC > 16 {
		t.Errorf("after 90 min: %.2f kPa, charge at %.1f °C; boiling should have cooled it", late.PressureKPa, late.ChargeC)
	}
	if math.Abs(late.BubbleKPa-late.PressureKPa) > 0.5 {
		t.Errorf("pressure %.2f kPa is not what the charge holds up (%.2f kPa)", late.PressureKPa, late.BubbleKPa)
	}
}

// Left closed under vacuum, the still fills slowly through its leak: V·dp/dt is the leak (40 CFR 1065.644).
func TestLeftUnderVacuum(t *testing.T) {
	s := newStill(t, Options{Seed: 2, Equipment: Equipment{LeakMM: 0.4}})
	start(t, s, Batch{Solvent: one("m-xylene"), Litres: 10, Dirt: -1, Habit: Habit{HeatDelay: 100 * time.Hour, Abort: 10 * time.Minute, Cool: time.Minute, NoVent: true}})
	s.Advance(monday.Add(15 * time.Minute))
	a := s.Truth()
	s.Advance(monday.Add(30 * time.Minute))
	b := s.Truth()
	volume := s.gas.volA + s.gas.volB
	rise := 10 * (b.PressureKPa - a.PressureKPa) / 900 * volume
	if a.Phase != analysis.Idle || b.PressureKPa > 0.5*b.RoomKPa {
		t.Fatalf("%s at %.1f kPa", b.Phase, b.PressureKPa)
	}
	if math.Abs(rise-b.LeakMbarLS) > 0.05*b.LeakMbarLS {
		t.Errorf("pressure rise gives %.2f mbar·L/s, the leak is %.2f", rise, b.LeakMbarLS)
	}
}
