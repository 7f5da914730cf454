package analysis

import "math"

// The dry point: all but half a per cent of what can come over has come over. What is measured decides
// how it is found, the best first:
//
//   - what has come over: the end of its tail, which is an exponential while a residue dries;
//   - the temperatures of vapour and charge leaving saturation;
//   - the heat that the jacket gives away, from the flanks of the thermostat's ripple.
//
// While the run goes on it is looked for once a minute, and said when it is certain. When the run is over
// it is looked for again with all that came after, in settleDry.

const (
	leftShare = 0.005 // of all that comes over may be left
	lookEvery = 60    // s
	tailSpan  = 360   // s over which the rate of a tail is taken
	soonest   = 900   // s of boiling before anything can be dry
)

// The bases of the dry point as people read them.
const (
	byDistillate = "distillate rate"
	byVaporC     = "vapor temperature leaving saturation"
	byChargeC    = "charge temperature leaving saturation"
	byBothC      = "vapor and charge temperature leaving saturation"
	byDuty       = "heater duty at set point falling to the loss level"
	byRipple     = "thermostat ripple: cooling flanks as slow as without boiling"
)

// lookForDry looks for the dry point while the run goes on.
func (a *Analyser) lookForDry() {
	d, r := &a.run.distil, &a.r
	if d.dry || r.t < d.lookAt {
		return
	}
	d.lookAt = r.t + lookEvery
	if d.boiling && r.t-d.boilingAt < soonest {
		return
	}
	var at float64
	var basis string
	var ok bool
	switch {
	case a.comesMeasured():
		at, ok = a.dryByTail()
		basis = byDistillate
	case a.in.fitted(sVapor) || a.in.fitted(sCharge):
		at, basis, ok = a.dryByTemperature()
	default:
		at, basis, ok = a.dryByRippleLive()
		if !ok {
			at, ok = a.dryByKnee(r.t)
			basis = byOilKnee
			if ok && !d.boiling {
				d.boils(math.Max(a.run.vac.overAt, at-kneeFor))
			}
		}
	}
	if ok && a.heaterOn() == no && at > a.run.heat.lastOn+60 {
		return // a pause, or the end of the heating: then it belongs to the cool-down, and settleDry finds it
	}
	if ok && (d.boiling || basis == byRipple || basis == byDuty) {
		d.dry, d.dryAt, d.basis, d.fading = true, at, basis, true
	}
}

// tail is the exponential that what comes over follows at the end: its rate now, L/s, and what is still
// to come, L. ok is false while the rate does not fall.
func (a *Analyser) tail(t float64) (rate, left float64, ok bool) {
	c := &a.course
	r1, ok1 := c.slope(overL, t-tailSpan, t)
	r0, ok0 := c.slope(overL, t-2*tailSpan, t-tailSpan)
	if !ok0 || !ok1 || r0 <= 0 {
		return 0, 0, false
	}
	if r1 <= 0 {
		return 0, 0, true
	}
	fall := math.Log(r0 / r1)
	if fall < 0.1 {
		return r1, 0, false
	}
	tau := tailSpan / fall
	rate = r1 * math.Exp(-tailSpan/2/tau)
	return rate, rate * tau, true
}

// dryByTail: what comes over.
func (a *Analyser) dryByTail() (float64, bool) {
	d, r := &a.run.distil, &a.r
	rate, left, ok := a.tail(r.t)
	if !d.boiling || !ok || d.plateau <= 0 || rate > 0.1*d.plateau {
		return 0, false
	}
	over, ok := a.course.mean(overL, r.t-60, r.t)
	if !ok || left > 0.7*leftShare*over {
		return 0, false
	}
	return a.course.crosses(overL, (1-leftShare)*(over+left), d.boilingAt, r.t)
}

// dryByTemperature: the vapour pipe cools when nothing hot comes any more, or becomes as hot as the walls;
// a charge without liquid follows the oil.
func (a *Analyser) dryByTemperature() (at float64, basis string, ok bool) {
	d, r := &a.run.distil, &a.r
	plateau, known := d.boilC.value()
	if !known {
		return 0, "", false
	}
	oil, okOil := a.course.mean(oilC, r.t-300, r.t)
	charge, okCharge := a.course.mean(chargeC, r.t-90, r.t)
	if vapor, okV := a.course.mean(vaporC, r.t-90, r.t); okV && a.in.fitted(sVapor) {
		peak, peakAt, after := a.vaporPeak(r.t)
		chargeThen, _ := a.course.mean(chargeC, peakAt-120, peakAt+120)
		pressThen, okP := a.course.mean(pressKPa, peakAt-120, peakAt+120)
		satFell := 0.0 // a deeper vacuum cools the vapour, too
		if then, known := a.liquid.boilC(pressThen); known && okP && r.pOK {
			now, _ := a.liquid.boilC(r.p)
			satFell = math.Max(0, then-now)
		}
		if peak-vapor-satFell > 3 && after > 120 && (!okCharge || charge > chargeThen-1) {
			return peakAt, byVaporC, true
		}
		if okOil && oil > plateau+20 && vapor > plateau+0.5*(oil-plateau) {
			at, ok := a.course.crosses(vaporC, plateau+4, d.boilingAt, r.t)
			return at, byVaporC, ok
		}
	}
	if okCharge && okOil && oil > plateau+15 && charge > plateau+0.6*(oil-plateau) {
		at, ok := a.chargeLeaves(r.t, 0)
		return at, byChargeC, ok
	}
	return 0, "", false
}

// vaporPeak is the highest temperature of the vapour since boiling began, over three spots, the last time
// that it was within 0.4 K of it, and how long ago that was.
func (a *Analyser) vaporPeak(until float64) (peak, at, ago float64) {
	c := &a.course
	peak = math.Inf(-1)
	from := c.after(a.run.distil.boilingAt + soonest)
	smooth := func(i int) float64 {
		sum, n := 0.0, 0.0
		for k := max(0, i-2); k <= min(len(c.spots)-1, i+2); k++ {
			if v := c.spots[k].v[vaporC]; !math.IsNaN(v) {
				sum += v
				n++
			}
		}
		return sum / n // NaN if nothing was measured
	}
	for i := from; i < len(c.spots) && c.spots[i].t <= until; i++ {
		v := smooth(i)
		if v > peak {
			peak = v
		}
	}
	for i := from; i < len(c.spots) && c.spots[i].t <= until; i++ {
		if v := smooth(i); v >= peak-0.4 {
			at = c.spots[i].t
		}
	}
	return peak, at, until - at
}

// chargeLeaves is when the charge began to follow the oil as it does without liquid: the share of the
// heat that warms it, dT/dt over (oil − charge), has come to four fifths of what it is at the end (what
// is left of boiling takes the rest). last is that share at the end, 1/s; 0: the greatest so far.
func (a *Analyser) chargeLeaves(until, last float64) (float64, bool) {
	c, d := &a.course, &a.run.distil
	const half = 300 // s
	from := d.boilingAt + soonest
	if last == 0 {
		for t := from; t <= until-half; t += 60 {
			if k, ok := a.warmShare(t, half); ok {
				last = math.Max(last, k)
			}
		}
	}
	if last <= 0 {
		return 0, false
	}
	at, ok := 0.0, false
	for i := c.after(from); i < len(c.spots) && c.spots[i].t <= until-half/2; i++ {
		k, good := a.warmShare(c.spots[i].t, half)
		if !good {
			continue
		}
		if k < 0.8*last {
			ok = false
		} else if !ok {
			at, ok = c.spots[i].t, true
		}
	}
	return at, ok
}

// warmShare is dT/dt of the charge over (oil − charge), 1/s, about a time.
func (a *Analyser) warmShare(t, half float64) (float64, bool) {
	s, ok := a.course.slope(chargeC, t-half, t+half)
	oil, okOil := a.course.mean(oilC, t-half, t+half)
	charge, okCharge := a.course.mean(chargeC, t-half, t+half)
	if !ok || !okOil || !okCharge || oil-charge < 8 {
		return 0, false
	}
	return s / (oil - charge), true
}

// settleDry decides the dry point of the run with all that came after it: what the still did while it
// cooled shows what it does without liquid. heatEnd is when the heating stopped, s.
func (a *Analyser) settleDry(heatEnd, end float64) {
	d := &a.run.distil
	heated := a.phase == CoolDown // else the recording stopped in the middle
	switch {
	case a.comesMeasured():
		if d.boiling && heated {
			a.settleByTail(heatEnd, end)
		}
	case a.in.fitted(sVapor) || a.in.fitted(sCharge):
		if d.boiling && heated {
			a.settleByTemperature(heatEnd, end)
		}
	default:
		a.settleByRipple(heatEnd, end)
		if at, ok := a.dryByKnee(heatEnd); ok && !d.dry && d.boiling {
			d.dry, d.dryAt, d.basis = true, at, byOilKnee
		}
	}
	a.run.markDry(d)
}

// settleByTail: in the end, all is over that comes over.
func (a *Analyser) settleByTail(heatEnd, end float64) {
	d := &a.run.distil
	until := math.Min(end, heatEnd+1800)
	all, ok := a.course.mean(overL, until-300, until)
	if !ok || all <= 0 {
		return
	}
	if _, left, ok := a.tail(until); ok {
		all += left
	}
	at, ok := a.course.crosses(overL, (1-leftShare)*all, d.boilingAt, until)
	d.dry = ok && (at <= heatEnd || !a.wetAtEnd(heatEnd)) && at > d.boilingAt+soonest/2
	if d.dry {
		d.dryAt, d.basis = at, byDistillate
	}
}

// settleByTemperature: in cooling, a dry charge shows how it follows the oil without liquid.
func (a *Analyser) settleByTemperature(heatEnd, end float64) {
	d := &a.run.distil
	plateau, known := d.boilC.value()
	charge, okCharge := a.course.mean(chargeC, heatEnd-120, heatEnd+60)
	if !known || okCharge && charge < plateau+8 {
		return
	}
	var tC, tV float64
	var okC, okV bool
	sum, n := 0.0, 0.0
	for t := heatEnd + 240; t <= math.Min(end-120, heatEnd+720); t += 60 {
		if k, ok := a.warmShare(t, 180); ok {
			sum += k
			n++
		}
	}
	if okCharge && n > 0 && sum > 0 {
		tC, okC = a.chargeLeaves(math.Min(end, heatEnd+600), sum/n)
		okC = okC && tC < heatEnd+300
	}
	if d.dry && d.basis == byVaporC {
		tV, okV = d.dryAt, true
	} else if a.in.fitted(sVapor) {
		peak, at, ago := a.vaporPeak(math.Min(end, heatEnd+900))
		now, ok := a.course.mean(vaporC, math.Min(end, heatEnd+900)-120, math.Min(end, heatEnd+900))
		if ok && peak-now > 2 && ago > 300 && at < heatEnd+120 {
			tV, okV = at, true
		}
	}
	switch {
	case okC && okV && math.Abs(tC-tV) < 2400:
		d.dry, d.dryAt, d.basis = true, (tC+tV)/2, byBothC
	case okC:
		d.dry, d.dryAt, d.basis = true, tC, byChargeC
	case okV:
		d.dry, d.dryAt, d.basis = true, tV, byVaporC
	}
}

// wetAtEnd reports that solvent was clearly still coming over when the heating stopped.
func (a *Analyser) wetAtEnd(heatEnd float64) bool {
	d := &a.run.distil
	rate, ok := a.course.slope(overL, heatEnd-240, heatEnd)
	return ok && d.plateau > 0 && rate > 0.1*d.plateau
}

// markDry puts the phase that begins at the dry point where it was found in the end.
func (r *run) markDry(d *distil) {
	out := r.marks[:0]
	for _, m := range r.marks {
		if m.phase != DryOut {
			out = append(out, m)
		}
	}
	r.marks = out
	if !d.dry {
		return
	}
	for i, m := range r.marks {
		last := i+1 == len(r.marks)
		if (m.phase == Distilling || m.phase == HeatUp) && m.t <= d.dryAt && (last || d.dryAt < r.marks[i+1].t) {
			r.marks = append(r.marks[:i+1], append([]mark{{DryOut, d.dryAt}}, r.marks[i+1:]...)...)
			return
		}
	}
}
