package simstill

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

// The published table of air flow through small holes: isentropic flow, γ = 1.4, 20 °C, discharge
// coefficient 1, upstream 1013.25 mbar. The vacuum handbooks' "about 20 L/(s·cm²)" is the same figure.
func TestHoleAgainstPublishedFlows(t *testing.T) {
	tests := []struct {
		name       string
		mm, down   float64 // mm, share of the upstream pressure
		wantMbarLS float64
		tol        float64
		source     string
	}{
		{"1 mm choked", 1, 0, 158.07, 0.005, "choked flow table, 1.0 mm (VAC-11)"},
		{"0.5 mm choked", 0.5, 0.3, 39.518, 0.001, "choked flow table, 0.5 mm (VAC-12)"},
		{"0.1 mm choked", 0.1, 0.5, 1.5807, 0.0001, "choked flow table, 0.1 mm (VAC-12)"},
		{"2 mm choked", 2, 0.52, 632.29, 0.02, "choked flow table, 2.0 mm (VAC-12)"},
		{"1 mm at 0.6", 1, 0.6, 158.07 * 0.98859, 0.02, "subcritical flow ratios (VAC-13)"},
		{"1 mm at 0.7", 1, 0.7, 158.07 * 0.93222, 0.02, "subcritical flow ratios (VAC-13)"},
		{"1 mm at 0.8", 1, 0.8, 158.07 * 0.81880, 0.02, "subcritical flow ratios (VAC-13)"},
		{"1 mm at 0.9", 1, 0.9, 158.07 * 0.61715, 0.02, "subcritical flow ratios (VAC-13)"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := 10 * round(tt.mm, 1).throughput(101.325, 101.325*tt.down, 20, airMolarMass)
			if math.Abs(got-tt.wantMbarLS) > tt.tol {
				t.Errorf("%.4f mbar·L/s, want %.4f (%s)", got, tt.wantMbarLS, tt.source)
			}
		})
	}
	if math.Abs(criticalRatio-0.528282) > 5e-7 {
		t.Errorf("critical pressure ratio %.6f, want 0.528282 (VAC-8)", criticalRatio)
	}
}

func TestStandardAtmosphere(t *testing.T) {
	for _, tt := range []struct{ m, wantPa float64 }{
		{0, 101325}, {500, 95460.8}, {1000, 89874.6}, {1500, 84556.0}, {2000, 79495.2}, {3000, 70108.5},
	} {
		if got := standardKPa(tt.m) * 1000; math.Abs(got-tt.wantPa) > 0.06 {
			t.Errorf("%g m: %.1f Pa, want %.1f (U.S. Standard Atmosphere 1976)", tt.m, got, tt.wantPa)
		}
	}
}

// plainPump is a still whose ejector has a constant speed and comes on at once, without leak and charge.
func plainPump(t *testing.T, endShare, leakMM float64) *Still {
	s := newStill(t, Options{Seed: 3, Equipment: Equipment{UltimateShare: endShare, Bend: -1, LeakMM: leakMM, AirLagS: 1e-3, Discharge: 1}})
	s.control = control{phase: running, since: 0, batch: Batch{}.withDefaults(s), airOn: true}
	s.control.batch.Habit.HeatDelay = 100 * time.Hour
	return s
}

// Constant speed and no leak: t = (V/S)·ln((p0 − pu)/(p − pu)) (checks VAC-4 to VAC-7). The speed of the
// simulated ejector follows its air supply, which ripples by about 1 %; it is taken from the run itself.
func TestPumpDownFollowsPublishedFormula(t *testing.T) {
	for _, tt := range []struct {
		name     string
		endShare float64
		toKPa    []float64
	}{
		{"to a few kPa", 0.0001, []float64{50, 20, 10, 5}},
		{"ending at a tenth of the atmosphere", 0.1, []float64{60, 30, 15, 12}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := plainPump(t, tt.endShare, -1)
			for range 5 {
				s.step(1) // the air comes on
				s.sec++
			}
			// Gas that leaves the warm zone cools before it is pumped.
			p0, volume := s.gas.kPa, s.gas.volA*(s.gas.tempB+zeroC)/(s.gas.tempA+zeroC)+s.gas.volB
			from, integral, endSum, steps := s.sec, 0.0, 0.0, 0.0
			for _, target := range tt.toKPa {
				for s.gas.kPa > target {
					if s.sec > 4000 {
						t.Fatalf("%.3f kPa after %d s, want %g", s.gas.kPa, s.sec, target)
					}
					s.step(1)
					s.sec++
					c := s.curveNow()
					integral += c.speedLS
					endSum += c.endKPa
					steps++
				}
				p := s.gas.kPa
				speed, end := integral/steps, endSum/steps
				want := volume / speed * math.Log((p0-end)/(p-end))
				if got := float64(s.sec - from); math.Abs(got-want) > 0.002*want+0.5 {
					t.Errorf("to %.3f kPa: %.2f s, the formula says %.2f s", p, got, want)
				}
			}
		})
	}
}

// With the ejector shut off, air leaks in and V·dp/dt is the leak (40 CFR 1065.644, checks VAC-2, VAC-14):
// choked, so the pressure rises in a straight line.
func TestIsolationShowsTheChokedLeak(t *testing.T) {
	s := plainPump(t, 0.05, 1)
	for s.sec < 900 {
		s.step(1)
		s.sec++
	}
	s.control.batch.Habit.AirDelay = 100 * time.Hour // the air valve shuts
	for range 10 {
		s.step(1)
		s.sec++
	}
	volume := s.gas.volA + s.gas.volB
	rate := func() float64 {
		before := s.gas.kPa
		for range 20 {
			s.step(1)
			s.sec++
		}
		return 10 * (s.gas.kPa - before) / 20 * volume // mbar·L/s
	}
	first := rate()
	if s.gas.kPa > 0.5*s.air.pressureKPa {
		t.Fatalf("%.1f kPa: no longer choked", s.gas.kPa)
	}
	// The table is for 1013.25 mbar and 20 °C; flow grows with p·√T, and the air that came in takes the
	// still's temperature.
	want := 158.07 * s.air.pressureKPa / 101.325 * math.Sqrt((s.air.roomC+zeroC)/293.15) * (s.gas.tempB + zeroC) / (s.air.roomC + zeroC)
	if math.Abs(first-want) > 0.02*want {
		t.Errorf("pressure rise gives %.2f mbar·L/s, the table of choked flow %.2f", first, want)
	}
	if second := rate(); math.Abs(second-first) > 0.005*first {
		t.Errorf("choked leak is not constant: %.2f, then %.2f mbar·L/s", first, second)
	}
}

// boilingRow is one published boiling temperature.
type boilingRow struct {
	name  string
	kPa   float64
	tempC float64 // mean of the sources other than the one behind the property table
	tolK  float64 // how far the published sources disagree
}

// publishedBoiling reads the table of boiling temperatures from independent sources (Perry 8e, VDI Heat
// Atlas 2e, Poling 5e, Hall, McGarry, IAPWS; the file names them row by row).
func publishedBoiling(t *testing.T) []boilingRow {
	t.Helper()
	f, err := os.Open("../../analysis/solvent/testdata/boiling_checks.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma = '\t'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	// Disagreement between sources that a test must allow, as the table's own notes give it, K.
	tol := map[string]float64{"N,N-dimethylformamide": 2, "trichloroethylene": 1.6, "dichloromethane": 1.2, "n-butyl acetate": 1.2,
		"2-propanol": 0.8, "methyl ethyl ketone": 0.8, "acetonitrile": 0.8, "chlorobenzene": 0.8, "m-xylene": 0.8,
		"2-methyl-1-propanol": 0.8, "methyl isobutyl ketone": 0.8}
	var out []boilingRow
	for _, row := range rows[1:] {
		mbar, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		sum, n := 0.0, 0.0
		for _, column := range []int{5, 6, 8} {
			if v, err := strconv.ParseFloat(row[column], 64); err == nil {
				sum += v
				n++
			}
		}
		if n == 0 {
			continue
		}
		limit := tol[row[1]]
		if limit == 0 {
			limit = 0.5
		}
		out = append(out, boilingRow{row[1], mbar / 10, sum / n, limit})
	}
	if len(out) < 260 {
		t.Fatalf("only %d published boiling temperatures found", len(out))
	}
	return out
}

func TestBubblePointAgainstPublishedBoiling(t *testing.T) {
	for _, row := range publishedBoiling(t) {
		c, err := load(one(row.name), 60, 0)
		if err != nil {
			t.Fatal(err)
		}
		got := bisect(func(tC float64) float64 { return c.boilingAt(tC).kPa - row.kPa }, -59, 200)
		if math.Abs(got-row.tempC) > row.tolK {
			t.Errorf("%s at %g kPa: boils at %.2f °C, published %.2f °C", row.name, row.kPa, got, row.tempC)
		}
	}
}

// In quiet boiling the charge is as hot as its solvent boils at the still's pressure. The simulated charge
// is up to 0.3 K hotter, because heat flows only with a difference.
func TestQuietBoilingAtPublishedTemperature(t *testing.T) {
	rows := publishedBoiling(t)
	for _, tt := range []struct {
		solvent  string
		endShare float64 // end pressure of the ejector as a share of the atmosphere
		jacketC  float64
	}{
		{"toluene", 0.15, 150}, {"toluene", 0.5, 160}, {"acetone", 0.4, 110}, {"methyl ethyl ketone", 0.2, 130},
		{"m-xylene", 0.12, 160}, {"ethyl acetate", 0.25, 120}, {"n-heptane", 0.15, 140}, {"ethanol", 0.2, 130},
		{"2-propanol", 0.15, 140}, {"water", 0.15, 150}, {"tetrachloroethylene", 0.15, 160}, {"n-butyl acetate", 0.15, 160},
	} {
		t.Run(fmt.Sprintf("%s/%g", tt.solvent, tt.endShare), func(t *testing.T) {
			s := newStill(t, Options{Seed: 5, Equipment: Equipment{UltimateShare: tt.endShare, CoolantC: 5}})
			start(t, s, Batch{Solvent: one(tt.solvent), Dirt: -1, JacketC: tt.jacketC})
			for at := monday; s.receiver.litres(20) < 20; at = at.Add(time.Minute) {
				if at.Sub(monday) > 10*time.Hour {
					t.Fatalf("%.1f L came over in ten hours", s.receiver.litres(20))
				}
				s.Advance(at)
			}
			tr := s.Truth()
			want, tol := betweenRows(t, rows, tt.solvent, tr.PressureKPa)
			t.Logf("%.2f kPa: %.2f °C, published %.2f °C", tr.PressureKPa, tr.ChargeC, want)
			if d := tr.ChargeC - want; d < -tol || d > tol+0.3 {
				t.Errorf("%.2f kPa: charge at %.2f °C, published boiling temperature %.2f °C", tr.PressureKPa, tr.ChargeC, want)
			}
		})
	}
}

// betweenRows interpolates published boiling temperatures: ln p is nearly straight over 1/T.
func betweenRows(t *testing.T, rows []boilingRow, name string, kPa float64) (tempC, tolK float64) {
	t.Helper()
	var above, below *boilingRow
	for i := range rows {
		r := &rows[i]
		if r.name != name {
			continue
		}
		if r.kPa >= kPa && (above == nil || r.kPa < above.kPa) {
			above = r
		}
		if r.kPa <= kPa && (below == nil || r.kPa > below.kPa) {
			below = r
		}
	}
	if above == nil || below == nil {
		t.Fatalf("no published boiling temperature of %s around %.2f kPa", name, kPa)
	}
	if above == below {
		return above.tempC, above.tolK
	}
	f := math.Log(kPa/below.kPa) / math.Log(above.kPa/below.kPa)
	u := (1-f)/(below.tempC+zeroC) + f/(above.tempC+zeroC)
	return 1/u - zeroC, above.tolK
}

func bisect(f func(float64) float64, low, high float64) float64 {
	for range 60 {
		if mid := (low + high) / 2; f(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// Heat: what the elements give is stored, lost to the room, or leaves with the vapour. Mass: what was
// loaded is in the pot, in the gas, in the receiver, or gone through ejector and openings. Both through a
// whole run, healthy and with faults that drive everything hard.
func TestBooksClose(t *testing.T) {
	for _, tt := range []struct {
		name   string
		mix    solvent.Mixture
		faults map[Fault]float64
		dirt   float64
	}{
		{name: "toluene", mix: one("toluene")},
		{name: "clean toluene", mix: one("toluene"), dirt: -1},
		{name: "blend", mix: solvent.Mixture{Parts: []solvent.Part{{Name: "methyl ethyl ketone", Fraction: 0.6}, {Name: "acetone", Fraction: 0.4}}}},
		{name: "open lid", mix: one("toluene"), faults: map[Fault]float64{OpenLid: 30}},
		{name: "water in it, coolant lost", mix: one("toluene"), faults: map[Fault]float64{WaterInCharge: 0.2, CoolantLost: 0.97}},
		{name: "gasket lost while boiling", mix: one("m-xylene"), faults: map[Fault]float64{SealLost: 8}},
		{name: "no air", mix: one("ethyl acetate"), faults: map[Fault]float64{WeakAir: 1}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStill(t, Options{Seed: 7})
			for f, size := range tt.faults {
				if err := s.Set(f, size); err != nil {
					t.Fatal(err)
				}
			}
			start(t, s, Batch{Solvent: tt.mix, Dirt: tt.dirt, Habit: Habit{Abort: 8 * time.Hour}})
			s.Advance(monday.Add(time.Second))
			begin := s.Truth().Heat.StoredKJ
			for m := 10; m < 8*60; m += 10 {
				s.Advance(monday.Add(time.Duration(m) * time.Minute))
				if s.Truth().Phase == analysis.Idle {
					break
				}
				h := s.Truth().Heat
				out := h.StoredKJ - begin + h.LossKJ + h.LatentKJ + h.CarriedKJ
				if d := math.Abs(out - h.HeaterKJ); d > 0.005*h.HeaterKJ {
					t.Fatalf("after %d min: %.1f kJ from the heater, %.1f kJ accounted for", m, h.HeaterKJ, out)
				}
				for i, k := range s.pot.kinds {
					sum := s.pot.mol[i] + s.gas.vapA[i] + s.gas.vapB[i] + s.receiver.mol[i] + s.books.exhausted[i] + s.books.lost[i]
					if d := math.Abs(sum - s.books.loaded[i]); d > 1e-9*s.books.loaded[i] {
						t.Fatalf("after %d min: %s: %.9f mol loaded, %.9f mol accounted for", m, k.name, s.books.loaded[i], sum)
					}
				}
			}
		})
	}
}
