package analysis

import "math"

// An absolute gauge without a barometer beside it shows the weather when the still is open, so one reading says
// little. But the weather moves what it shows of the surroundings and hardly the end of a pump-down; a leak moves
// the end and not the surroundings. What moves both, by as much, is the gauge.

const (
	gaugeDriftFirst = 6   // first readings, which later ones are compared with
	gaugeDriftKPa   = 2.5 // kPa in both: the weather and a leak at once seldom do that
)

// GaugeRest is what an absolute gauge showed of the surroundings and of the end of the pump-down after it, kPa.
type GaugeRest struct {
	AirKPa float64 `json:"air_kpa"`
	EndKPa float64 `json:"end_kpa"`
}

// judgeRest compares what an absolute gauge shows before a run with what it showed before others. The weather hardly
// moves it that far; a still that was left closed may read too low once, but not twice.
func (a *Analyser) judgeRest() {
	i, l, v := &a.idle, &a.memory.Learned, &a.run.vac
	n := len(l.GaugeRest)
	if i.level == 0 || !i.seen || !a.in.fitted(sPressure) || a.in.fitted(sBarometer) || n < leastRuns {
		return
	}
	before := make([]float64, n)
	for k := range before {
		before[k] = l.GaugeRest[k].AirKPa
	}
	mid, _ := median(before[:min(n, gaugeDriftFirst)], 1)
	shift := i.level - mid
	off := shift > weather || shift < -weather && before[n-1] < mid-weather
	name := a.still.Channels[a.in.pressureChannel()].Name
	if off {
		v.zero, v.zeroOff = shift, true
	} else if !a.stands(SignalImplausible, name) {
		return
	}
	a.lasting(SignalImplausible, name, off || l.GaugeOff, func() account {
		shows := "shows " + a.w.pressureDiff(math.Abs(shift)) + " " + pick(shift > 0, "more", "less") + " while the still is open to the air than before its first runs"
		return account{text: "The channel " + name + " " + shows + ". No weather does that: the gauge has shifted, and every vacuum it shows is wrong by as much. Compare it with another one and have it set right.",
			likely: gaugeAlone("the gauge " + shows)}
	})
}

// gaugeDrift takes this run's readings in, and is by how much both have moved since the first runs, kPa; the
// lesser of the two, and nothing if they went different ways.
func (a *Analyser) gaugeDrift() (kPa float64, ok bool) {
	l, v := &a.memory.Learned, &a.run.vac
	end, _, fitted, ok := a.endKPa()
	if !a.in.fitted(sPressure) || a.in.fitted(sBarometer) || !ok || !fitted || !v.certain {
		return 0, false
	}
	l.GaugeRest = keepFirst(l.GaugeRest, GaugeRest{round(v.p0), round(end)}, gaugeDriftFirst)
	n := len(l.GaugeRest)
	if n < gaugeDriftFirst+2 {
		return 0, false
	}
	moved := func(of func(GaugeRest) float64) float64 {
		var first [gaugeDriftFirst]float64
		for i := range first {
			first[i] = of(l.GaugeRest[i])
		}
		mid, _ := median(first[:], 1)
		return (of(l.GaugeRest[n-1])+of(l.GaugeRest[n-2]))/2 - mid
	}
	air := moved(func(g GaugeRest) float64 { return g.AirKPa })
	down := moved(func(g GaugeRest) float64 { return g.EndKPa })
	if air*down <= 0 {
		return 0, true
	}
	return math.Copysign(min(math.Abs(air), math.Abs(down)), air), true
}
