package analysis

import (
	"math"
	"slices"

	"luted/analysis/physics"
)

// The trend of the end pressure over the runs. Three things move it that are no wear, and each is taken out by
// what else was read in the same run:
//
//   - The weather, where a gauge of vacuum has no barometer beside it: the target, too, is shown by that gauge,
//     so the level counts as it is shown, but the highs and lows of some days blur the trend. A boiling charge
//     tells the true pressure by its temperature, so with a thermometer in it they can be taken out; without one
//     the runs of a few days are as good as one.
//   - A gauge that drifts: where it shows the surroundings, by as much as those drift with it.
//   - A warm week, which raises the vapour of the charge, and with it, by some part, the end pressure.

// wear is the trend of the end pressure over the runs.
type wear struct {
	perRun, sd float64 // kPa a run, and its standard deviation
	now        float64 // where the line is at the latest run, kPa absolute
	left       float64 // runs until the target will be missed
	low, high  float64 // interval of left, 90 %; high may be +Inf
	grown      float64 // since the first run of the record, kPa
	blur       float64 // of a single run about the line, kPa
	byBoiling  bool
	back       bool // one of the latest runs was about as tight as the first: no seal wears back
	n          int
}

const (
	wearZ        = 2.5  // standard deviations of the slope from nothing
	wearZWeather = 2.0  // the same where the weather shows: its size is known beforehand, not guessed from a few runs
	wearZSure    = 3.5  // beyond that it is told however long it will take
	wearLeastKPa = 0.8  // growth that counts at all: room, cooling water and compressed air move an end pressure by as much
	wearFarKPa   = 1.5  // growth that is told although the miss is far: a warm fortnight does less
	wearLatest   = 3    // runs, of which none may have gone back by
	wearBack     = 0.75 // of the growth; both common practice, no source
	wearBlurs    = 2.5  // of the scatter of a run that it must have grown by
	wearFloorKPa = 0.25 // scatter that runs have at least, whatever a few that agree say
	weatherKPa   = 0.6  // standard deviation of the surroundings over weeks, and the days that it takes them
	weatherDays  = 1.5  // to forget: of temperate places in summer; from memory, no source
)

// news reports that the trend is to be told: the target will be missed soon, or, if it is beyond doubt, some day.
func (w *wear) news() bool {
	return w.left < wearNear || w.left < wearHorizon && w.grown > wearFarKPa && w.perRun > wearZSure*w.sd
}

// told reports that the trend is to be told, or to go on being told.
func (w *wear) told(already bool) bool { return w.news() && (already || !w.back) }

// weatherShows reports that the still pressure is read against surroundings that nobody measures.
func (in *inputs) weatherShows() bool {
	return in.fitted(sVacuum) && !in.fitted(sPressure) && !in.fitted(sBarometer)
}

// fitWear fits a record against a target; gaugeStep is the step of the gauge's display, 0 if it has none.
// All in kPa.
func fitWear(pts []WearPoint, target, gaugeStep float64, weather bool) (w wear, ok bool) {
	if len(pts) < wearLeast {
		return w, false
	}
	shown := make([]float64, len(pts))
	for i, p := range pts {
		shown[i] = p.EndKPa
	}
	w, z := fitWearLine(pts, shown, gaugeStep, weather)
	least := wearZ
	if weather {
		least = wearZWeather
	}
	if by, ys := byBoiling(pts); len(by) >= wearLeast && 10*len(by) >= 7*len(pts) {
		if b, zb := fitWearLine(by, ys, gaugeStep, false); b.n > 0 && b.sd < w.sd {
			w, z, least = b, zb, wearZ
			w.byBoiling = true
		}
	}
	// What has grown must be larger than what moves a single run.
	ok = w.n > 0 && z >= least && w.grown >= max(wearLeastKPa, wearBlurs*w.blur) && !driftsAlong(pts, w.grown)
	if !ok {
		return w, false
	}
	w.forecast(target)
	return w, true
}

// forecast is when the target will be missed.
func (w *wear) forecast(target float64) {
	way := max(0, target-w.now)
	const k90 = 1.645
	w.left = way / w.perRun
	w.low = max(0, way-w.blur) / (w.perRun + k90*w.sd)
	w.high = math.Inf(1)
	if slow := w.perRun - k90*w.sd; slow > 0 {
		w.high = (way + w.blur) / slow
	}
}

// byBoiling are the points whose run told the true pressure by its boiling temperature, and their end pressures
// with the gauge's changes taken out. What is off all the time, a thermometer or a blend, stays out of it.
func byBoiling(pts []WearPoint) (by []WearPoint, ys []float64) {
	var off []float64
	for _, p := range pts {
		if p.Boil != nil {
			by, off = append(by, p), append(off, *p.Boil)
		}
	}
	usualOff, _ := physics.Median(off)
	for i := range by {
		ys = append(ys, by[i].EndKPa+off[i]-usualOff)
	}
	return by, ys
}

// fitWearLine fits a robust line over the runs; z is the slope in its standard deviations. n is 0 if there is
// none. The vapour of the charge is a second variable, of which between nothing and all may show.
func fitWearLine(pts []WearPoint, ys []float64, gaugeStep float64, weather bool) (w wear, z float64) {
	n := len(pts)
	xs, rest := make([]float64, n), make([]float64, n)
	mean := 0.0
	for i, p := range pts {
		xs[i] = float64(p.Run)
		mean += xs[i] / float64(n)
	}
	share := vaporShows(pts, ys)
	dry := make([]float64, n)
	for i, p := range pts {
		dry[i] = ys[i] - share*(p.Vapor-pts[n-1].Vapor)
	}
	line, err := physics.TheilSen(xs, dry, 0.9)
	if err != nil {
		return w, 0
	}
	var spread float64
	for i := range pts {
		rest[i] = dry[i] - line.Intercept - line.Slope*xs[i]
		spread += (xs[i] - mean) * (xs[i] - mean)
	}
	_, sd, _ := physics.MAD(rest)
	sd = max(sd*math.Sqrt(float64(n)/float64(n-2)), max(wearFloorKPa, gaugeStep/math.Sqrt(12)))
	alone := 1.0 // of n runs, how many are as good as independent
	if weather {
		sd = max(sd, weatherKPa)
		if days := pts[n-1].At.Sub(pts[0].At).Hours() / 24; !pts[0].At.IsZero() {
			alone = min(1, max(2, days/weatherDays+1)/float64(n))
		}
	}
	last := xs[n-1]
	// 1.05: Theil and Sen's slope of normal values is that much less certain than that of least squares (Sen 1968).
	w = wear{perRun: line.Slope, sd: 1.05 * sd / math.Sqrt(spread*alone), now: line.Intercept + line.Slope*last, grown: line.Slope * (last - xs[0]), blur: sd, n: n}
	w.back = slices.Min(dry[n-wearLatest:]) < w.now-wearBack*w.grown
	return w, w.perRun / w.sd
}

// vaporShows is the share of the charge's vapour that shows in the end pressure, 0 to 1: least squares of both,
// runs and vapour (NIST/SEMATECH e-Handbook 4.4.3.1).
func vaporShows(pts []WearPoint, ys []float64) float64 {
	n := float64(len(pts))
	var mx, mv, my float64
	for i, p := range pts {
		mx, mv, my = mx+float64(p.Run)/n, mv+p.Vapor/n, my+ys[i]/n
	}
	var xx, vv, xv, xy, vy float64
	for i, p := range pts {
		x, v, y := float64(p.Run)-mx, p.Vapor-mv, ys[i]-my
		xx, vv, xv, xy, vy = xx+x*x, vv+v*v, xv+x*v, xy+x*y, vy+v*y
	}
	d := xx*vv - xv*xv
	if vv < 0.05*n || d < 0.05*xx*vv { // the vapour hardly changed, or only with the runs
		return 0
	}
	return min(1, max(0, (xx*vy-xv*xy)/d))
}

// driftsAlong reports that an absolute gauge shows the surroundings to grow along with the end pressure: then it
// is the gauge, for a leak does not change the surroundings.
func driftsAlong(pts []WearPoint, grown float64) bool {
	var xs, ys []float64
	for _, p := range pts {
		if p.AirKPa > 0 {
			xs, ys = append(xs, float64(p.Run)), append(ys, p.AirKPa)
		}
	}
	if len(xs) < wearLeast {
		return false
	}
	line, err := physics.TheilSen(xs, ys, 0.9)
	air := line.Slope * (xs[len(xs)-1] - xs[0])
	return err == nil && air > 1.5 && air > grown/2 // 1.5 kPa: the weather does less in most fortnights
}
