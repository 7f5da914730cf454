package thirdplant

import (
	"math"
	"testing"

	"luted/analysis/solvent"
)

// TestPumpDownIsTheClosedForm: with a single stage, no leak and no solvent the pressure falls as
// p = pu + (p0 − pu)·e^(−t·S0/V), the solution of V·dp/dt = −S0·(p − pu).
func TestPumpDownIsTheClosedForm(t *testing.T) {
	jet := ejector{speedLs: 1, blankKPa: 8, airKPa: 600, kneeKPa: 1e9}
	s := space{litres: 90, air: 101.3}
	for i := range 600 {
		s.step(flows{speedLs: jet.speed(s.kPa(), 600, 101.3, 1)}, 1)
		want := 8 + (101.3-8)*math.Exp(-float64(i+1)/90)
		if math.Abs(s.kPa()-want) > 0.35 {
			t.Fatalf("after %d s: %.2f kPa, the closed form has %.2f kPa", i+1, s.kPa(), want)
		}
	}
}

// TestLeakLevelsOff: with a hole it comes to rest where the jet pumps what the hole passes.
func TestLeakLevelsOff(t *testing.T) {
	jet := ejector{speedLs: 1, blankKPa: 8, airKPa: 600, kneeKPa: 1e9}
	s := space{litres: 90, air: 101.3}
	for range 1500 {
		s.step(flows{speedLs: jet.speed(s.kPa(), 600, 101.3, 1), airIn: throat(1.5, s.kPa(), 101.3, 20)}, 1)
	}
	if want := 8 + throat(1.5, 30, 101.3, 20)/1; math.Abs(s.kPa()-want) > 0.1 {
		t.Errorf("levels off at %.2f kPa; S0·(p − pu) = Q has %.2f kPa", s.kPa(), want)
	}
}

// TestChokedFlow: the mass flow of choked air is 0.04042·Cd·A·p/√T in SI units, κ = 1.4, R = 287.05 J/(kg·K)
// (any text on gas dynamics; from memory), and falls to nothing without a difference of pressure.
func TestChokedFlow(t *testing.T) {
	const tK = 293.15
	kgs := 0.04042 * 0.7 * math.Pi / 4 * 1e-6 * 101325 / math.Sqrt(tK)
	if got, want := throat(1, 20, 101.325, 20), kgs*287.05*tK; math.Abs(got/want-1) > 1e-3 {
		t.Errorf("1 mm passes %.3f kPa·L/s, want %.3f", got, want)
	}
	if a, b := throat(1, 20, 101.325, 20), throat(1, 50, 101.325, 20); math.Abs(a-b) > 1e-9 {
		t.Errorf("choked flow changes with the pressure inside: %g, %g", a, b)
	}
	if q := throat(1, 101.325, 101.325, 20); q != 0 {
		t.Errorf("flow without a difference: %g", q)
	}
}

// TestActivity: pure solvent has activity 1, dry resin none, and it never falls with more solvent.
func TestActivity(t *testing.T) {
	if a := activity(1); math.Abs(a-1) > 1e-12 {
		t.Errorf("pure: %g", a)
	}
	last := 0.0
	for i := range 101 {
		a := activity(float64(i) / 100)
		if a < last {
			t.Fatalf("falls at %d %%", i)
		}
		last = a
	}
}

// oneRun plays a healthy run of toluene by hand and keeps its balances.
func oneRun(t *testing.T) (b *bench, kWs, latent, losses, carried float64, start, end *plant, poured float64) {
	t.Helper()
	b = newBench(Case{Name: "balance"}, Full, 3)
	b.recipe.mix = solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}
	b.recipe.residue = 0.06
	b.usual(0)
	if err := b.settle(); err != nil {
		t.Fatal(err)
	}
	w := newWorld(b)
	p := w.p
	p.pot = pour(b.jobs[0].fill)
	p.vent, p.air, p.heat = false, true, true
	poured = p.pot.litres()
	before := *p
	before.pot = pour(b.jobs[0].fill)
	for range 3 * 3600 {
		oil, charge, n := p.oilC, p.chargeC, p.pot.mol[0]
		p.step(1)
		out := n - p.pot.mol[0]
		kWs += p.heater.elementW
		latent += out * p.pot.parts[0].heat
		carried += out * p.pot.parts[0].molKg * p.pot.parts[0].cp * (charge - 20)
		losses += p.loss*(oil-p.roomC) + p.lid*(charge-p.roomC)
	}
	return b, kWs, latent, losses, carried, &before, p, poured
}

// TestEnergyBalance: what the elements gave is in the oil, the metal and the liquor, was lost to the room, or went
// off as vapour.
func TestEnergyBalance(t *testing.T) {
	_, kWs, latent, losses, carried, a, b, _ := oneRun(t)
	stored := func(p *plant) float64 {
		return p.oilKJK*(p.oilC-20) + p.wallKJK*(p.wallC-20) + (p.potKJK+p.pot.heatCapacity())*(p.chargeC-20)
	}
	sum := stored(b) - stored(a) + latent + losses + carried
	if math.Abs(sum/kWs-1) > 0.01 {
		t.Errorf("elements gave %.0f kJ, found %.0f kJ", kWs, sum)
	}
}

// TestMassBalance: what was poured in is in the pot, in the receiver or its pipe, in the gas or went with the air.
func TestMassBalance(t *testing.T) {
	_, _, _, _, _, _, p, poured := oneRun(t)
	gas := p.gas.vapour * p.gas.litres * molPerKPaL * p.pot.parts[0].molKg / p.pot.parts[0].densKgL
	found := p.pot.litres() + p.condensed + p.lostL + gas
	if math.Abs(found-poured) > 0.005*poured {
		t.Errorf("poured %.3f L, found %.3f L", poured, found)
	}
	if p.condensed < 0.9*poured {
		t.Errorf("only %.1f L of %.1f L came over", p.condensed, poured)
	}
}

// TestBoilsWhereTheTableSays: with most of the solvent still there a charge boils within 5 K above the boiling
// point of toluene at the pressure of the still (resin raises it, and superheat, which at a few kPa is several K).
func TestBoilsWhereTheTableSays(t *testing.T) {
	b := newBench(Case{Name: "balance"}, Full, 3)
	b.recipe.mix = solvent.Mixture{Parts: []solvent.Part{{Name: "toluene", Fraction: 1}}}
	b.recipe.residue = 0.05
	b.usual(0)
	if err := b.settle(); err != nil {
		t.Fatal(err)
	}
	w := newWorld(b)
	w.p.pot = pour(b.jobs[0].fill)
	w.p.vent, w.p.air, w.p.heat = false, true, true
	seen := 0
	for range 3 * 3600 {
		w.p.step(1)
		if w.p.condensed > 0.1*b.fullL && w.p.condensed < 0.5*b.fullL {
			seen++
			want, _ := b.recipe.mix.BubbleC(w.p.gas.kPa())
			if d := w.p.chargeC - want; d < -0.5 || d > 5 {
				t.Fatalf("boils at %.1f °C, toluene at %.1f °C", w.p.chargeC, want)
			}
		}
	}
	if seen < 600 {
		t.Errorf("boiled for %d s only", seen)
	}
}

// TestDryPotWarmsUp: with nothing left to boil and the oil held hot, the pot comes near to the oil.
func TestDryPotWarmsUp(t *testing.T) {
	b := newBench(Case{Name: "balance"}, Full, 3)
	j := b.usual(0)
	if err := b.settle(); err != nil {
		t.Fatal(err)
	}
	w := newWorld(b)
	for _, litres := range j.fill.litres {
		w.p.pot.residueL = 0.1 * litres
	}
	w.p.heat = true
	for range 5 * 3600 {
		w.p.step(1)
	}
	if gap, whole := w.p.oilC-w.p.chargeC, w.p.oilC-w.p.roomC; gap > 0.35*whole || whole < 40 {
		t.Errorf("oil %.0f °C, pot %.0f °C, room %.0f °C", w.p.oilC, w.p.chargeC, w.p.roomC)
	}
}
