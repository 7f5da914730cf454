package analysis

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"luted/analysis/solvent"
)

// EB-1 … EB-3: a least-squares baseline of kWh on gallons, computed by hand in exact fractions (106/175 and
// 2711/1050), and its cumulative sum, actual less expected.
func TestEnergyBaseline(t *testing.T) {
	var l Learned
	for _, p := range [][2]float64{{4, 5.0}, {6, 6.3}, {8, 7.3}, {10, 8.7}, {12, 9.8}, {14, 11.1}} {
		l.Energy = append(l.Energy, EnergyPoint{L: p[0], KWh: p[1], StartC: 20})
	}
	b, ok := l.ownLine()
	if !ok {
		t.Fatal("no baseline")
	}
	check := func(name string, got, want, tol float64) {
		if math.Abs(got-want) > tol {
			t.Errorf("%s: %.9g, want %.9g", name, got, want)
		}
	}
	check("EB-1 slope", b.fit.Coef[1], 106./175, 1e-12)
	check("EB-2 constant", b.fit.Coef[0], 2711./1050, 1e-12)
	check("EB-3 R²", b.fit.R2, 0.998792548, 1e-9)
	check("EB-3 residual standard deviation", b.fit.ResidualSD, 0.088101673, 1e-9)
	// Where physics says next to nothing, the baseline is that line.
	free, ok := l.energyBaseline(effects{perL: effect{0, 1e3}})
	if !ok {
		t.Fatal("no baseline")
	}
	sum := 0.0
	for _, p := range []struct{ x, e, expected, cusum float64 }{
		{8, 7.3, 7.4276, -0.1276}, {10, 8.9, 8.6390, 0.1333}, {12, 10.6, 9.8505, 0.8829}, {6, 6.9, 6.2162, 1.5667}, {10, 9.4, 8.6390, 2.3276}, {8, 8.2, 7.4276, 3.1000},
	} {
		want, _, ok := free.expected(EnergyPoint{L: p.x, KWh: p.e, StartC: 20})
		if !ok {
			t.Fatal("nothing expected")
		}
		sum += p.e - want
		check("expected", want, p.expected, 6e-5)
		check("cumulative sum", sum, p.cusum, 6e-5)
	}
	if _, _, ok := free.expected(EnergyPoint{L: 30, StartC: 20}); ok {
		t.Error("a run of 30 L is compared with a baseline of 4 to 14 L")
	}
}

// What the good runs did not differ in is allowed for by physics, with its doubt; the figures by hand: eight runs scatter
// by 0.02 kWh about 9, and six more by 2.5 % of it, less one for the mean.
func TestEnergyEffects(t *testing.T) {
	var l Learned
	for i := range 8 {
		l.Energy = append(l.Energy, EnergyPoint{KWh: 9 + 0.02*float64(i%2*2-1), L: 45, StartC: 20, BoilC: 40})
	}
	b, ok := l.energyBaseline(effects{perL: effect{0.16, 0.02}, perStartK: effect{-0.02, 0.005}, perBoilK: effect{0.03, 0.01}})
	if !ok {
		t.Fatal("no baseline")
	}
	scatter := math.Sqrt((6*sq(0.025*9) + 8*sq(0.02)) / 13)
	if math.Abs(b.freedom-13) > 1e-9 || math.Abs(b.scatter-scatter) > 1e-9 {
		t.Errorf("scatter %.6g with %.6g degrees of freedom, want %.6g with 13", b.scatter, b.freedom, scatter)
	}
	for _, tt := range []struct {
		name string
		p    EnergyPoint
		want float64
		u    float64 // that comes on top
	}{
		{"as ever", EnergyPoint{L: 45, StartC: 20, BoilC: 40}, 9, 0},
		{"four litres more", EnergyPoint{L: 49, StartC: 20, BoilC: 40}, 9.64, 0.08},
		{"ten kelvin warmer", EnergyPoint{L: 45, StartC: 30, BoilC: 40}, 8.8, 0.05},
		{"boils ten kelvin hotter", EnergyPoint{L: 45, StartC: 20, BoilC: 50}, 9.3, 0.1},
		{"nobody knows where it boils", EnergyPoint{L: 45, StartC: 20}, 9, 0},
	} {
		got, sd, ok := b.expected(tt.p)
		if want := math.Hypot(scatter*math.Sqrt(1+1./8), tt.u); !ok || math.Abs(got-tt.want) > 1e-9 || math.Abs(sd-want) > 1e-9 {
			t.Errorf("%s: expected %.6g ± %.6g, want %.6g ± %.6g", tt.name, got, sd, tt.want, want)
		}
	}
}

// A cold start and three hot ones: what a warm kelvin saves is what physics and these runs say, each as much as it is
// good for. The mean of two figures weighted by 1/u² (GUM, and every text on least squares), done here by itself.
func TestEnergyOfFewRuns(t *testing.T) {
	l := Learned{Energy: []EnergyPoint{
		{KWh: 10.6, L: 50, StartC: 20, BoilC: 40}, {KWh: 7.8, L: 50, StartC: 95, BoilC: 40}, {KWh: 7.6, L: 50, StartC: 95, BoilC: 40}, {KWh: 7.7, L: 50, StartC: 95, BoilC: 40},
	}}
	prior := effect{-0.03, 0.01}
	b, ok := l.energyBaseline(effects{perL: effect{0.14, 0.02}, perStartK: prior, perBoilK: effect{0.03, 0.01}})
	if !ok {
		t.Fatal("no baseline")
	}
	own, ownU := (7.7-10.6)/75, b.scatter/math.Sqrt(sq(56.25)+3*sq(18.75))
	want := (prior.slope/sq(prior.u) + own/sq(ownU)) / (1/sq(prior.u) + 1/sq(ownU))
	if got := b.fit.Coef[2]; math.Abs(got-want) > 1e-5 {
		t.Errorf("%.6g kWh for a warm kelvin, want %.6g between %.6g and %.6g", got, want, prior.slope, own)
	}
	for _, tt := range []struct {
		name string
		p    EnergyPoint
		high bool
	}{
		{"another cold start", EnergyPoint{KWh: 10.9, L: 50, StartC: 20, BoilC: 40}, false},
		{"half warm", EnergyPoint{KWh: 9.3, L: 51, StartC: 55, BoilC: 40}, false},
		{"a cold start with the lagging off", EnergyPoint{KWh: 13, L: 51, StartC: 20, BoilC: 40}, true},
		{"a hot start with the lagging off", EnergyPoint{KWh: 9.4, L: 51, StartC: 95, BoilC: 40}, true},
		{"a third lost on its way to the receiver", EnergyPoint{KWh: 7.7, L: 34, StartC: 95, BoilC: 40}, true},
		{"a small charge", EnergyPoint{KWh: 5.5, L: 34, StartC: 95, BoilC: 40}, false},
	} {
		expected, sd, ok := b.expected(tt.p)
		c := comparison{actual: tt.p.KWh, expected: expected, sd: sd, freedom: b.freedom}
		if !ok || c.high() != tt.high {
			t.Errorf("%s: %.1f kWh against %.2f ± %.2f: high %v", tt.name, tt.p.KWh, expected, sd, c.high())
		}
	}
	l.Energy = l.Energy[:2]
	if _, ok := l.energyBaseline(effects{}); ok {
		t.Error("a baseline of two runs")
	}
}

// A still whose charge nobody stated is judged by the volume and by its starts all the same.
func TestEnergyWithoutCharge(t *testing.T) {
	for _, measured := range []bool{true, false} {
		a := New(Still{}, Memory{})
		for _, p := range []EnergyPoint{{10.6, 50, 20, 0}, {7.8, 50, 95, 0}, {7.6, 52, 95, 0}, {10.7, 50, 21, 0}} {
			if !measured {
				p.L = 0
			}
			a.memory.Learned.Energy = append(a.memory.Learned.Energy, p)
		}
		b, ok := a.memory.Learned.energyBaseline(a.energyEffects())
		if !ok {
			t.Fatal("no baseline")
		}
		cold := EnergyPoint{StartC: 20}
		small := EnergyPoint{StartC: 95}
		if measured {
			cold.L, small.L = 50, 35
		}
		if e, _, ok := b.expected(cold); !ok || math.Abs(e-10.6) > 0.3 {
			t.Errorf("measured %v: a cold start %.2f kWh, want 10.6", measured, e)
		}
		if e, _, ok := b.expected(small); measured && (!ok || e > 7) {
			t.Errorf("a small charge %.2f kWh, want clearly less than 7.7", e)
		}
	}
}

// The receiver's level: emptied, read wrongly, not read for a while.
func TestTally(t *testing.T) {
	fill := func(c *tally, from, to, t0 float64) float64 {
		for l := from; l <= to; l += 0.1 {
			t0 += 5
			c.add(l, t0)
		}
		return t0
	}
	tests := []struct {
		name    string
		play    func(*tally)
		total   float64
		emptied int
	}{
		{"filling", func(c *tally) { fill(c, 3, 23, 0) }, 20, 0},
		{"emptied at once", func(c *tally) { fill(c, 0, 10, fill(c, 5, 15, 0)) }, 20, 1},
		{"emptied over a minute", func(c *tally) {
			at := fill(c, 0, 20, 0)
			for l := 19.0; l > 0; l -= 1.5 {
				at += 5
				c.add(l, at)
			}
			fill(c, 0, 10, at)
		}, 30, 1},
		{"spikes", func(c *tally) {
			at := fill(c, 0, 10, 0)
			c.add(31, at+1)
			c.add(-4, at+2)
			fill(c, 10, 20, at+2)
		}, 20, 0},
		{"half an hour without readings", func(c *tally) { fill(c, 22, 30, fill(c, 0, 10, 0)+1800) }, 30, 0},
	}
	for _, tt := range tests {
		var c tally
		tt.play(&c)
		if math.Abs(c.total-tt.total) > 1.1 || c.emptied != tt.emptied {
			t.Errorf("%s: %.2f L with %d emptyings, want %.2f with %d", tt.name, c.total, c.emptied, tt.total, tt.emptied)
		}
	}
}

// The counter of a run: set back, exchanged, silent for an hour.
func TestCounterMishaps(t *testing.T) {
	whole := func(edit func(t float64, s *Scan)) *Summary {
		s := shortScene(1, counted...)
		scans := s.scans()
		for i := range scans {
			edit(scans[i].At.Sub(sceneStart).Seconds()-s.lead, &scans[i])
		}
		var sum *Summary
		for _, e := range fold(s.still, scans) {
			if e.Kind == RunEvent {
				sum = e.Summary
			}
		}
		return sum
	}
	const counter = 5
	plain := whole(func(float64, *Scan) {})
	for name, edit := range map[string]func(float64, *Scan){
		"set back": func(t float64, s *Scan) {
			if t > 1500 {
				s.Values[counter].V -= 1001
			}
		},
		"rolled over": func(t float64, s *Scan) { s.Values[counter].V = math.Mod(s.Values[counter].V+99998-1000, 100000) },
		"silent for ten minutes": func(t float64, s *Scan) {
			if t > 1200 && t < 1800 {
				s.Values[counter] = Value{Quality: Silent}
			}
		},
		"exchanged": func(t float64, s *Scan) {
			if t > 1500 {
				s.Values[counter].V += 4000
			}
		},
	} {
		got := whole(edit)
		if got == nil || got.EnergyKWh == nil || math.Abs(*got.EnergyKWh-*plain.EnergyKWh) > 2**got.EnergyKWhU {
			t.Errorf("%s: %s ± %s kWh, want %s", name, show(got.EnergyKWh), show(got.EnergyKWhU), show(plain.EnergyKWh))
		}
	}
}

// Memory: per solvent, through JSON, inspected, reset; upkeep counters.
func TestMemory(t *testing.T) {
	var still Still
	_, a := history(4, counted, func(run int, s *scene) {
		s.still.Upkeep = []Upkeep{{Name: "lid gasket", Runs: 3}, {Name: "thermal oil", Hours: 1000}}
		still = s.still
	})
	m, _ := a.Memory()
	if len(m.Standing) != 1 || m.Standing[0].Fault != UpkeepDue || m.Standing[0].Channel != "lid gasket" {
		t.Errorf("standing %+v, want upkeep-due of the lid gasket", m.Standing)
	}
	if len(m.Upkeep) != 2 || m.Upkeep[0].Runs != 4 || m.Upkeep[1].Hours < 2 {
		t.Errorf("counters %+v", m.Upkeep)
	}
	if d := m.Done("lid gasket"); len(d.Standing) != 0 || len(d.Upkeep) != 1 {
		t.Errorf("after it was done: %+v %+v", d.Standing, d.Upkeep)
	}

	j, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	var back Memory
	if err := json.Unmarshal(j, &back); err != nil || !reflect.DeepEqual(m, back) {
		t.Errorf("memory does not survive JSON: %v\n%+v\n%+v", err, m, back)
	}
	if got := New(still, back).Status().Faults; len(got) != 1 || got[0].Fault != UpkeepDue {
		t.Errorf("after a restart %+v stand", got)
	}

	other := still
	other.Solvent = solvent.Mixture{Parts: []solvent.Part{{Name: "acetone", Fraction: 1}}}
	b := New(other, m)
	if len(b.memory.Learned.TauS) != 0 || len(b.memory.Others["toluene"].TauS) != 4 {
		t.Errorf("acetone begins with %+v", b.memory.Learned)
	}
	if c := New(still, b.memory); !reflect.DeepEqual(c.memory.Learned.TauS, m.Learned.TauS) {
		t.Errorf("back to toluene: %+v", c.memory.Learned)
	}

	figures := map[string]LearnedFigure{}
	for _, f := range m.Inspect() {
		figures[f.Name] = f
		if f.Name == "" || f.Runs == 0 || math.IsNaN(f.Value) {
			t.Errorf("figure %+v", f)
		}
	}
	tau := figures["time constant of the pump-down"]
	if math.Abs(tau.Value-80) > 4 || tau.Unit != "s" || tau.Runs != 4 || !tau.Enough {
		t.Errorf("time constant %+v, want 80 s from 4 runs", tau)
	}
	if r := m.Reset(); len(r.Learned.TauS) != 0 || r.Runs != 4 || len(r.Upkeep) != 2 {
		t.Errorf("after a reset %+v", r)
	}
}

// Upkeep by days counts from the first run seen.
func TestUpkeepDue(t *testing.T) {
	since := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		u    Upkeep
		c    Counter
		at   time.Time
		want bool
	}{
		{Upkeep{Days: 30}, Counter{Since: since}, since.AddDate(0, 0, 29), false},
		{Upkeep{Days: 30}, Counter{Since: since}, since.AddDate(0, 0, 30), true},
		{Upkeep{Hours: 500}, Counter{Hours: 499.9, Since: since}, since, false},
		{Upkeep{Hours: 500}, Counter{Hours: 500, Since: since}, since, true},
		{Upkeep{}, Counter{Hours: 1e6, Runs: 1e6, Since: since}, since.AddDate(9, 0, 0), false},
	} {
		if got := tt.u.due(tt.c, tt.at); (got != "") != tt.want {
			t.Errorf("%+v with %+v: %q, want due %v", tt.u, tt.c, got, tt.want)
		}
	}
}

// A counter that rolls over loses nothing; one that is set back loses what nobody can know.
func TestRolledOver(t *testing.T) {
	for _, c := range []struct {
		name                string
		last, v, most, want float64
	}{
		{"four dials and a coarse step", 9999, 0, 2.2, 1},
		{"six dials and a tenth", 99999.9, 0.1, 0.5, 0.2},
		{"exchanged far from the top", 4711, 0, 2.2, -4711},
		{"near the top, but set to where no heater gets it", 9999, 50, 2.2, -9949},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := rolledOver(c.last, c.v, c.v-c.last, c.most); math.Abs(got-c.want) > 1e-6 {
				t.Errorf("step %g kWh, want %g", got, c.want)
			}
		})
	}
}
