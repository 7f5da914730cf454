package simstill

import (
	"math"
	"testing"
	"time"

	"luted/analysis"
)

// readings takes a channel of a cold, resting still once every ten seconds.
func readings(t *testing.T, s *Still, channel string, n int) []float64 {
	t.Helper()
	out := make([]float64, n)
	for i := range out {
		s.Advance(s.Now().Add(10 * time.Second))
		v, ok := s.Value(channel)
		if !ok {
			t.Fatalf("no channel %s", channel)
		}
		out[i] = v.V
	}
	return out
}

func meanAndSD(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

func TestNoiseIsAsStated(t *testing.T) {
	for _, tt := range []struct {
		name  string
		noise float64
		want  float64
	}{
		{"usual", 0, 0.06},
		{"three times", 3, 0.18},
		{"none", -1, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStill(t, Options{Seed: 5, Sensors: Sensors{Noise: tt.noise, Offsets: -1}})
			x := readings(t, s, "still_vacuum", 4000)
			mean, sd := meanAndSD(x)
			// The spread of an estimate of σ from 4000 readings is 1.1 %; allow four of it.
			if math.Abs(sd-tt.want) > 0.045*tt.want+1e-3 {
				t.Errorf("standard deviation %.4f kPa, want %.4f", sd, tt.want)
			}
			if math.Abs(mean) > 0.02 {
				t.Errorf("a still at rest shows %.4f kPa of vacuum on average", mean)
			}
			// Neighbouring readings are independent: lag-1 correlation near 0.
			if tt.want > 0 {
				c := 0.0
				for i := 1; i < len(x); i++ {
					c += (x[i] - mean) * (x[i-1] - mean)
				}
				if r := c / float64(len(x)-1) / (sd * sd); math.Abs(r) > 0.06 {
					t.Errorf("neighbouring readings correlate by %.3f", r)
				}
			}
		})
	}
}

func TestGaugeSteps(t *testing.T) {
	const step = 1.6931943 // 0.5 inHg
	s := newStill(t, Options{Seed: 5, Sensors: Sensors{GaugeStep: step, Noise: 2}})
	start(t, s, Batch{Solvent: one("toluene")})
	seen := map[int]bool{}
	for i := range 400 {
		s.Advance(monday.Add(time.Duration(i) * time.Second))
		v, _ := s.Value("still_vacuum")
		n := v.V / step
		if math.Abs(n-math.Round(n)) > 1e-9 {
			t.Fatalf("%g kPa is no multiple of %g", v.V, step)
		}
		seen[int(math.Round(n))] = true
	}
	if len(seen) < 40 {
		t.Errorf("only %d different readings in a pump-down", len(seen))
	}
}

// A first-order lag of τ: after a step, 1 − 1/e of the way is gone after τ.
func TestSensorLag(t *testing.T) {
	s := newStill(t, Options{Seed: 5, Sensors: Sensors{Noise: -1, Offsets: -1, GaugeLagS: 7}})
	i := s.point("still_vacuum")
	s.sensors[i].feels = -50 // as if it had come from a pressurised vessel
	for range 7 {
		s.step(1)
		s.sec++
	}
	want := -50 * math.Exp(-1)
	if got := s.reading(i); math.Abs(got-want) > 0.05 {
		t.Errorf("after one time constant the gauge shows %.3f kPa, want %.3f", got, want)
	}
}

func TestSensorFaults(t *testing.T) {
	s := newStill(t, Options{Seed: 5})
	start(t, s, Batch{Solvent: one("toluene")})
	s.Advance(monday.Add(10 * time.Minute))
	if err := s.Set(SensorStuck, 0); err != nil { // the oil temperature, if no channel is named
		t.Fatal(err)
	}
	stuck, _ := s.Value("jacket_temperature")
	x := readings(t, s, "jacket_temperature", 50)
	if _, sd := meanAndSD(x); sd > 1e-9 || math.Abs(x[0]-stuck.V) > 1e-9 {
		t.Errorf("a stuck channel moves by %g", sd)
	}
	s.Clear(SensorStuck)
	if v, _ := s.Value("jacket_temperature"); v.V < stuck.V+20 {
		t.Errorf("mended, it shows %.1f °C; it was stuck at %.1f °C", v.V, stuck.V)
	}
	if err := s.Set(NoiseSpikes, 0.1); err != nil {
		t.Fatal(err)
	}
	far := 0
	for range 2000 {
		s.Advance(s.Now().Add(time.Second))
		v, _ := s.Value("still_vacuum")
		if math.Abs(v.V-(s.Truth().RoomKPa-s.Truth().PressureKPa)) > 3 {
			far++
		}
	}
	// One in ten is a spike of up to ±40 kPa, of which 37 in 40 are over 3 kPa.
	if far < 130 || far > 240 {
		t.Errorf("%d of 2000 readings are far off, want about 185", far)
	}
	for _, f := range []struct {
		fault Fault
		want  analysis.Quality
	}{{BrokenWire, analysis.BrokenWire}, {DeviceException, analysis.Exception}, {DeviceSilent, analysis.Silent}} {
		if err := s.Set(f.fault, 0); err != nil {
			t.Fatal(err)
		}
		if v, _ := s.Value("still_vacuum"); v.Quality != f.want {
			t.Errorf("%s: quality %s, want %s", f.fault, v.Quality, f.want)
		}
	}
}

func TestWeather(t *testing.T) {
	w := newWeather(3, 310, 20)
	var low, high, cold, hot = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	last := w.at(monday)
	for m := range 60 * 24 * 30 {
		a := w.at(monday.Add(time.Duration(m) * time.Minute))
		low, high = min(low, a.pressureKPa), max(high, a.pressureKPa)
		cold, hot = min(cold, a.roomC), max(hot, a.roomC)
		if d := math.Abs(a.pressureKPa - last.pressureKPa); d > 0.02 {
			t.Fatalf("the barometer jumps by %g kPa in a minute", d)
		}
		last = a
	}
	base := standardKPa(310)
	if low < 0.985*base || high > 1.015*base || high-low < 0.8 {
		t.Errorf("a month of barometer: %.2f to %.2f kPa around %.2f", low, high, base)
	}
	if cold < 15 || hot > 25 || hot-cold < 4 {
		t.Errorf("a month in the room: %.1f to %.1f °C", cold, hot)
	}
}
