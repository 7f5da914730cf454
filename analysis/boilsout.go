package analysis

import (
	"math"
	"slices"
)

// What still boils out of a pot that looks dry. Where the heater's power is measured, the balance of the oil gives the heat
// that the pot takes, see balance.go. Once nothing boils it only warms what is left, C dT/dt by the charge's own
// thermometer, and replaces what the pot loses: Q = C dT/dt + Q_rest, both from a straight line through the time after the
// thermometer shows the charge dry. What is taken beyond that makes vapour. A bag gives off its last solvent long after the
// charge has left its boiling temperature, and this is where it shows. While a little still boils, it fades as the warming
// does and is in part taken for it, which C's bound limits; with a thermometer in the vapour pipe alone C is not known,
// and what warms the pot counts as vapour: the one makes the dry point rather early, the other rather late.

const (
	outSpan  = 900  // s of a window: some periods of a thermostat with a wide hysteresis
	outSlope = 600  // s over which the warming is taken
	outAfter = 300  // s after the thermometer's dry point, before what is left is taken to be dry
	outLeast = 6    // windows of it that give C
	outTrust = 300  // s by which heat and thermometer must differ: a window blurs by as much
	outFade  = 0.1  // of the heat of boiling: what comes over is a trickle
	outDry   = 0.03 // of it: the last of the solvent has left; these all own experience with simulated stills, no source
	// seemsShare is the weight of what the thermometer says where the heat says earlier: a pot that is still drying when the
	// heat ends never shows what it takes when dry, and the heat then says too early.
	seemsShare = 0.25
	outMost    = 0.25 // kJ/K for each litre of a full charge, the most that its residue and bag hold; common practice, no source
)

// settleByVaporHeat puts the dry point where the heat says that the last solvent left, if that is clearly later than a
// thermometer does, and the beginning of the drying where the heat says, or between what both say if the heat says later.
func (a *Analyser) settleByVaporHeat(heatEnd, end float64) {
	d := &a.run.distil
	if !d.dry || !d.boiling || !a.in.fitted(sPower) || slices.Contains(a.run.faults, VacuumLost) {
		return // what hardly boils for want of vacuum is not dry
	}
	fade, dry, ok := a.boilsOut(heatEnd, end)
	switch {
	case !ok:
	case d.basis == byBalance:
		d.heatFade = fade
		if dry > 0 {
			d.dryAt = dry
		}
	default:
		if seemed := a.dryingFrom(d.dryAt); fade < seemed {
			d.heatFade = fade + seemsShare*(seemed-fade) // what little still boils may keep a thermometer where it is
		} else {
			d.heatFade = (seemed + fade) / 2
		}
		if dry > d.dryAt+outTrust {
			d.seemedAt, d.dryAt, d.basis = d.dryAt, dry, byVaporHeat
		}
	}
}

// seemed is the dry point by what shows it while the run goes on, s.
func (d *distil) seemed() float64 {
	if d.seemedAt > 0 {
		return d.seemedAt
	}
	return d.dryAt
}

// boilsOut is since when only a trickle has boiled out of the pot, and when the last has, s; 0: not seen.
func (a *Analyser) boilsOut(heatEnd, end float64) (fade, dry float64, ok bool) {
	d, c := &a.run.distil, &a.course
	// Oil held at its set point loses as much while the charge boils as when it is dry: the loss need not be known well.
	b, ok := a.balanceOf(max(0, min(a.oilLoss(heatEnd, end), quickestDry)), heatEnd)
	if !ok {
		return 0, 0, false
	}
	first := max(a.run.start, c.spots[0].t) + outSpan
	takes, warms := a.takes[:0], a.warms[:0]
	for t := first; t <= heatEnd-outSpan/2; t += balanceStep {
		from, to := a.cycle(t, b.full)
		q, ok := a.potTook(b, from, to)
		if !ok && len(takes) > 0 {
			q = takes[len(takes)-1] // nobody watched
		}
		w, seen := c.slope(chargeC, t-outSlope/2, t+outSlope/2)
		if !seen {
			w = math.NaN()
		}
		takes, warms = append(takes, q), append(warms, w)
	}
	a.takes, a.warms = takes, warms
	if len(takes) < 15 {
		return 0, 0, false
	}
	at := func(i int) float64 { return first + balanceStep*float64(i) }
	var n, w, q, ww, wq float64 // number and sums of the warming and the heat
	for i, warm := range warms {
		if at(i) > d.dryAt+outAfter && !math.IsNaN(warm) {
			n, w, q, ww, wq = n+1, w+warm, q+takes[i], ww+warm*warm, wq+warm*takes[i]
		}
	}
	left := 0.0 // kJ/K
	if spread := n*ww - w*w; n >= outLeast && spread > 0 {
		left = max(0, min((n*wq-w*q)/spread, outMost*a.still.ChargeL))
	}
	for i, warm := range warms {
		if !math.IsNaN(warm) {
			takes[i] -= left * warm
		}
	}
	const window = outSpan / balanceStep
	a.sorted = append(a.sorted[:0], takes...)
	slices.Sort(a.sorted)
	most := a.sorted[9*len(takes)/10]
	a.sorted = append(a.sorted[:0], takes[max(0, len(takes)-window):]...)
	slices.Sort(a.sorted)
	rests := a.sorted[0]
	if a.sorted[len(a.sorted)-1]-rests < outFade*(most-rests) { // it has come to rest
		rests = a.sorted[len(a.sorted)/2]
	}
	boils := most - rests
	if boils < balanceBoils*b.full {
		return 0, 0, false
	}
	// From where it last was half of it, the first time that it falls to a share and is no more for as long as a window: in
	// hours of a dry pot the ripple of the thermostat comes up again.
	half := len(takes) - 1
	for half > 0 && takes[half] < rests+boils/2 {
		half--
	}
	below := func(share float64) (float64, bool) {
		level := rests + share*boils
		for i := half; i+1 < len(takes); i++ {
			if q, next := takes[i], takes[i+1]; q > level && next <= level && average(takes[i+1:min(i+1+window, len(takes))]) <= level {
				return at(i) + balanceStep*(q-level)/(q-next), true
			}
		}
		return 0, false
	}
	fade, ok = below(outFade)
	dry, _ = below(outDry)
	return fade, dry, ok && fade > d.boilingAt
}

// cycle is a window about a time, s, that begins and ends where the thermostat opened, if it did: then the oil is as warm
// at both ends, and its ripple is out of the balance.
func (a *Analyser) cycle(t, full float64) (from, to float64) {
	c := &a.course
	from, to = math.Inf(-1), math.Inf(1)
	for i := max(1, c.after(t-outSpan)); i < len(c.spots) && c.spots[i].t < t+outSpan; i++ {
		if before, after := c.spots[i-1].v[heatIn], c.spots[i].v[heatIn]; !(before >= full/2 && after < full/2) { // nor where nobody looked
			continue
		}
		at := (c.spots[i-1].t + c.spots[i].t) / 2
		if math.Abs(at-(t-outSpan/2)) < math.Abs(from-(t-outSpan/2)) {
			from = at
		}
		if at > from+outSpan/2 && math.Abs(at-(t+outSpan/2)) < math.Abs(to-(t+outSpan/2)) {
			to = at
		}
	}
	if !(from < t && t < to) || math.IsInf(from, 0) || math.IsInf(to, 0) {
		return t - outSpan/2, t + outSpan/2
	}
	return from, to
}

func average(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}
