package analysis

import (
	"math"
	"testing"
)

func about(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-5*math.Abs(want) {
		t.Errorf("%s: %s, want %g", what, show(got), want)
	}
}

func accountRun(still string, kWh, uE, l, uL float64) AccountRun {
	return AccountRun{Still: still, Summary: &Summary{EnergyKWh: &kWh, EnergyKWhU: &uE, RecoveredL: &l, RecoveredLU: &uL, RecoveredBasis: "volume"}}
}

// By hand: two runs of one still, 20 ± 0.2 and 30 ± 0.3 kWh, 40 ± 0.4 and 60 ± 0.6 L, one of another still,
// 10 ± 0.3 kWh, 20 ± 0.5 L. Within a still the meter errs alike, so u adds up: 0.5 kWh and 1.0 L; between
// stills by squares: √(0.5² + 0.3²) = 0.583095 kWh, √(1.0² + 0.5²) = 1.118034 L (GUM 5.1.2; 5.2.2, note 1).
// In all 60 kWh over 120 L: 0.5 kWh/L = 1.892706 kWh/gal; relative √((0.583095/60)² + (1.118034/120)²) =
// 0.0134629, so ± 0.0254814 kWh/gal (GUM 5.1.6).
func TestSumRuns(t *testing.T) {
	s := SumRuns([]AccountRun{accountRun("north", 20, 0.2, 40, 0.4), accountRun("north", 30, 0.3, 60, 0.6), accountRun("south", 10, 0.3, 20, 0.5), {Still: "south", Summary: &Summary{}}})
	if s.Runs != 4 || s.EnergyRuns != 3 || s.VolumeRuns != 3 || s.PerGalRuns != 3 || s.Bases["volume"] != 3 {
		t.Errorf("counts: %+v", s)
	}
	about(t, "energy", s.KWh, 60)
	about(t, "its u", s.KWhU, 0.583095)
	about(t, "volume", s.L, 120)
	about(t, "its u", s.LU, 1.118034)
	about(t, "per gallon", s.PerGal, 1.892706)
	about(t, "its u", s.PerGalU, 0.0254814)
	if s.MinimumKWhPerGal != nil || s.DifferenceKWh != nil || s.Money != nil {
		t.Errorf("what is not known is there: %+v", s)
	}
	if none := SumRuns(nil); none.KWh != nil || none.PerGal != nil || none.L != nil {
		t.Errorf("of no runs: %+v", none)
	}
}

// By hand: the baseline expects 20 kWh with 0.5 kWh of standard deviation, of which 0.4 is the scatter of a
// single run and so √(0.25 − 0.16) = 0.3 the line's. Four runs of 21, 21, 19 and 22 kWh: CUSUM 1, 2, 1, 3.
// Its u after four: √(4·0.16 + (4·0.3)²) = √2.08 = 1.442221 kWh.
func TestDifference(t *testing.T) {
	var d Difference
	want := []float64{1, 2, 1, 3}
	for i, kWh := range []float64{21, 21, 19, 22} {
		expected, u := 20.0, 0.5
		r := AccountRun{Still: "north", Summary: &Summary{EnergyKWh: &kWh, ExpectedKWh: &expected, ExpectedKWhU: &u}, SD: 0.4}
		if !d.Add(&r) || math.Abs(d.KWh-want[i]) > 1e-9 {
			t.Errorf("after run %d: %g kWh, want %g", i+1, d.KWh, want[i])
		}
	}
	if got := d.U(); math.Abs(got-1.442221) > 1e-6 {
		t.Errorf("u %g, want 1.442221 kWh", got)
	}
	if kWh := 21.0; d.Add(&AccountRun{Summary: &Summary{EnergyKWh: &kWh}}) || d.Runs != 4 {
		t.Error("a run without a baseline was counted")
	}
}

// Money by hand: 20 kWh at 0.15 is 3.00, 30 kWh is 4.50, together 7.50; two liners at 6.50 are 13; what has
// another currency is left out.
func TestSumMoney(t *testing.T) {
	p := Prices{Currency: "USD", PerKWh: 0.15, Liner: 6.5, Fresh: UnitPrice{PerL: 2}}
	runs := []AccountRun{accountRun("north", 20, 0.2, 40, 0.4), accountRun("north", 30, 0.3, 60, 0.6), accountRun("south", 10, 0.3, 20, 0.5)}
	for i := range runs[:2] {
		runs[i].Cost = p.CostOf(runs[i].Summary, US)
	}
	runs[2].Cost = Prices{Currency: "EUR", PerKWh: 0.2}.CostOf(runs[2].Summary, US)
	m := SumRuns(runs).Money
	if m == nil || m.Currency != "USD" || m.Disposal != nil || m.Energy.Runs != 2 {
		t.Fatalf("%+v", m)
	}
	for _, f := range []struct {
		what string
		got  *MoneyFigure
		want float64
	}{{"energy", m.Energy, 7.5}, {"liners", m.Liner, 13}, {"purchase avoided", m.Purchase, 200}, {"saving", m.Saving, 200 - 7.5 - 13}} {
		about(t, f.what, &f.got.Value, f.want)
	}
	about(t, "u of the energy", m.Energy.U, 0.5*0.15)
	if m.Liner.U != nil {
		t.Errorf("u of the liners %g: nobody knows it", *m.Liner.U)
	}
}

// The baseline as people see it, by hand: E = 5 + 0.3·L exactly, over eight runs of 40 to 54 L.
func TestBaselineView(t *testing.T) {
	m := Memory{Solvent: "toluene", Others: map[string]Learned{"acetone": {}}}
	for i := range 8 {
		l := 40 + 2*float64(i)
		m.Learned.Energy = append(m.Learned.Energy, EnergyPoint{KWh: 5 + 0.3*l, L: l, StartC: 20})
	}
	b := m.EnergyBaselines()
	if len(b) != 2 || b[0].Solvent != "toluene" || b[0].Runs != 8 || b[0].PerK != nil || b[1].Solvent != "acetone" || b[1].BaseKWh != nil {
		t.Fatalf("%+v", b)
	}
	about(t, "base", b[0].BaseKWh, 5)
	about(t, "for each litre", b[0].PerL, 0.3)
	about(t, "R²", b[0].R2, 1)
}
