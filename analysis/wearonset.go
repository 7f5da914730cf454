package analysis

import (
	"math"

	"luted/analysis/physics"
)

// A seal that has held for long and then begins to go does so within few runs. A line through all runs, tight ones and
// leaking ones, sees that late and then forecasts too long a life: so a line that begins where the wear begins is looked
// for as well: the end pressure is y = base up to the last tight run r0, and y = base + s·(r − r0) after it. Base is the
// median of the tight runs, s the weighted least squares slope through (r0, base), s = Σw·x·(y − base)/Σw·x² with
// x = r − r0, and a run weighs w = 1/(1 + sd²/floor²), its own uncertainty beside what runs scatter.

// Common practice, no source.
const (
	onsetTight   = 4   // tight runs before, at the least
	onsetRuns    = 2   // runs of wear, at the least: one is a charge, or a lid that was not locked well
	onsetZ       = 4   // standard deviations of the slope from nothing; one of several beginnings is taken
	onsetMisfit  = 0.2 // of the growth, that the runs may be off the line beside their scatter: a step is no wear
	onsetBetter  = 0.5 // of the squares that the runs are off a line through all of them
	onsetWeather = 5   // standard deviations of the weather that must have grown where it shows; it keeps for days
)

// fitOnset fits what was tight up to some run and then grows steadily to a record of wear, in kPa; ok is false if no such
// thing shows, or a line through all runs fits as well.
func fitOnset(pts []WearPoint, gaugeStep float64, weather bool) (w wear, ok bool) {
	ys := make([]float64, len(pts))
	for i, p := range pts {
		ys[i] = p.EndKPa
	}
	if by, told := byBoiling(pts); weather && 10*len(by) >= 7*len(pts) {
		pts, ys, weather = by, told, false
	}
	n := len(pts)
	if n < wearLeast {
		return w, false
	}
	share := vaporShows(pts, ys)
	dry, xs := make([]float64, n), make([]float64, n)
	for i, p := range pts {
		dry[i], xs[i] = ys[i]-share*(p.Vapor-pts[n-1].Vapor), float64(p.Run)
	}
	floor := max(wearFloorKPa, gaugeStep/math.Sqrt(12))
	weigh := make([]float64, n) // a hot charge leaves little of the pump-down to go by
	for i, p := range pts {
		weigh[i] = 1 / (1 + p.SD*p.SD/(floor*floor))
	}
	best := onsetBetter * offLine(xs, dry, weigh)
	for tight := onsetTight; tight <= n-onsetRuns; tight++ {
		base, sd, _ := physics.MAD(dry[:tight])
		blur := max(sd, floor)
		var xx, xy, misfit, runs float64
		for i := tight; i < n; i++ {
			x := xs[i] - xs[tight-1]
			xx, xy = xx+weigh[i]*x*x, xy+weigh[i]*x*(dry[i]-base)
		}
		slope := xy / xx
		for i := tight; i < n; i++ {
			off := dry[i] - base - slope*(xs[i]-xs[tight-1])
			misfit, runs = misfit+weigh[i]*off*off, runs+weigh[i]
		}
		all := misfit
		for i, y := range dry[:tight] {
			all += weigh[i] * (y - base) * (y - base)
		}
		grown := slope * (xs[n-1] - xs[tight-1])
		misfit = math.Sqrt(misfit / runs)
		least := max(wearLeastKPa, wearBlurs*blur)
		if weather {
			least = max(least, onsetWeather*weatherKPa)
		}
		slopeSD := blur / math.Sqrt(xx)
		if !(all < best && grown >= least && slope >= onsetZ*slopeSD && misfit <= max(blur, onsetMisfit*grown)) ||
			movesAlong(pts, tight, grown) || !alsoShown(pts, tight, grown) {
			continue
		}
		best, ok = all, true
		w = wear{perRun: slope, sd: slopeSD, now: base + grown, grown: grown, blur: blur, n: n - tight}
	}
	return w, ok
}

// offLine is the weighted sum of squares of what points are off the line through all of them by least squares.
func offLine(xs, ys, weigh []float64) float64 {
	var all, mx, my, xx, xy, yy float64
	for i, w := range weigh {
		all, mx, my = all+w, mx+w*xs[i], my+w*ys[i]
	}
	mx, my = mx/all, my/all
	for i, w := range weigh {
		dx, dy := xs[i]-mx, ys[i]-my
		xx, xy, yy = xx+w*dx*dx, xy+w*dx*dy, yy+w*dy*dy
	}
	return yy - xy*xy/xx
}

// alsoShown reports that the gauge shows at least half of a growth: a charge full of dirt boils hotter, and that is no leak.
func alsoShown(pts []WearPoint, tight int, grown float64) bool {
	shown := make([]float64, tight)
	for i := range shown {
		shown[i] = pts[i].EndKPa
	}
	was, _ := physics.Median(shown)
	return pts[len(pts)-1].EndKPa-was > grown/2
}

// movesAlong reports that an absolute gauge has come to show as much more of the surroundings as of the vacuum since the
// tight runs: then it is the gauge.
func movesAlong(pts []WearPoint, tight int, grown float64) bool {
	var before, since []float64
	for i, p := range pts {
		switch {
		case p.AirKPa == 0:
		case i < tight:
			before = append(before, p.AirKPa)
		default:
			since = append(since, p.AirKPa)
		}
	}
	was, ok1 := physics.Median(before)
	is, ok2 := physics.Median(since)
	return ok1 && ok2 && is-was > grown/2
}
