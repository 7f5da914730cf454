package analysis

import (
	"math"
	"testing"
)

// A heater of 6 kW that needs half an hour to the set point and an hour there, seen by a switch only. On the
// contactor, at half of the time, that is 3 + 3 kWh; on the selector, which stays on, it is 3 kWh and something
// between nothing and 6.
func TestHeaterSwitch(t *testing.T) {
	run := func(contactor bool) (kWh, u float64) {
		a := &Analyser{still: Still{Heater: Heater{RatedKW: 6}, Channels: []Channel{NewChannel("heater_on")}}}
		a.in = newInputs(&a.still)
		a.phase = HeatUp
		a.run.energy = energy{byPhase: map[Phase]float64{}, basis: "heater switch and rating"}
		for i := range 5401 {
			a.r.dt, a.r.t = 1, float64(i)
			a.run.heat.reached = i > 1800
			on := !contactor || i <= 1800 || i/300%2 == 0
			a.r.v[sHeaterOn], a.r.ok[sHeaterOn] = bit(on), true
			a.stepEnergy()
		}
		kWh, u, _ = a.totalEnergy()
		return kWh, u
	}
	kWh, u := run(true)
	if math.Abs(kWh-6) > 0.02 || math.Abs(u-0.1*6/math.Sqrt(3)) > 0.01 { // 10 % of it, rectangular
		t.Errorf("contactor: %.3f ± %.3f kWh, want 6 ± 0.346", kWh, u)
	}
	kWh, u = run(false)
	if want := math.Hypot(0.1*6, 3) / math.Sqrt(3); math.Abs(kWh-6) > 0.02 || math.Abs(u-want) > 0.01 {
		t.Errorf("selector: %.3f ± %.3f kWh, want 6 ± %.3f", kWh, u, want)
	}
}
