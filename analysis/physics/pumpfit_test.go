package physics

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestPumpDownFitExact(t *testing.T) {
	d := PumpDown{VolumeL: 85, SpeedLPerS: 85.0 / 90, StartKPa: 101.3, UltimateKPa: 10, LeakMbarLS: 15 * 10 * 85 / 90.0}
	var f PumpDownFit
	for i := range 40 {
		s := float64(i) * 5
		f.Add(s, d.PressureKPa(s))
	}
	got, err := f.Decay()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.EndKPa-25) > 1e-6 || math.Abs(got.TauS-90) > 1e-5 {
		t.Errorf("end %v kPa, tau %v s; want 25, 90", got.EndKPa, got.TauS)
	}
}

func TestExplore(t *testing.T) {
	for _, c := range []struct{ sigma, dt, q, end float64 }{{0.3, 1, 0, 25}, {0.3, 1, 0, 70}, {1, 5, 0, 25}, {1, 5, 0, 70}, {0.05, 1, 1.693, 25}, {0.3, 1, 1.693, 25}, {0.05, 10, 1.693, 25}, {0.3, 10, 1.693, 25}} {
		for _, dur := range []float64{20, 45, 90, 180, 360, 720} {
			rng := rand.New(rand.NewPCG(1, 2))
			var in, in2, fails int
			var sumsd, se, bias, noise float64
			const M = 400
			for k := range M {
				var f PumpDownFit
				end := c.end + 1.693*rng.Float64()
				for s := 0.0; s <= dur; s += c.dt {
					p := end + (99.5+3*math.Abs(math.Sin(float64(k)))-end)*math.Exp(-s/90) + c.sigma*rng.NormFloat64()
					if c.q > 0 {
						p = math.Round(p/c.q) * c.q
					}
					f.Add(s, p)
				}
				d, err := f.Decay()
				if err != nil {
					fails++
					continue
				}
				e := d.EndKPa - end
				if math.Abs(e) < d.EndSDKPa() {
					in++
				}
				if math.Abs(e) < 2*d.EndSDKPa() {
					in2++
				}
				sumsd += d.EndSDKPa() * d.EndSDKPa()
				noise += d.NoiseKPa * d.NoiseKPa
				se += e * e
				bias += e
			}
			n := float64(M - fails)
			t.Logf("σ%v dt%v q%v end%v dur%v: fails %d cover1 %.2f cover2 %.3f said %.2f true %.2f bias %.2f noise %.2f", c.sigma, c.dt, c.q, c.end, dur, fails, float64(in)/n, float64(in2)/n, math.Sqrt(sumsd/n), math.Sqrt(se/n), bias/n, math.Sqrt(noise/n))
		}
	}
}
