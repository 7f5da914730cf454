package analysis

import (
	"math"
	"testing"
)

// A counter in tenths of a kWh that stood 0.07 on its way to the next tenth when 2 kW were switched on, by hand:
// the first step comes after 0.03 kWh; what is drawn until the end lies 0.04 beyond the last step.
func TestBetweenSteps(t *testing.T) {
	a := &Analyser{still: Still{Channels: []Channel{NewChannel("heater_power"), NewChannel("energy_counter")}}}
	a.in = newInputs(&a.still)
	a.phase = HeatUp
	a.run.energy = energy{byPhase: map[Phase]float64{}, basis: "counter", lastKWh: 100, hasLast: true}
	total := 0.0
	for i := range 1 + int(1.11/2*3600/2) { // 1.11 kWh at 2 kW, every 2 s
		if i > 0 {
			total += 2 * 2.0 / 3600
		}
		a.r.dt, a.r.t = 2, float64(2*i)
		a.r.v[sPower], a.r.ok[sPower] = 2, true
		a.r.v[sCounter], a.r.ok[sCounter] = math.Floor((100.07+total)*10+1e-9)/10, true
		a.stepEnergy()
	}
	kWh, u, _ := a.totalEnergy()
	if math.Abs(kWh-total) > 0.003 {
		t.Errorf("%.4f kWh, want %.4f", kWh, total)
	}
	coarse := a.run.energy
	coarse.between = between{}
	b := &Analyser{still: a.still, in: a.in}
	b.run.energy = coarse
	if without, uWithout, _ := b.totalEnergy(); math.Abs(without-total) < 0.005 || uWithout < 2*u {
		t.Errorf("without the power %.4f ± %.4f kWh, with it ± %.4f", without, uWithout, u)
	}
}

// A power meter that was silent at an end says nothing of it.
func TestBetweenNeedsThePower(t *testing.T) {
	b := between{any: true, stepped1: true, firstStep: 0.1, first: 0.03, firstSure: true, kWh: 0.04, sure: true}
	if first, last, _, ok := b.ends(0.1); !ok || math.Abs(first+0.07) > 1e-12 || last != 0.04 {
		t.Errorf("%.3f, %.3f, %v; want -0.07 and 0.04", first, last, ok)
	}
	b.kWh = 0.3 // more than a step without a step: a meter that is off
	if _, last, _, _ := b.ends(0.1); last != 0.1 {
		t.Errorf("%.3f after the last step, want no more than the step", last)
	}
	b.sure = false
	if _, _, _, ok := b.ends(0.1); ok {
		t.Error("the power was not seen, and counts")
	}
}
