package analysis

import "math"

// idle watches a still at rest: it learns what the gauges read then, and sees a run begin.
type idle struct {
	gauge    noise   // of the still pressure
	level    float64 // still pressure at rest, kPa absolute; 0 until seen
	base     float64 // what level has come up from lately, kPa absolute; follows it down at once, up slowly
	seen     bool    // the pressure has been read since the last rest point
	after    bool    // a run has just ended: a vacuum is what is left of it
	quietAt  float64 // last time the pressure was at its level, s
	offAt    float64 // last time it was clearly above or below, s
	highAt   float64 // last time it was not clearly above, s
	low      int     // scans in a row clearly below the level
	lowFirst float64 // the first of them, kPa absolute
	lowSince float64 // s
	atOnce   bool    // it got there too quickly for any ejector
	dip      dip
	powered  int // scans in a row with the heater or the air on

	airShut   bool    // the gauge of the compressed air has shown next to nothing
	airShutAt float64 // last time it did, s

	counter lookback // of the energy counter

	oil      trend
	oilNoise noise
	sway     noise   // of what a line through the oil rises over one span, K
	swayAt   float64 // when it was last taken, s
	calmC    float64 // where the oil was when it did not rise, °C; 0: not seen
	armed    bool    // the oil has been seen not to rise: a rise from now on is a heater at work
	rising   int
	steep    bool // it rises as only its heater makes it
}

const (
	// A heater that is too small to raise its oil by 0.5 °C/min takes more than four hours from room
	// temperature to 150 °C; a room that warms on a summer morning makes less than 0.1 °C/min.
	// Common practice, no source.
	leastRise = 0.5 / 60 // K/s

	baseS = 7200 // s in which base follows a level that has risen

	weather = 6 // kPa that the surroundings may have changed by since the still was last watched
)

// reset prepares for the first scan at rest, with what earlier idle hours taught about the gauge.
func (i *idle) reset(l Learned) {
	*i = idle{oil: trend{span: oilSpan}, gauge: newNoise(0.15), oilNoise: newNoise(0.1), sway: newNoise(restSway)}
	if l.OilSway > 0 {
		i.sway = newNoise(l.OilSway)
	}
	if l.OilSD > 0 {
		i.oilNoise = newNoise(l.OilSD)
	}
	if l.GaugeSD > 0 {
		i.gauge = newNoise(l.GaugeSD)
	}
	i.level, i.base = l.RestKPa, l.BaseKPa
	i.armed = l.RestKPa != 0 // nothing was rising at the rest point
}

// pressureSD is the scatter of one reading of the still pressure, kPa, including the rounding of its
// display (a step q rounds with a standard deviation of q/√12, GUM F.2.2.1).
func (a *Analyser) pressureSD() float64 {
	step, meanSq := a.gaugeStep(), a.idle.gauge.meanSq
	if s := &a.scatter; s.step != step || s.meanSq != meanSq || s.sd == 0 { // asked for many times a scan
		*s = scatter{step, meanSq, a.idle.gauge.sd(0.04)}
		if step != 0 {
			s.sd = rootSum(s.sd, step/math.Sqrt(12))
		}
	}
	return a.scatter.sd
}

// scatter is pressureSD for what it was last computed from.
type scatter struct{ step, meanSq, sd float64 }

// gaugeStep is the step of the pressure gauge's display, kPa: the least change it has shown. 0 if none
// is known, or if what was seen were jumps and no steps.
func (a *Analyser) gaugeStep() float64 {
	step := a.memory.Learned.GaugeStep
	if i := a.in.pressureChannel(); i >= 0 {
		if s := a.sensors.ch[i].step; s > 0 && (step == 0 || s < step) {
			step = s
		}
	}
	if step > 4 {
		return 0
	}
	return step
}

// calm reports that nothing points at a run beginning.
func (i *idle) calm(t float64) bool {
	if i.low > 0 || i.powered > 0 || i.rising > 0 || t-i.offAt < 60 || i.dip.standing(t) || i.airShut && t > i.airShutAt && t-i.airShutAt < openedBefore {
		return false
	}
	l, ok := i.oil.fit()
	return !ok || l.slope < leastRise/3
}

// began is how the beginning of a run was seen.
type began int

const (
	byRunSwitch began = iota
	byAir
	byHeater
	byPressure
	byOil
	byRecording // the first scans are from the middle of a run
)

// stepIdle looks for the beginning of a run.
func (a *Analyser) stepIdle() {
	i, r := &a.idle, &a.r
	if v, ok := r.get(a.in.warm); ok {
		a.followRest(v)
	}
	if v, ok := r.get(sCounter); ok {
		i.counter.add(r.t, v)
	}
	if v, ok := r.get(sAir); ok && v < airShutKPa {
		i.airShut, i.airShutAt = true, r.t
	}
	if r.ok[sRunOn] { // the control says so itself: nothing else is needed
		if r.on(sRunOn) {
			a.beginRun(r.t, byRunSwitch)
		} else {
			a.atRest()
		}
		return
	}
	air := r.on(sAirOn)
	if a.heaterBegins() || air {
		i.powered++
	} else {
		i.powered = 0
	}
	switch {
	case i.powered >= 2 && air:
		a.beginRun(r.t-r.dt, byAir)
	case i.powered >= 2:
		a.beginRun(r.t-r.dt, byHeater)
	case a.fell():
		a.beginRun(max(0, i.quietAt), byPressure)
	case a.midRun():
		a.beginRun(r.t, byRecording)
	default:
		if t, ok := a.oilRises(); ok {
			a.beginRun(t, byOil)
			return
		}
		if i.low == 0 {
			a.atRest()
		}
	}
}

// midRun reports that the first readings are from the middle of a run: under vacuum and not cold. Less than half
// of a vacuum may be an absolute gauge on a mountain that the configuration does not know of.
func (a *Analyser) midRun() bool {
	i, r := &a.idle, &a.r
	warm, ok := r.get(a.in.warm)
	return r.pOK && i.level == 0 && !i.after && r.p < 0.6*r.atm && !(ok && warm < coldC && a.heaterOn() != yes && !r.on(sAirOn))
}

// heaterBegins reports that the heater draws more than what a power meter shows of nothing, and that its switch,
// where there is one, does not say otherwise.
func (a *Analyser) heaterBegins() bool {
	p, ok := a.r.get(sPower)
	return a.heaterOn() == yes && !a.r.off(sHeaterOn) && (!ok || p > 0.15*a.still.Heater.RatedKW)
}

// atRest takes a reading made at rest into the level of the pressure.
func (a *Analyser) atRest() {
	i, r, sd := &a.idle, &a.r, a.pressureSD()
	if !r.pOK {
		return
	}
	if i.level == 0 || !i.seen && math.Abs(r.p-i.level) < weather {
		i.level = r.p
	}
	i.seen = true
	i.gauge.add(r.p)
	w := min(1, max(r.dt/60, 1/float64(i.gauge.n+1)))

	step := w * (r.p - i.level)
	if r.p > i.level+4*sd+0.1 { // air coming back after a run is followed, a puff while loading is not
		if r.t-i.highAt > 30 {
			step = min(1, r.dt/10) * (r.p - i.level)
		} else {
			step = min(step, 0.02*r.dt)
		}
	} else {
		i.highAt = r.t
	}
	i.level += step
	if i.level < i.base || i.level > i.base+puffMost { // or the air came back after a run
		i.base = i.level
	}
	i.base += min(1, r.dt/baseS) * (i.level - i.base)
	if r.p > i.level-2*sd-0.05 {
		i.quietAt = r.t
	}
	if math.Abs(r.p-i.level) > 4*sd+0.1 {
		i.offAt = r.t
	}
}

// fell reports that the pressure has clearly left its level downwards: two scans in a row beyond five
// standard deviations and beyond a display step, and by more than the weather does; five, if the gauge is known
// to show what is not there.
func (a *Analyser) fell() bool {
	i, r := &a.idle, &a.r
	if !r.pOK || i.level == 0 {
		return false
	}
	i.followDip(r.p, a.pressureSD())
	if i.level-r.p > max(1.2, max(5*a.pressureSD(), 1.5*a.gaugeStep())) {
		if i.low == 0 {
			i.lowFirst, i.lowSince = r.p, r.t
		}
		i.low++
		if i.low == 2 {
			i.atOnce = a.tooQuick(i.level-i.lowFirst, i.level-r.p, i.lowSince-i.quietAt)
			if r.t-i.lowSince < 2 {
				i.lowFirst = r.p // gauges lag: from here on
			}
		}
	} else {
		i.low = 0
	}
	if i.low > 1 && i.level-i.lowFirst < gaugeZeroMost && i.gaugeStepped(r.p, math.Hypot(a.pressureSD(), a.gaugeStep())) {
		if i.dip.at == 0 && !i.atOnce {
			i.dip = dip{i.lowSince, i.level}
		}
		if r.t-i.lowSince > 120 {
			i.level, i.low = r.p, 0
		}
		return false
	}
	if i.low > 1 && r.p > i.lowFirst+max(0.3, 3*a.pressureSD())+a.gaugeStep() {
		return false // a puff of the ejector, and it comes back
	}
	if ch := a.in.pressureChannel(); ch >= 0 && a.sensors.ch[ch].spikes > 0.5 {
		return i.low >= 5
	}
	return i.low >= 2
}

// tri is yes, no, or not known.
type tri int8

const (
	unknown tri = iota
	no
	yes
)

// heaterOn says whether the heater draws power now, from the best signal there is.
func (a *Analyser) heaterOn() tri {
	r := &a.r
	if p, ok := r.get(sPower); ok {
		least := 0.2
		if a.still.Heater.RatedKW > 0 {
			least = 0.05 * a.still.Heater.RatedKW
		}
		if p > least {
			return yes
		}
		return no
	}
	if r.ok[sHeaterOn] {
		if r.on(sHeaterOn) {
			return yes
		}
		return no
	}
	return unknown
}
