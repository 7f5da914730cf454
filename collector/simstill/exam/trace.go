package exam

import (
	"math"
	"slices"
	"time"

	"luted/analysis"
)

// trace keeps what the needles showed, to know when a channel first showed a thing and how noisy the gauge is.
type trace struct {
	pressure, oil int   // columns; -1: not fitted
	switches      []int // columns that say at once that a run has begun
	heats         uint8 // bits of on that are the heater
	start         time.Time
	at            []int32   // s since start
	kPa, c        []float32 // NaN: no reading
	on            []uint8   // switches closed, a bit each; power counts as a switch
}

func newTrace(s analysis.Still) trace {
	t := trace{pressure: -1, oil: -1}
	for i, c := range s.Channels {
		switch c.Signal {
		case analysis.StillPressure, analysis.StillVacuum:
			if t.pressure < 0 || c.Signal == analysis.StillPressure {
				t.pressure = i
			}
		case analysis.JacketTemperature:
			t.oil = i
		case analysis.HeaterOn, analysis.AirOn, analysis.RunOn, analysis.HeaterPower:
			if c.Signal == analysis.HeaterOn || c.Signal == analysis.HeaterPower {
				t.heats |= 1 << len(t.switches)
			}
			t.switches = append(t.switches, i)
		}
	}
	return t
}

func (t *trace) add(s analysis.Scan) {
	if t.start.IsZero() {
		t.start = s.At
	}
	read := func(i int) float32 {
		if i < 0 {
			return float32(math.NaN())
		}
		if v, ok := s.Values[i].OK(); ok {
			return float32(v)
		}
		return float32(math.NaN())
	}
	var on uint8
	for k, i := range t.switches {
		if v, ok := s.Values[i].OK(); ok && v >= 0.3 {
			on |= 1 << k
		}
	}
	t.at = append(t.at, int32(s.At.Sub(t.start)/time.Second))
	t.kPa, t.c, t.on = append(t.kPa, read(t.pressure)), append(t.c, read(t.oil)), append(t.on, on)
}

// index is the first scan not before a time.
func (t *trace) index(at time.Time) int {
	s := int32(at.Sub(t.start) / time.Second)
	i, _ := slices.BinarySearch(t.at, s)
	return i
}

func (t *trace) time(i int) time.Time { return t.start.Add(time.Duration(t.at[i]) * time.Second) }

// shown is when the channels first show that the run has begun: a switch closes, or pressure or oil leave
// the band in which they stood before, for three scans on end. Nobody can know earlier. ok is false if they
// never do within two hours.
func (t *trace) shown(start time.Time) (time.Time, bool) {
	i := t.index(start)
	if i >= len(t.at) {
		return time.Time{}, false
	}
	from := t.index(start.Add(-3 * time.Minute))
	p, c := band(t.kPa[from:i], 0.7), band(t.c[from:i], 0.5)
	before := uint8(0)
	if i > 0 {
		before = t.on[i-1]
	}
	beyond := 0
	for k := i; k < len(t.at) && t.at[k]-t.at[i] < 7200; k++ {
		if t.on[k]&^before != 0 {
			return t.time(k), true
		}
		if !p.out(t.kPa[k]) && !c.out(t.c[k]) {
			beyond = 0
			continue
		}
		if beyond++; beyond == 3 {
			return t.time(k - 2), true
		}
	}
	return time.Time{}, false
}

// heatEnds is since when, before the heating was called off, no channel has shown heat: a thermostat that had
// just opened hides what comes next. Without a channel of the heater it is where the oil was hottest.
func (t *trace) heatEnds(start, off time.Time) time.Time {
	if t.heats == 0 {
		start = later(start, off.Add(-45*time.Minute)) // a cycle of the thermostat, or two
	}
	from, to := t.index(start), min(t.index(off.Add(time.Minute)), len(t.at)-1)
	best := to
	for k := to; k >= from && k >= 0; k-- {
		if t.heats != 0 && t.on[k]&t.heats != 0 {
			return earlier(off, t.time(k))
		}
		if t.heats == 0 && t.c[k] >= t.c[best] {
			best = k
		}
	}
	if best < 0 || t.heats != 0 {
		return off
	}
	return earlier(off, t.time(best))
}

// span is where a needle stood.
type span struct{ low, high float32 }

// band widens what was shown by a quarter of its width and by the least change that means something.
func band(v []float32, least float32) span {
	b := span{float32(math.Inf(1)), float32(math.Inf(-1))}
	for _, x := range v {
		if x == x {
			b.low, b.high = min(b.low, x), max(b.high, x)
		}
	}
	wide := max(least, (b.high-b.low)/4)
	return span{b.low - wide, b.high + wide}
}

func (b span) out(x float32) bool { return x < b.low || x > b.high }

// gaugeNoise is the standard deviation of one reading of the pressure gauge, kPa, from the differences of
// readings at rest before the run (median absolute deviation), a display step counted as step/√12.
func (t *trace) gaugeNoise(start time.Time) float64 {
	from, to := t.index(start.Add(-15*time.Minute)), t.index(start.Add(-time.Second))
	var diffs []float64
	for k := from + 1; k < to; k++ {
		if d := math.Abs(float64(t.kPa[k] - t.kPa[k-1])); d == d {
			diffs = append(diffs, d)
		}
	}
	if len(diffs) < 10 {
		return math.NaN()
	}
	slices.Sort(diffs)
	sd := 1.4826 * diffs[len(diffs)/2] / math.Sqrt2
	return math.Max(math.Hypot(sd, t.step(to)/math.Sqrt(12)), 0.005)
}

// step is the gauge's display step: the least change while the pressure falls after scan i, kPa.
func (t *trace) step(i int) float64 {
	least := math.Inf(1)
	for k := i + 1; k < len(t.at) && t.at[k]-t.at[i] < 900; k++ {
		if d := math.Abs(float64(t.kPa[k] - t.kPa[k-1])); d > 1e-4 {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
