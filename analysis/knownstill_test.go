package analysis

import (
	"slices"
	"testing"
	"time"
)

// What a still that is known does differently from its own good runs.

// An absolute gauge without a barometer that shows 8 kPa more at rest than before its first runs is off: the records of
// the world's weather span about that much (870 to 1084 hPa at sea level, WMO), and no place sees it in a day.
func TestGaugeShiftsAtRest(t *testing.T) {
	channels := []string{"jacket_temperature", "still_pressure"}
	for _, tt := range []struct {
		kPa  float64
		want bool
	}{{8, true}, {3, false}} {
		const last = 5
		es, _ := history(last, channels, func(run int, s *scene) {
			if run == last {
				s.events[-120] = func(w *world) { w.offset["still_pressure"] = tt.kPa }
			}
		})
		raised, _ := when(es, SignalImplausible)
		if want := slices.Contains(raised, last); want != tt.want {
			t.Errorf("shown %g kPa more: raised in runs %v, want it in run %d: %v", tt.kPa, raised, last, tt.want)
		}
	}
}

// A still that was always heated on for minutes after its dry point is past dry when it is for hours, whatever the hold.
func TestPastDryByOwnRuns(t *testing.T) {
	channels := []string{"jacket_temperature", "charge_temperature", "still_vacuum", "heater_power"}
	const last = 5
	var gone float64
	es, _ := history(last, channels, func(run int, s *scene) {
		s.still.Recipe.Hold = 8 * time.Hour
		if run == last {
			s.hold += 1.8 * 3600 // too little to be told of a still that nobody knows
		}
		gone = s.hold
	})
	raised, _ := when(es, PastDry)
	if !slices.Equal(raised, []int{last}) {
		t.Errorf("past-dry raised in runs %v, want %d alone, which was heated %g h at the set point", raised, last, gone/3600)
	}
}

// Whoever shuts off heat and air together and leaves the still closed has ended the run: that is no stalled heating.
func TestHeatAndAirShutOffTogether(t *testing.T) {
	s := defaultScene("jacket_temperature", "charge_temperature", "still_vacuum", "heater_power", "air_on")
	s.holeMM = 0.3 // it creeps up
	s.still.Recipe.Hold = 0
	s.events[3000] = func(w *world) { w.heat, w.pull, w.isolated = false, false, true }
	s.coolFor = 7200
	es := fold(s.still, s.scans())
	if fs := raisedFaults(es); slices.Contains(fs, HeatingStalled) || slices.Contains(fs, VacuumLost) {
		t.Errorf("raised %v; heat and air were both shut off by hand", fs)
	}
}

// The lid that is closed presses the air in the pot together; as it comes back to rest no ejector pulls.
func TestLidPressesAir(t *testing.T) {
	s := defaultScene("jacket_temperature", "still_pressure")
	s.still.Air.Opens = ByHand
	airAt(420)(s)
	s.lead = 600
	s.events[-240] = func(w *world) { w.offset["still_pressure"] = 1 } // kPa
	for i := range 10 {
		s.events[20*float64(i)] = func(w *world) { w.offset["still_pressure"] = 1 - 0.1*float64(i+1) }
	}
	s.events[0] = func(w *world) { w.offset["still_pressure"], w.pull = 0.9, false }
	if fs := raisedFaults(fold(s.still, s.scans())); len(fs) > 0 {
		t.Errorf("raised %v, want none: the air came seven minutes after the heat", fs)
	}
}

// Wear shows in the lowest pressure that each run held, however warm the charge was as it began.
func TestWearByLowestPressure(t *testing.T) {
	const n = 16
	es, a := history(n, []string{"jacket_temperature", "still_pressure"}, func(run int, s *scene) {
		s.hotC = 60 // never cold: no pump-down shows its end
		s.holeMM = 0.25 + 0.05*float64(max(0, run-4))
	})
	if got := len(a.memory.Learned.WearLow); got < n-2 {
		t.Errorf("%d lowest pressures of %d runs kept", got, n)
	}
	w, grows := fitWear(a.memory.Learned.WearLow, a.still.Vacuum.TargetKPa, 0, false)
	if !grows || w.perRun < 3*w.sd {
		t.Errorf("lowest pressures grow: %v, by %.2f ± %.2f kPa a run; they were %v", grows, w.perRun, w.sd, a.memory.Learned.WearLow)
	}
	if raised, _ := when(es, SealWear); len(raised) == 0 {
		t.Errorf("no seal-wear in %d runs", n)
	}
}
