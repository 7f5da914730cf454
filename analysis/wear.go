package analysis

import (
	"math"
	"slices"
	"time"

	"luted/analysis/physics"
)

// WearPoint is how tight one run found the still.
type WearPoint struct {
	Run    int       `json:"run"`
	At     time.Time `json:"at,omitzero"`        // end of the run
	EndKPa float64   `json:"end_kpa"`            // that it came to, kPa absolute: see the records in Learned, of which each has its own
	TauS   float64   `json:"tau_s"`              // its time constant, s
	SD     float64   `json:"sd,omitempty"`       // standard deviation of EndKPa by the fit, kPa
	Vapor  float64   `json:"vapor_kpa"`          // what the charge could hold up then, kPa absolute
	Boil   *float64  `json:"boil_kpa,omitempty"` // pressure by the boiling temperature less that shown meanwhile, kPa; nil: not known
	AirKPa float64   `json:"air_kpa,omitempty"`  // what an absolute gauge without a barometer showed of the surroundings before, kPa
}

const (
	wearRuns      = 40 // runs looked back on
	wearLeast     = 7  // points before a trend is believed
	wearNear      = 15 // runs: a miss that is nearer than that is news as soon as it is likely
	wearHorizon   = 60 // runs: wear that will take longer than that to matter is not yet news, however certain
	wearBlur      = 2  // kPa: an end pressure less certain than that is left out
	wearAgainRuns = 2  // tight runs in a row after which the seal counts as mended
)

// noteWear takes the figures of a run into the records of wear, and finds a seal that was mended.
func (a *Analyser) noteWear() {
	v, l := &a.run.vac, &a.memory.Learned
	if !v.certain || a.faults.raised(AirSupplyLow) || slices.Contains(a.run.faults, AirSupplyLow) || a.gaugeOff() {
		return
	}
	p := WearPoint{Run: a.memory.Runs, At: a.r.at.Truncate(time.Minute), Vapor: round(v.vaporKPa)}
	if off, ok := a.shownAgainstBoiling(); ok {
		p.Boil = number(round(off+v.zero), true)
	}
	if a.in.fitted(sPressure) && !a.in.fitted(sBarometer) {
		p.AirKPa = round(v.p0)
	}
	end, sd, fitted, ok := a.endKPa()
	tau, okTau := a.tauS()
	if ok && okTau && !a.chargeHoldsUp(end, fitted) && sd <= wearBlur {
		p := p
		p.EndKPa, p.TauS, p.SD = round(end), round(tau), round(sd)
		l.Wear = keepWear(l.Wear, p)
	}
	if kept, ok := a.keptBoiling(); ok {
		p := p
		p.EndKPa = round(kept)
		l.WearKept = keepWear(l.WearKept, p)
	}
	if low, ok := a.lowestHeld(); ok {
		p.EndKPa, p.Vapor = round(low), 0
		l.WearLow = keepWear(l.WearLow, p)
	}
}

// lowestHeld is the lowest pressure that the run held for some minutes, kPa absolute: late in it, when the charge has
// given off its vapour, the ejector has nothing left to draw but what leaks in. Where a pressure switch holds it, it says
// nothing, whatever the seal does.
func (a *Analyser) lowestHeld() (kPa float64, ok bool) {
	v, c := &a.run.vac, &a.course
	if !v.pulled() || slices.Contains(a.run.faults, VacuumLost) {
		return 0, false
	}
	low := math.Inf(1)
	for i := c.after(v.overAt); i < len(c.spots); i++ {
		t := c.spots[i].t
		if p, ok := c.mean(pressKPa, t, t+heldFor); ok && p < low && t+heldFor <= a.r.t {
			low = p
		}
	}
	return low - v.zero, !math.IsInf(low, 0) && low > v.zero
}

const heldFor = 180 // s

// keepWear takes a point into a record, which begins anew with a seal that was mended.
func keepWear(pts []WearPoint, p WearPoint) []WearPoint {
	pts = keepLast(pts, p, wearRuns)
	if n := len(pts); n > wearAgainRuns+2 && mended(pts[:n-wearAgainRuns], pts[n-wearAgainRuns:]) {
		return append([]WearPoint(nil), pts[n-wearAgainRuns:]...)
	}
	return pts
}

// keptBoiling is the pressure on the boiling plateau, kPa absolute: the ejector, if it goes on all the time, holds
// it somewhat above the end of the pump-down, run by run by as much, and it is read for half an hour. Where a
// pressure switch holds it, it says nothing, whatever the seal does. ok is false where the charge's own vapour
// could make up much of it when it was cold.
func (a *Analyser) keptBoiling() (kPa float64, ok bool) {
	v := &a.run.vac
	p, ok := a.run.distil.boilKPa.value()
	if !ok || slices.Contains(a.run.faults, VacuumLost) {
		return 0, false
	}
	p -= v.zero
	return p, p > 0 && (!a.liquid.known || v.vaporKPa < keptVapor*p)
}

// keptVapor is the share of the pressure on the plateau that the vapour of the cold charge may be; the condenser is
// colder still.
const keptVapor = 0.35

// shownAgainstBoiling is the pressure by the plateau's temperature less the pressure that the gauge showed, kPa.
// It holds what the gauge is off by and, for a gauge of vacuum without a barometer, the weather.
func (a *Analyser) shownAgainstBoiling() (kPa float64, ok bool) {
	d := &a.run.distil
	t, okT := d.boilC.value()
	p, okP := d.boilKPa.value()
	if !okT || !okP || slices.Contains(a.run.faults, VacuumLost) || slices.Contains(a.run.faults, BoilingPointOff) {
		return 0, false
	}
	sat, ok := a.liquid.vaporKPa(t)
	return sat - p, ok
}

// mended reports that the latest runs are clearly tighter than all of those just before them.
func mended(before, latest []WearPoint) bool {
	before = before[max(0, len(before)-4):]
	low := math.Inf(1)
	for _, p := range before {
		low = min(low, p.EndKPa-2*p.SD)
	}
	for _, p := range latest {
		if p.EndKPa+2*p.SD+0.5 > low {
			return false
		}
	}
	return true
}

// wearTrend fits the records; ok is false if nothing grows beyond doubt.
func (a *Analyser) wearTrend() (w wear, ok bool) {
	target, _ := a.targetKPa()
	w, _, ok = a.memory.Learned.wearTrend(target, a.gaugeStep(), a.in.weatherShows())
	return w, ok
}

// wearTrend is the trend of the record that shows one, and the record; of several, the surest one.
func (l *Learned) wearTrend(target, gaugeStep float64, weather bool) (w wear, pts []WearPoint, ok bool) {
	pts = l.Wear
	w, ok = fitWear(l.Wear, target, gaugeStep, weather)
	ends := w
	for _, record := range [...][]WearPoint{l.WearKept, l.WearLow} {
		if k, grows := fitWear(record, target, gaugeStep, weather); grows && !ends.contradicts(k) && (!ok || k.perRun*w.sd > w.perRun*k.sd) {
			w, pts, ok = k, record, true
		}
	}
	if late, grows := fitOnset(l.Wear, gaugeStep, weather); grows && (!ok || late.perRun > w.perRun) {
		late.forecast(target)
		w, pts, ok = late, l.Wear, true
	}
	return w, pts, ok
}

// contradicts reports that the pump-downs, of which w is the trend, have not grown by half of what a later record has, beyond
// doubt: a leak lets its air in all the time. What grows later only is the vapour of a charge that boils out more slowly.
func (w *wear) contradicts(later wear) bool {
	return w.n >= wearLeast && w.perRun+wearZ*w.sd < later.perRun/2
}

// judgeWear: across runs, the end pressure grows.
func (a *Analyser) judgeWear() {
	w, ok := a.wearTrend()
	a.lasting(SealWear, "", ok && w.told(a.stands(SealWear, "")), func() account { return a.explainWear(w) })
}

func (a *Analyser) explainWear(w wear) account {
	target, _ := a.targetKPa()
	text := "The still gets less tight from run to run: its end pressure has grown by " + a.w.pressureDiff(w.grown) + " over " + count(w.n, "run") + ", to " +
		a.w.pressure(w.now, a.r.atm) + ". "
	if w.left < 1 {
		text += "The vacuum of " + a.w.pressure(target, a.r.atm) + " will be missed at any time now. "
	} else {
		text += "At this pace the vacuum of " + a.w.pressure(target, a.r.atm) + " will be missed in about " + count(int(w.left), "run")
		if w.high < 200 {
			text += " (" + num(math.Floor(w.low), 0) + " to " + num(math.Ceil(w.high), 0) + ")"
		}
		text += ". "
	}
	leak, pump, why := a.wearShape()
	var s suspects
	s.add(OpenToAir, 0.7*leak, join("a gasket or a valve seat that wears lets in a little more air each time", why))
	s.add(Ejector, 0.2*pump, join("an ejector that wears or a silencer that clogs ends higher as well", why))
	s.add(Gauge, 0.1, "a gauge that drifts looks the same; compare it at the surroundings")
	return account{text: text + "Plan to look at the lid gasket, the drain valve and the ejector.", likely: s.rank()}
}

// wearShape tells a leak that grows from an ejector that tires: only the ejector changes the time constant.
func (a *Analyser) wearShape() (leak, pump float64, because string) {
	pts := a.memory.Learned.Wear
	xs, ys := make([]float64, len(pts)), make([]float64, len(pts))
	for i, p := range pts {
		xs[i], ys[i] = float64(p.Run), p.TauS
	}
	line, err := physics.TheilSen(xs, ys, 0.98)
	if err != nil {
		return 1, 1, ""
	}
	if grown := line.Slope * (xs[len(xs)-1] - xs[0]); line.Low > 0 && grown > 0.15*ys[0] {
		return 0.4, 3, "it empties more slowly as well"
	}
	return 1.3, 0.5, "it empties as fast as ever"
}
