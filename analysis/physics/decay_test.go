package physics

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestBend(t *testing.T) {
	for _, tt := range []struct{ k, t float64 }{{1e-9, 10}, {-1e-9, 10}, {1e-6, 99}, {0.0101, 0.01}, {0.01, 300}, {-0.01, 30}, {2, 100}} {
		phi, slope := bend(tt.k, tt.t)
		// (1 − e^(−kt))/k by its series, summed until it no longer changes.
		want, term := 0.0, tt.t
		for i := 2; i < 400; i++ {
			want += term
			term *= -tt.k * tt.t / float64(i)
		}
		if tt.k*tt.t > 30 {
			want = 1 / tt.k
		}
		near(t, "φ", phi, want, 1e-9*math.Abs(want), "power series")
		h := max(1e-6*math.Abs(tt.k), 1e-10)
		up, _ := bend(tt.k+h, tt.t)
		down, _ := bend(tt.k-h, tt.t)
		near(t, "dφ/dk", slope, (up-down)/(2*h), 1e-3*math.Abs(slope), "central difference")
	}
}

// The chance means what it says: of all forecasts that gave a chance near some figure, about that share
// came true. Half-known pump-downs of every kind are drawn; the fits see them at random moments.
func TestChanceCalibrated(t *testing.T) {
	for _, g := range gauges[:3] {
		t.Run(g.name, func(t *testing.T) {
			const bins = 5
			var n, came [bins]int
			var sum [bins]float64
			var surelyNot, wrongNot, surely, wrong int
			for i := range 500 {
				rng := rand.New(rand.NewPCG(uint64(i), 19))
				r := trial{start: 99 + 3*rng.Float64(), tau: 40 * math.Exp(1.8*rng.Float64()), noise: g.noise, step: g.step, every: g.every, plain: true, rng: rng}
				r.leak = (3 + 40*rng.Float64()) / r.tau
				const target, within = 16, 480
				true1 := PumpDown{VolumeL: 1, SpeedLPerS: 1 / r.tau, StartKPa: r.start, LeakMbarLS: 10 * r.leak}.PressureKPa(within) <= target
				f := PumpDownFit{RestNoiseKPa: math.Hypot(g.noise, g.step/math.Sqrt(12))}
				look := 30 + 150*rng.Float64()
				r.run(look, f.Add)
				d, err := f.Decay()
				if err == ErrTooFew {
					continue
				}
				c := d.ChanceBelow(target, within)
				switch {
				case c < 0.05:
					surelyNot++
					if true1 {
						wrongNot++
					}
				case c > 0.95:
					surely++
					if !true1 {
						wrong++
					}
				default:
					b := min(int(c*bins), bins-1)
					n[b]++
					sum[b] += c
					if true1 {
						came[b]++
					}
				}
			}
			t.Logf("said under 0.05: %d, %d came true; said over 0.95: %d, %d did not", surelyNot, wrongNot, surely, wrong)
			if surelyNot < 50 || float64(wrongNot) > 0.02*float64(surelyNot) {
				t.Errorf("a chance under 0.05 came true %d times of %d", wrongNot, surelyNot)
			}
			if surely < 30 || float64(wrong) > 0.08*float64(surely) {
				t.Errorf("a chance over 0.95 did not come true %d times of %d", wrong, surely)
			}
			for b := range bins {
				if n[b] < 8 {
					continue
				}
				said, got := sum[b]/float64(n[b]), float64(came[b])/float64(n[b])
				t.Logf("said %.2f, came true %.2f of %d", said, got, n[b])
				// Between, the slow pump-downs are given the benefit of the doubt (see slowestRate), so
				// it may promise more than comes; it must not warn of what does not come.
				sd := math.Sqrt(said * (1 - said) / float64(n[b]))
				if got > said+3*sd+0.05 || got < said-3*sd-0.25 {
					t.Errorf("said %.2f, came true %.2f of %d", said, got, n[b])
				}
			}
		})
	}
}

func TestChanceLimits(t *testing.T) {
	d := PumpDown{VolumeL: 90, SpeedLPerS: 1, StartKPa: 101, UltimateKPa: 10}
	var f PumpDownFit
	for s := 0.0; s <= 120; s++ {
		f.Add(s, d.PressureKPa(s)+0.2*math.Sin(7*s)) // a little noise without chance
	}
	fit, err := f.Decay()
	if err != nil {
		t.Fatal(err)
	}
	at, _ := d.TimeS(20)
	for _, tt := range []struct {
		name             string
		target, deadline float64
		lo, hi           float64
	}{
		{"far above the end, in time", 40, 480, 0.999, 1},
		{"below the end, for ever", 5, math.Inf(1), 0, 0.001},
		{"above the end, for ever", 15, math.Inf(1), 0.999, 1},
		{"reached, but later", 20, at - 30, 0, 0.01},
		{"reached, and earlier", 20, at + 30, 0.99, 1},
		{"just then", 20, at, 0.2, 0.8},
		{"above the start", 200, 1, 0.999, 1},
	} {
		if c := fit.ChanceBelow(tt.target, tt.deadline); c < tt.lo || c > tt.hi {
			t.Errorf("%s: chance %.4f, want %g to %g", tt.name, c, tt.lo, tt.hi)
		}
	}
	// More time and a higher target never lower the chance.
	last := 0.0
	for deadline := 10.0; deadline < 600; deadline += 10 {
		c := fit.ChanceBelow(14, deadline)
		if c < last-1e-9 {
			t.Fatalf("chance falls from %g to %g at %g s", last, c, deadline)
		}
		last = c
	}
	if sd := fit.AtSD(60); !(sd > 0 && sd < 0.2) {
		t.Errorf("sd of the curve at 60 s %g kPa", sd)
	}
}

func BenchmarkChanceBelow(b *testing.B) {
	f, _ := benchmarkFits()
	d, _ := f.Decay()
	b.ReportAllocs()
	for b.Loop() {
		d.ChanceBelow(16, 480)
	}
}
